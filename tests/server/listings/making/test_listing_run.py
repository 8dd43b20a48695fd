"""A run of a listing: its files, facts, tags and covers, and what it makes again."""

from __future__ import annotations

import hashlib
import json
import shutil
from dataclasses import replace

import numpy as np
import pytest
import soundfile
from listing_case import MORE, catalogue, clips, content, listing, run, run_noting, stop_after, times

from dsp.chain.soft import MOST_DRIVE
from dsp.chain.ways import WAYS
from dsp.errors import InputError
from dsp.sound.peak import dbtp, true_peak
from server.clips.run import make_chain
from server.files.audio_out import write_scratch
from server.files.tags import read_cover, read_tags
from server.listings.making import jobs
from server.listings.making.folder import OWN
from server.listings.making.run import Cancelled

ALL_FORMATS = "formats: [wav, flac, ogg, opus, mp3]\nloudness: -26 LUFS\npositions: [1]"


@pytest.fixture
def done(tmp_path):
    path = catalogue(tmp_path)
    run(path)
    return path


def test_every_clip_in_every_format_with_its_facts(tmp_path):
    report = run(catalogue(tmp_path, instruments=1, more=ALL_FORMATS))
    out = tmp_path / "out"
    assert report.summary() == "1 instrument, 5 files"
    entries = clips(out)
    assert [entry["format"] for entry in entries] == ["wav", "flac", "ogg", "opus", "mp3"]
    for entry in entries:
        path = out / "baritone_000" / entry["file"]
        samples, rate_hz = soundfile.read(path)
        assert (len(samples), rate_hz) == (entry["samples"], 48_000)
        assert entry["sha256"] == hashlib.sha256(path.read_bytes()).hexdigest()
        assert dbtp(true_peak(samples, rate_hz)) == pytest.approx(entry["true_peak_dbtp"], abs=0.002)
        assert entry["design_error"]["meets_contract"]
        assert entry["coil_places"].startswith("modelled")
        assert entry["level"] == "matched to -26 LUFS"
        assert entry["clips"] == "open"
        tags = read_tags(path, entry["format"])
        assert (tags["position"], tags["take"], tags["level"]) == ("1", "Pluck 0", "matched to -26 LUFS")
        cover = (out / "baritone_000" / entry["cover"]).read_bytes()
        assert cover.startswith(b"\x89PNG")
        assert read_cover(path, entry["format"]) == (None if entry["format"] == "wav" else cover)
    assert (out / "index.html").exists()
    assert (out / "baritone_000" / "index.html").exists()


def test_clips_are_heard_as_the_listing_says(tmp_path):
    sounds = {}
    for way in ("direct", "clean"):
        more = f"formats: [flac]\npositions: [1, 5]\nthrough: {way}"
        run(catalogue(tmp_path, instruments=1, more=more))
        out = tmp_path / "out"
        entries = clips(out)
        assert {(entry["through"], entry["drive_lowered_db"]) for entry in entries} == {(way, 0.0)}
        tags = [read_tags(out / "baritone_000" / entry["file"], "flac") for entry in entries]
        assert {one.get("through", "direct") for one in tags} == {way}
        assert WAYS[way].about in (out / "baritone_000" / "index.html").read_text(encoding="utf-8")
        assert len({entry["gain_db"] for entry in entries}) == 1
        sounds[way] = [entry["loudness_lufs"] for entry in entries]
    gained = [sounds[way][1] - sounds[way][0] for way in ("direct", "clean")]
    assert gained[1] - gained[0] > 1.0  # the bridge gains through a loudspeaker


def test_hum_and_a_cabinet_of_a_listing_file_are_heard_and_told(tmp_path):
    impulse = np.zeros(480)
    impulse[[10, 11]] = 1.0, 0.6
    soundfile.write(tmp_path / "box.wav", impulse, 48_000, subtype="FLOAT")
    sounds = {}
    for name, more in {
        "plain": "",
        "box": "\ncabinet: box.wav",
        "hum": "\nhum: amplifier",
    }.items():
        path = catalogue(
            tmp_path, instruments=1, more=f"formats: [wav]\npositions: [6]\nthrough: clean{more}"
        )
        run(path)
        (entry,) = clips(tmp_path / "out")
        sounds[name], _ = soundfile.read(tmp_path / "out" / "baritone_000" / entry["file"])
        page = (tmp_path / "out" / "baritone_000" / "index.html").read_text(encoding="utf-8")
        tags = read_tags(tmp_path / "out" / "baritone_000" / entry["file"], "wav")
        assert (entry["cabinet"], "cabinet box" in page) == (("box", True) if name == "box" else ("", False))
        assert tags["through"] == ("clean, cabinet box" if name == "box" else "clean")
        assert entry["hum"].startswith("beside the amplifier's transformer, 3 µT" if name == "hum" else "")
        assert ("with the hum of" in page) == (name == "hum") == ("hum" in tags)
    assert not np.allclose(sounds["plain"], sounds["box"], atol=1e-3)
    assert not np.allclose(sounds["plain"], sounds["hum"], atol=1e-3)


