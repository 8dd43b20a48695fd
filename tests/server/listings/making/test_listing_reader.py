"""Listing files: their content, and every slip with its line, the value found and those allowed."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner
from listing_case import MORE, catalogue, listing

from dsp.errors import InputError
from server.cli import main
from server.files.audio_out import Encoding
from server.files.yaml_text import parse_tree
from server.listings.making import file_fields as fields
from server.listings.making.file_reader import read_listing
from server.listings.making.plan import plan_listing
from server.paths import demo_folder
from server.takes.load import load_take

HEAD = "format: 1\nwirings: a.yaml\ntakes: t.yaml\nout: out\n"


def read(text):
    return read_listing(parse_tree(text, "l.yaml"), "l.yaml")


def test_the_smallest_listing():
    file = read(HEAD)
    found = file.listing
    assert [named.text for named in file.wirings] == ["a.yaml"]
    assert found.encodings == (Encoding("flac", "24"), Encoding("mp3"))
    assert found.loudness_lufs is None
    assert found.rate_hz == 48_000
    assert [group.name for group in found.groups] == ["open"]
    assert found.names == fields.NAMES


def test_a_listing_with_every_field():
    found = read(
        HEAD + "name: All\npositions: [1, 2]\nloudness: -20 LUFS\nrate: 96000\nnames: '{number}-{label}'\n"
        "formats: [{format: flac, depth: 16}, wav]\nclips:\n"
        "  - {name: a, label: As, positions: all, takes: t.yaml, wirings: ['b*'], set: {tone: 3, split: 2}}\n"
        "  - {name: b, sweeps: [{knob: tone, from: 10, to: 0, start: 0.5 s, end: 2}]}\n"
        "  - {name: c, flips: [{at: 1 s, to: 2}, {at: 2 s, to: 1, switch: split}]}\n"
    ).listing
    a, b, c = found.groups
    assert (a.label, a.positions, a.takes, a.wirings) == ("As", (), ("t.yaml",), ("b*",))
    assert a.settings == {"tone": "3", "split": "2"}
    assert (b.label, b.positions) == ("b", ("1", "2"))
    assert [(s.knob, s.start, s.end, s.from_s, s.to_s) for s in b.sweeps] == [("tone", 10.0, 0.0, 0.5, 2.0)]
    assert [(f.at_s, f.position, f.switch) for f in c.flips] == [(1.0, "2", None), (2.0, "1", "split")]
    assert found.encodings == (Encoding("flac", "16"), Encoding("wav", "24"))
    assert (found.loudness_lufs, found.rate_hz) == (-20.0, 96_000)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("format: 2\nwirings: a\ntakes: t\nout: o\n", "l.yaml:1: format: got '2'; allowed: 1"),
        ("wirings: a\ntakes: t\nout: o\n", "got no format; allowed: 1"),
        ("format: 1\ntakes: t\nout: o\n", "l.yaml:1: listing: got no wirings"),
        ("- 1\n", "a map that starts with format: 1"),
        (HEAD + "tkes: x\n", "l.yaml:5: listing: got 'tkes'; allowed: name, wirings"),
        (HEAD + "tkes: x\n", "did you mean 'takes'?"),
        (
            HEAD + "loudness: loud\n",
            "l.yaml:5: listing: loudness: got 'loud'; allowed: as wired, or",
        ),
        (HEAD + "loudness: 3\n", "-60 to 0 LUFS"),
        (HEAD + "loudness: nan\n", "-60 to 0 LUFS"),
        (HEAD + "limit: yes\n", "listing: limit: got 'yes'; allowed: a loudness in LUFS beside it"),
        (HEAD + "hum: hall\n", "hum: got 'hall'; allowed: none, or quiet, stage, amplifier, then perhaps"),
        (HEAD + "cabinet: box.wav\n", "cabinet: got through: direct; allowed: through: clean or edge or"),
        (HEAD + "loudness: -16 LUFS\nlimit: perhaps\n", "limit: got 'perhaps'; allowed: yes or no"),
        (HEAD + "formats: []\n", "at least one"),
        (HEAD + "formats: [mp4]\n", "did you mean 'mp3'?"),
        (HEAD + "formats: [mp3, mp3]\n", "each format once"),
        (HEAD + "formats: [{format: mp3, depth: 16}]\n", "16 for mp3; allowed: no depth"),
        (HEAD + "formats: [{depth: 16}]\n", "got no format"),
        (HEAD + "formats: [{format: mp3, quality: 2}]\n", "from 0 to 1"),
        (HEAD + "formats: [opus]\nrate: 44100\n", "l.yaml:6: listing: rate: got 44100 Hz for opus"),
        (HEAD + "rate: 47000\n", "44100 or 48000 or 96000"),
        (HEAD + "names: '{wirng}'\n", "did you mean 'wiring'?"),
        (HEAD + "names: '{wiring'\n", "braces in pairs"),
        (HEAD + "names: '{0}'\n", "got {0}"),
        (HEAD + "names: '{wiring!r}'\n", "allowed: {wiring}, {instrument}"),
        (HEAD + "names: ''\n", "got nothing"),
        (HEAD + "clips: []\n", "at least one group"),
        (HEAD + "clips: [{label: x}]\n", "got no name"),
        (HEAD + "clips: [{name: x}, {name: X}]\n", "each name once"),
        (HEAD + "clips: [{name: x, takes: [u.yaml]}]\n", "did you mean 't.yaml'?"),
        (HEAD + "clips: [{name: x, set: 3}]\n", "a map (name: value)"),
        (HEAD + "clips: [{name: x, sweeps: [{knob: tone, from: 11, to: 0}]}]\n", "from 0 to 10"),
        (HEAD + "clips: [{name: x, sweeps: [{from: 1, to: 0}]}]\n", "got no knob"),
        (HEAD + "clips: [{name: x, flips: [{to: 2}]}]\n", "got no at"),
    ],
)
def test_slips(text, words):
    with pytest.raises(InputError) as error:
        read(text)
    assert words in str(error.value)


def test_all_slips_are_reported_at_once():
    with pytest.raises(InputError) as error:
        read("format: 3\nwirings: []\ntakes: t\nloudness: x\n")
    assert len(error.value.problems) == 4


def test_the_tables_are_what_is_shown():
    """One truth: the command lists every field of the tables with its description."""
    shown = CliRunner().invoke(main, ["listing", "--fields"]).output
    for name, table in fields.TABLES.items():
        assert name in shown
        for field in table:
            assert f"  {field.name}" in shown
            assert field.about in shown


def test_the_demos_listing_can_be_planned():
    plan = plan_listing(demo_folder() / "listing.yaml", load_take)
    assert [one.folder for one in plan.instruments] == ["baritone", "twelve"]
    assert not plan.unusable


# --- plans


def plan(tmp_path: Path, more: str = MORE, **how):
    return plan_listing(catalogue(tmp_path, more=more, **how), load_take)


def reason(found):
    (one,) = found.unusable
    return " ".join(str(problem) for problem in one.problems)


def test_patterns_skip_takes_and_listings(tmp_path):
    catalogue(tmp_path)
    listing(tmp_path, MORE).write_text("format: 1\nwirings: ['**/*.yaml']\ntakes: pluck_0.yaml\nout: out\n")
    found = plan_listing(tmp_path / "listing.yaml", load_take)
    assert [one.folder for one in found.instruments] == ["baritone_000", "baritone_001"]
    assert not found.unusable


def test_an_empty_pattern_and_a_missing_take_are_reported_together_with_lines(tmp_path):
    path = catalogue(tmp_path)
    path.write_text("format: 1\nwirings: ['none/*.yaml']\ntakes: pluck_0.yaml\nout: out\n")
    with pytest.raises(InputError, match=r"listing\.yaml:2: wirings: got 'none/\*\.yaml': no file"):
        plan_listing(path, load_take)
    path.write_text("format: 1\nwirings: ['wirings/*.yaml']\ntakes: [a.yaml, b.yaml]\nout: out\n")
    with pytest.raises(InputError) as error:
        plan_listing(path, load_take)
    assert [problem.where.split(": ")[0] for problem in error.value.problems] == [f"{path}:3"] * 2


def test_a_broken_wiring_is_set_aside_with_its_reason(tmp_path):
    catalogue(tmp_path)
    (tmp_path / "wirings" / "broken.yaml").write_text("format: 1\nparts: {a: {kind: coyl}}\n")
    found = plan_listing(tmp_path / "listing.yaml", load_take)
    assert len(found.instruments) == 2
    assert "did you mean 'coil'?" in reason(found)


@pytest.mark.parametrize(
    ("group", "words"),
    [
        ("{name: x, set: {tonne: 3}}", "clips x: {wiring}: set: got 'tonne'; allowed: volume, tone"),
        ("{name: x, set: {tone: eleven}}", "set: tone: got 'eleven'"),
        ("{name: x, set: {tone: 11}}", "got 11"),
        ("{name: x, positions: [9]}", "position: got '9'"),
        ("{name: x, sweeps: [{knob: vol, from: 1, to: 2}]}", "clips x: sweep: got 'vol'"),
        ("{name: x, flips: [{at: 90 s, to: 2}]}", "clips x: "),
    ],
)
def test_a_control_missing_from_one_wiring_is_reported_with_the_groups_line(tmp_path, group, words):
    found = plan(tmp_path, f"{MORE}\nclips:\n  - {group}\n", instruments=1)
    wiring = tmp_path / "wirings" / "baritone_000.yaml"
    assert f"{tmp_path / 'listing.yaml'}:9: " in reason(found)
    assert words.format(wiring=wiring) in reason(found)


def test_a_group_may_be_for_some_wirings(tmp_path):
    found = plan(tmp_path, MORE + "\nclips:\n  - {name: a}\n  - {name: b, wirings: ['*_001.yaml']}\n")
    assert [len(one.clips) for one in found.instruments] == [2, 4]


def test_names_follow_the_pattern_and_must_differ(tmp_path):
    more = MORE + "\nnames: '{number} {instrument} {label}/{take}:{position}'"
    found = plan(tmp_path, more, instruments=1)
    stems = [clip.plan.stem for clip in found.instruments[0].clips]
    assert stems[0].startswith("001_Baritone,_two_humbuckers,_six-way_rotary_Neck,_both_coils")
    assert len(set(stems)) == 2
    found = plan(tmp_path / "b", MORE + "\nnames: '{take}'", instruments=1)
    assert "tells them apart by too little" in reason(found)


def test_wirings_of_one_name_in_two_folders_get_folders_of_their_own(tmp_path):
    path = catalogue(tmp_path, instruments=1)
    (tmp_path / "more").mkdir()
    for name in ("baritone_000.yaml", "BARITONE_000.yaml"):
        (tmp_path / "more" / name).write_bytes((tmp_path / "wirings" / "baritone_000.yaml").read_bytes())
    text = path.read_text().replace('["wirings/*.yaml"]', '["*/*.yaml"]')
    path.write_text(text)
    folders = [one.folder for one in plan_listing(path, load_take).instruments]
    assert len({folder.casefold() for folder in folders}) == 3
    assert "wirings-baritone_000" in folders


def problems_of(path: Path) -> list[str]:
    with pytest.raises(InputError) as error:
        plan_listing(path, load_take)
    return [str(problem) for problem in error.value.problems]


def test_slips_of_the_text_the_files_and_the_groups_are_told_at_once(tmp_path):
    path = catalogue(tmp_path, instruments=2)
    path.write_text(
        "format: 1\nwirings: ['wirings/*.yaml', 'none/*.yaml']\ntakes: [pluck_0.yaml, gone.yaml]\nout: out\n"
        "rate: 12\nclips:\n  - {name: a, wirings: [bariton_000], set: {tone: 3}}\n"
        "  - {name: b, set: {tonne: 3, volume: 11}, positions: [9]}\n"
        "  - {name: c, sweeps: [{knob: vol, from: 1, to: 2}], flips: [{at: 0, to: 8}]}\n"
    )
    found = problems_of(path)
    expected = [
        ":5: listing: rate: got '12'",
        ":2: wirings: got 'none/*.yaml': no file",
        ":3: takes: ",
        ":7: clips a: wirings: got 'bariton_000': no wiring of this listing; allowed: baritone_000.yaml",
        "got '9'",
        "got 'tonne'",
        "got 11",
        "got 'vol'",
        "got '8'",
    ]
    assert len(found) == len(expected), found  # two wirings, and each slip once
    for words, problem in zip(expected, found, strict=True):
        assert words in problem
    assert "did you mean 'baritone_000'?" in found[3]
    assert "did you mean 'tone'?" in found[5]


def test_a_wiring_set_aside_has_all_its_reasons(tmp_path):
    more = MORE + "\nclips:\n  - {name: a, set: {tonne: 3}}\n  - {name: b, set: {volum: 3, tone: x}}\n"
    found = plan(tmp_path, more, instruments=1).unusable[0].problems
    assert [problem.got for problem in found] == ["'tonne'", "'volum'", "'x'"]


def test_a_groups_pattern_that_names_no_wiring_stops_the_listing(tmp_path):
    """It would leave out clips, and nobody would know."""
    path = catalogue(tmp_path, more=MORE + "\nclips:\n  - {name: a}\n  - {name: b, wirings: ['x*']}\n")
    (found,) = problems_of(path)
    assert f"{path}:10: clips b: wirings: got 'x*': no wiring of this listing" in found
