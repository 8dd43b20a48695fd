"""`presolder render`: files, names, levels, records, and never a partial file."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile
from click.testing import CliRunner
from places import DEMO
from render_case import Render, listed
from tolerances import FLOAT32, LOUDNESS_LU

from dsp.sound.loudness import integrated_lufs
from dsp.sound.peak import dbtp, true_peak
from server.cli import main
from server.files.tags import read_tags


def test_as_wired_wav_is_float_volts_one_file_a_position(render: Render, tmp_path: Path) -> None:
    assert render().exit_code == 0
    entries = listed(tmp_path)
    assert [entry["file"] for entry in entries] == [f"baritone-bursts-{p}.wav" for p in "123456"]
    for entry in entries:
        info = soundfile.info(tmp_path / "out" / entry["file"])
        assert (info.subtype, info.samplerate, info.channels, info.frames) == ("FLOAT", 48_000, 1, 96_000)
        assert entry["gain_db"] == 0.0
        assert entry["design_error"]["meets_contract"]
    assert max(entry["true_peak_dbtp"] for entry in entries) > 0.0  # plain volts are not held back


def test_integer_formats_come_down_together(render: Render, tmp_path: Path) -> None:
    """One gain for the set, true peak at -1 dBTP or below, the differences kept."""
    assert render().exit_code == 0
    volts = {e["position"]: soundfile.read(tmp_path / "out" / e["file"])[0] for e in listed(tmp_path)}
    assert render("--format", "flac").exit_code == 0
    entries = [entry for entry in listed(tmp_path) if entry["format"] == "flac"]
    (gain_db,) = {entry["gain_db"] for entry in entries}
    assert gain_db < 0.0
    for entry in entries:
        samples, rate_hz = soundfile.read(tmp_path / "out" / entry["file"])
        assert dbtp(true_peak(samples, rate_hz)) <= -1.0
        gain = samples @ volts[entry["position"]] / np.sum(volts[entry["position"]] ** 2)
        assert 20.0 * np.log10(gain) == pytest.approx(gain_db, abs=1e-3)


@pytest.mark.parametrize("format_", ["mp3", "ogg"])
def test_lossy_files_keep_their_true_peak_once_decoded(render: Render, tmp_path: Path, format_: str) -> None:
    assert render("--format", format_, "-p", "1").exit_code == 0
    (entry,) = listed(tmp_path)
    samples, rate_hz = soundfile.read(tmp_path / "out" / entry["file"])
    assert len(samples) == 96_000
    assert dbtp(true_peak(samples, rate_hz)) <= -1.0


def test_matched_clips_have_one_loudness(render: Render, tmp_path: Path) -> None:
    assert render("--loudness", "-30", "--format", "flac", "--format", "wav").exit_code == 0
    entries = listed(tmp_path)
    assert len(entries) == 12
    for entry in entries:
        samples, rate_hz = soundfile.read(tmp_path / "out" / entry["file"])
        assert integrated_lufs(samples, rate_hz) == pytest.approx(-30.0, abs=LOUDNESS_LU)
        assert entry["loudness_lufs"] == pytest.approx(-30.0, abs=0.01)
        assert entry["level"] == "matched to -30 LUFS"


def test_a_loudness_without_room_brings_the_set_down_together(render: Render, tmp_path: Path) -> None:
    assert render("--loudness", "-3", "--format", "flac").exit_code == 0
    reached = {round(entry["loudness_lufs"], 2) for entry in listed(tmp_path)}
    assert len(reached) == 1
    assert reached.pop() < -3.0
    assert all(entry["true_peak_dbtp"] <= -1.0 for entry in listed(tmp_path))


@pytest.mark.parametrize("rate_hz", [44_100, 96_000])
def test_other_rates(render: Render, tmp_path: Path, rate_hz: int) -> None:
    assert render("--rate", str(rate_hz), "-p", "1").exit_code == 0
    (entry,) = listed(tmp_path)
    info = soundfile.info(tmp_path / "out" / entry["file"])
    assert (info.samplerate, info.frames) == (rate_hz, 2 * rate_hz)
    assert entry["design_error"]["level_db"] < 0.05


def test_settings_sweeps_and_flips_are_in_name_record_and_tags(render: Render, tmp_path: Path) -> None:
    more = ["--set", "volume=7.5", "--sweep", "tone=10:0@0.5-1.5", "--flip", "position=5@1.75"]
    assert render("-p", "2", "--format", "flac", *more).exit_code == 0
    (entry,) = listed(tmp_path)
    assert entry["file"] == "baritone-bursts-2-volume7.5-tone10to0at0.5-1.5-position5at1.75.flac"
    assert entry["settings"] == {"volume": 7.5, "tone": 10.0}
    assert (entry["sweeps"], entry["flips"]) == (["tone=10:0@0.5-1.5"], ["position=5@1.75"])
    tags = read_tags(tmp_path / "out" / entry["file"], "flac")
    assert tags["position"] == "2"
    assert tags["settings"] == "volume=7.5 tone=10 tone=10:0@0.5-1.5 position=5@1.75"
    assert tags["coil_places"] == "as recorded in each coil"
    assert tags["gain"]


def test_a_knob_that_is_set_and_swept_starts_where_the_sweep_does(render: Render, tmp_path: Path) -> None:
    """The name, the record and the tags say so, as the sound does."""
    assert render("-p", "1", "--set", "tone=4", "--sweep", "tone=8:0@0.5-1.5").exit_code == 0
    (entry,) = listed(tmp_path)
    assert entry["file"] == "baritone-bursts-1-tone8to0at0.5-1.5.wav"
    assert entry["settings"] == {"volume": 10.0, "tone": 8.0}
    assert "tone=4" not in read_tags(tmp_path / "out" / entry["file"], "wav")["settings"]


def test_a_flip_ends_as_the_other_position(render: Render, tmp_path: Path) -> None:
    """Well after the fade the clip equals the new position's; well before, the old one's."""
    assert render("-p", "1").exit_code == 0
    assert render("-p", "5").exit_code == 0
    assert render("-p", "1", "--flip", "position=5@1.0").exit_code == 0
    out = tmp_path / "out"
    first, last, flipped = (
        soundfile.read(out / f"baritone-bursts-{name}.wav")[0] for name in ("1", "5", "1-position5at1")
    )
    assert np.max(np.abs(first - last)) > 0.1
    assert np.max(np.abs(flipped - first)[:47_900]) < FLOAT32
    assert np.max(np.abs(flipped - last)[49_500:]) < FLOAT32


def test_same_input_same_bytes(render: Render, tmp_path: Path) -> None:
    formats = ["--format", "wav", "--format", "flac", "--format", "ogg", "--format", "mp3"]
    assert render("-p", "3", *formats).exit_code == 0
    out = tmp_path / "out"
    before = {file.name: file.read_bytes() for file in out.iterdir()}
    assert render("-p", "3", *formats).exit_code == 0
    assert {file.name: file.read_bytes() for file in out.iterdir()} == before


def test_the_list_keeps_what_other_renders_made(render: Render, tmp_path: Path) -> None:
    assert render("-p", "1").exit_code == 0
    assert render("-p", "2").exit_code == 0
    (tmp_path / "out" / "baritone-bursts-1.wav").unlink()
    assert render("-p", "3").exit_code == 0
    assert [entry["position"] for entry in listed(tmp_path)] == ["2", "3"]


def test_a_failed_render_leaves_no_partial_file(render: Render, tmp_path: Path) -> None:
    """A recording breaks off in its second half: the error says where, and the folder stays clean."""
    stems = tmp_path / "stems.wav"
    broken = soundfile.read(stems)[0]
    broken[60_000, 1] = np.nan
    soundfile.write(stems, broken, 48_000, "FLOAT")
    done = render()
    assert done.exit_code == 1
    assert "stems.wav" in done.stderr
    assert not (tmp_path / "out").exists() or list((tmp_path / "out").iterdir()) == []


def test_a_coil_without_a_channel_is_silent_and_named(render: Render, take: Path, tmp_path: Path) -> None:
    samples = soundfile.read(tmp_path / "stems.wav")[0]
    soundfile.write(tmp_path / "stems.wav", samples[:, :2], 48_000, "FLOAT")
    take.write_text(take.read_text().replace(", bridge_a, bridge_b", ""))
    assert render("-p", "2").exit_code == 0
    assert listed(tmp_path)[0]["silent_coils"] == ["bridge_a", "bridge_b"]


@pytest.mark.parametrize(
    ("more", "words"),
    [
        (["--sweep", "tone=10"], "KNOB=A:B"),
        (["--sweep", "tune=10:0"], "volume, tone"),
        (["--sweep", "tone=11:0"], "0 to 10"),
        (["--sweep", "tone=nan:0"], "KNOB=A:B"),
        (["--flip", "position=9@1"], "1, 2, 3"),
        (["--flip", "position=2@99"], "the clip's length"),
        (["--flip", "phase=2@1"], "a switch"),
        (["--position", "7"], "1, 2, 3"),
        (["--set", "volume=ten"], "0 to 10"),
        (["--loudness", "quiet"], "as-wired"),
        (["--format", "mp3", "--depth", "float", "--format", "flac"], "depth"),
        (["--rate", "22050"], "44100"),
        (["--format", "mp3", "--rate", "96000"], "48000"),
        (["--set", "selector=2"], "--position 2"),
        (["--set", "position=2"], "--position 2"),
        (["--flip", "selector=2@1"], "position=N@SECONDS"),
    ],
)
def test_wrong_usage_says_what_is_allowed(
    render: Render, tmp_path: Path, more: list[str], words: str
) -> None:
    done = render(*more)
    assert done.exit_code == 2
    assert words in done.stderr
    assert not (tmp_path / "out").exists()


def test_unwritable_folder(take: Path, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("not a folder")
    arguments = ["render", str(DEMO / "baritone.yaml"), "--take", str(take), "--out"]
    done = CliRunner().invoke(main, [*arguments, str(tmp_path / "file" / "out")])
    assert done.exit_code == 1
    assert "file" in done.stderr