def test_a_cabinet_that_is_not_there_is_reported_with_its_line(tmp_path):
    path = catalogue(tmp_path, instruments=1, more="through: clean\ncabinet: box.wav")
    with pytest.raises(InputError, match=r":\d+: cabinet: .*box\.wav"):
        run(path)


def test_all_clips_of_an_instrument_are_driven_less_where_one_is_too_loud(tmp_path, monkeypatch):
    monkeypatch.setitem(MOST_DRIVE, 4, 0.1)
    make_chain.cache_clear()
    path = catalogue(tmp_path, instruments=1, more="formats: [flac]\npositions: [1, 5, 6]\nthrough: edge")
    run(path)
    entries = clips(tmp_path / "out")
    (lowered_db,) = {entry["drive_lowered_db"] for entry in entries}
    assert lowered_db > 0.0
    assert all(any("driven" in text for text in entry["warnings"]) for entry in entries)
    before = content(tmp_path / "out")
    assert run(path).summary() == "1 instrument, 3 files, 3 of them unchanged"
    assert content(tmp_path / "out") == before
    make_chain.cache_clear()


def test_as_wired_one_gain_keeps_the_differences(tmp_path):
    run(catalogue(tmp_path, instruments=1, more="formats: [flac]\npositions: [1, 5, 6]"))
    entries = clips(tmp_path / "out")
    assert len({entry["gain_db"] for entry in entries}) == 1
    assert len({entry["loudness_lufs"] for entry in entries}) == 3
    assert {entry["level"] for entry in entries} == {"as wired"}


def test_lossy_files_that_overshoot_come_down_together(tmp_path):
    """A loudness without room for the peaks: every lossy file decodes to -1 dBTP or less, all by one gain."""
    run(catalogue(tmp_path, instruments=1, more="formats: [mp3, opus]\nloudness: -5 LUFS"))
    entries = clips(tmp_path / "out")
    assert len(entries) == 12
    for format_ in ("mp3", "opus"):
        mine = [entry for entry in entries if entry["format"] == format_]
        assert np.ptp([entry["loudness_lufs"] for entry in mine]) == pytest.approx(0.0, abs=2e-3)
        assert all("leaves no room" in entry["level"] for entry in mine)
        for entry in mine:
            samples, rate_hz = soundfile.read(tmp_path / "out" / "baritone_000" / entry["file"])
            assert dbtp(true_peak(samples, rate_hz)) <= -1.0
    before = times(tmp_path / "out", "*")
    report = run(tmp_path / "listing.yaml")
    assert report.instruments[0].reused == 12
    assert times(tmp_path / "out", "*.mp3").items() <= before.items()


def test_files_of_a_try_that_overshot_are_not_made_again(tmp_path, monkeypatch):
    """Only one file of the first try is too loud: the other's is overwritten, and known by its measure."""
    first_gain = []

    def write(clip, *given, **how):
        written = write_scratch(clip, *given, **how)
        if clip.tags.position != "1":
            return written
        first_gain[:] = first_gain or [clip.gain]
        return replace(written, true_peak=1.2) if clip.gain == first_gain[0] else written

    monkeypatch.setattr(jobs, "write_scratch", write)
    more = "formats: [mp3]\nloudness: -26 LUFS\npositions: [1, 5]"
    path = catalogue(tmp_path, instruments=1, more=more)
    run(path)
    before = times(tmp_path / "out", "*.mp3")
    for _ in range(2):
        assert run(path).instruments[0].reused == 2
        assert times(tmp_path / "out", "*.mp3") == before
    assert first_gain
    (tmp_path / "out" / next(iter(before))).unlink()
    assert run(path).instruments[0].reused == 1
    listing(tmp_path, more + "\nnames: 'clip {number}'")
    assert run(path).instruments[0].reused == 2
    assert set(times(tmp_path / "out" / "baritone_000", "*.mp3")) == {"clip_001.mp3", "clip_002.mp3"}


def test_nothing_is_made_twice(done, tmp_path):
    before, was = times(tmp_path / "out", "*.*"), content(tmp_path / "out")
    report, events = run_noting(done)
    assert report.summary() == "2 instruments, 8 files, 8 of them unchanged"
    assert content(tmp_path / "out") == was
    after = times(tmp_path / "out", "*.*")
    changed = {name for name in before if before[name] != after[name]}
    assert changed == {f"{OWN}/record.jsonl", OWN} & changed
    assert [event["event"] for event in events][-1] == "end"


def test_one_changed_wiring_is_made_again_alone(done, tmp_path):
    before = times(tmp_path / "out", "*.flac")
    wiring = tmp_path / "wirings" / "baritone_001.yaml"
    wiring.write_text(wiring.read_text().replace("22 nF", "33 nF"))
    report = run(done)
    assert [one.reused for one in report.instruments] == [4, 0]
    after = times(tmp_path / "out", "*.flac")
    assert {n.split("/")[0] for n in before if before[n] != after[n]} == {"baritone_001"}


def test_inaudible_changes_make_nothing_again(done, tmp_path):
    """Comments, line numbers and the place of the files leave the sound and the clips unchanged."""
    for wiring in (tmp_path / "wirings").iterdir():
        wiring.write_text("# a comment\n\n" + wiring.read_text())
    take = tmp_path / "pluck_0.yaml"
    take.write_text("# another\n" + take.read_text())
    assert [one.reused for one in run(done).instruments] == [4, 4]


def test_a_label_changes_what_shows_it_and_nothing_else(done, tmp_path):
    wiring = tmp_path / "wirings" / "baritone_000.yaml"
    wiring.write_text(wiring.read_text().replace("Neck, both coils in series", "Neck, fat"))
    _, events = run_noting(done)
    assert events[-1]["seconds"] > 0.0  # the cover shows it, and every file of that position holds the cover
    assert "Neck, fat" in (tmp_path / "out" / "baritone_000" / "index.html").read_text()
    assert {entry["label"] for entry in clips(tmp_path / "out")} >= {"Neck, fat"}


def test_another_format_leaves_the_others_as_they_are(done, tmp_path):
    before = times(tmp_path / "out", "*.flac")
    listing(tmp_path, MORE.replace("mp3]", "mp3, opus]"))
    report = run(done)
    assert [(one.files, one.reused) for one in report.instruments] == [(6, 4), (6, 4)]
    assert times(tmp_path / "out", "*.flac") == before


def test_new_names_move_existing_files(done, tmp_path):
    was = {sha for name, sha in content(tmp_path / "out").items() if name.endswith(".flac")}
    listing(tmp_path, MORE + "\nnames: 'clip {number}'")
    report = run(done)
    assert [one.reused for one in report.instruments] == [4, 4]
    now = {name: sha for name, sha in content(tmp_path / "out").items() if name.endswith(".flac")}
    assert {name.split("/")[1] for name in now} == {"clip_001.flac", "clip_002.flac"}
    assert set(now.values()) == was


def test_files_no_longer_listed_are_deleted_unless_somebody_changed_them(done, tmp_path):
    mine = tmp_path / "out" / "baritone_001" / "notes.txt"
    mine.write_text("my own")
    changed = next((tmp_path / "out" / "baritone_001").glob("*.mp3"))
    changed.write_bytes(b"edited")
    (tmp_path / "wirings" / "baritone_001.yaml").unlink()
    run(done)
    left = {path.name for path in (tmp_path / "out" / "baritone_001").iterdir() if path.is_file()}
    assert left == {"notes.txt", changed.name}
    assert "baritone_001" not in (tmp_path / "out" / "index.html").read_text()


def test_a_file_that_was_damaged_or_deleted_is_made_again(done, tmp_path):
    was = content(tmp_path / "out")
    one, other = sorted((tmp_path / "out" / "baritone_000").glob("*.flac"))
    one.unlink()
    other.write_bytes(other.read_bytes()[:-9])
    report = run(done)
    assert [one.reused for one in report.instruments] == [2, 4]
    assert content(tmp_path / "out") == was


@pytest.mark.parametrize("harm", ["cut", "garbage", "gone", "binary", "foreign"])
def test_a_record_that_is_damaged_costs_time_and_nothing_else(done, tmp_path, harm):
    was, record = content(tmp_path / "out"), tmp_path / "out" / OWN / "record.jsonl"
    text = record.read_bytes()
    harmed = {
        "cut": text[: len(text) // 2],
        "garbage": b'{"key": 3}\n[]\nnull\n\n' + text,
        "binary": b"\x00\xff\n" + text,
        "foreign": b'{"key": "x", "facts": {}, "files": {"a": ["../../x", "0"]}}\n' + text,
    }
    record.unlink() if harm == "gone" else record.write_bytes(harmed[harm])
    run(done)
    assert content(tmp_path / "out") == was


def test_a_broken_wiring_fails_alone(tmp_path):
    path = catalogue(tmp_path)
    (tmp_path / "wirings" / "baritone_0005.yaml").write_text("format: 1\nparts: {a: {kind: coyl}}\n")
    report, events = run_noting(path)
    assert report.summary() == "2 instruments, 8 files; 1 instrument failed"
    rows = json.loads((tmp_path / "out" / "report.json").read_text())["instruments"]
    assert [one["state"] for one in rows] == ["done", "done", "failed"]
    assert "did you mean 'coil'?" in " ".join(rows[2]["problems"])
    assert [e["state"] for e in events if e["event"] == "instrument"].count("failed") == 1


def test_a_take_that_does_not_fit_one_wiring_fails_it_alone(tmp_path):
    """Recorded stems name coils. A wiring without them cannot play the take; its job finds out."""
    path = catalogue(tmp_path)
    wiring = tmp_path / "wirings" / "baritone_001.yaml"
    wiring.write_text(wiring.read_text().replace("neck_a", "front_a"))
    soundfile.write(tmp_path / "stems.wav", np.random.default_rng(1).normal(size=(9600, 4)) / 9, 48_000)
    (tmp_path / "pluck_0.yaml").write_text(
        "format: 1\nkind: coils\naudio: stems.wav\nchannels: [neck_a, neck_b, bridge_a, bridge_b]\n"
    )
    report = run(path)
    assert [one.state for one in report.instruments] == ["done", "failed"]
    assert "neck_a" in str(report.failed[0].problems[0])


def test_a_source_that_vanishes_fails_what_needs_it(tmp_path):
    path = catalogue(tmp_path, more="formats: [flac]\npositions: [1]")
    soundfile.write(tmp_path / "mono.wav", np.random.default_rng(1).normal(size=9600) / 9, 48_000)
    (tmp_path / "pluck_0.yaml").write_text("format: 1\nkind: mono\naudio: mono.wav\nsource: flat\n")
    handlers = {"start": lambda event: (tmp_path / "mono.wav").unlink()}
    report = run(path, on_event=lambda event: handlers.get(event["event"], lambda e: None)(event))
    assert [one.state for one in report.instruments] == ["failed", "failed"]
    assert "mono.wav" in str(report.failed[0].problems[0])
    assert "no such file" in str(report.failed[0].problems[0])


def test_cancelled_it_stops_soon_and_goes_on_later(tmp_path):
    path = catalogue(tmp_path)
    listener, cancelled = stop_after(4)
    with pytest.raises(Cancelled):
        run(path, on_event=listener, cancelled=cancelled)
    assert not (tmp_path / "out" / OWN / "scratch").exists()
    report = run(path)
    assert 0 < sum(one.reused for one in report.instruments) < 8
    shutil.move(tmp_path / "out", tmp_path / "first")
    run(path)
    assert content(tmp_path / "first") == content(tmp_path / "out")


def test_sweeps_and_knobs(tmp_path):
    more = MORE + (
        "\nclips:\n  - {name: low, label: Dull, set: {tone: 0}}\n"
        "  - {name: swell, sweeps: [{knob: tone, from: 0, to: 10, start: 0.1 s, end: 0.4 s}]}\n"
        "  - {name: flip, positions: [1], flips: [{at: 0.3 s, to: 5}]}\n"
    )
    run(catalogue(tmp_path, instruments=1, more=more))
    entries = [entry for entry in clips(tmp_path / "out") if entry["format"] == "flac"]
    assert [(e["clips"], e["position"]) for e in entries] == [
        ("low", "1"), ("low", "5"), ("swell", "1"), ("swell", "5"), ("flip", "1")
    ]  # fmt: skip
    assert entries[0]["settings"] == {"volume": 10.0, "tone": 0.0}
    assert entries[2]["sweeps"] == ["tone=0:10@0.1-0.4"]
    assert entries[4]["flips"] == ["position=5@0.3"]


def test_the_report_holds_no_times(done, tmp_path):
    text = (tmp_path / "out" / "report.json").read_text()
    assert json.loads(text)["listing"] == "Test listing"
    assert not {"seconds", "time", "reused"} & set(json.loads(text)["instruments"][0])
