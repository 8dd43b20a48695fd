"""`presolder lugs` as a person types it: its files, its output, its refusals."""

from __future__ import annotations

import json
import xml.etree.ElementTree as ET
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner, Result
from places import DEMO

from dsp.circuit.response import respond
from dsp.facts.findings.check import check
from dsp.lugs import compare
from dsp.lugs.chart import COLD_END, HOT_END, SWITCH, Chart
from dsp.lugs.make import ChartResult
from dsp.lugs.solve import Solution
from dsp.parts.switch import on_on
from server.cli import main
from server.documents.lug_chart_drawing import safe
from server.wirings.text import load_wiring

SVG = "{http://www.w3.org/2000/svg}"
FILE = """\
# a twelve-string, sketched
format: 1
name: 'Twelve <& "friends">'
parts:
  neck: {kind: coil, resistance: 5.9 kΩ, inductance: 2.2 H, capacitance: 105 pF}   # warm
  bridge: {kind: coil, resistance: 6.6 kΩ, inductance: 2.7 H, capacitance: 115 pF, winding: reverse}
  volume: {kind: pot, resistance: 250 kΩ, taper: audio}
  selector:
    kind: sketch
    positions:
      1: neck
      2: neck + bridge
      3: bridge
  output: {kind: jack}
joints:
  - [selector.hot, volume.3]        # to the controls
  - [volume.2, output.tip]
  - [selector.cold, volume.1, output.sleeve]
labels:
  2: Both, loud                     # series
load:
  cable: {length: 5 m, capacitance: 100 pF/m}
  amplifier: {resistance: 1 MΩ, capacitance: 20 pF}
"""
SWITCH_OF_ONE_S_OWN = """\
# measured with a meter
lugs: [N, C, B, X, Y, Z]
contacts:
  1: [[N, C], [X, Y]]
  2: [[C, B], [Y, Z]]
  3: [[N, C, B]]
"""


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Make a folder with a sketch, and work in it."""
    (tmp_path / "twelve.yaml").write_text(FILE, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def run(*words: str) -> Result:
    return CliRunner().invoke(main, ["lugs", *words], catch_exceptions=False)


def done(*words: str) -> dict[str, Any]:
    """Run the command and return its JSON."""
    result = run(*words, "--json")
    assert result.exit_code == 0, result.output
    said = json.loads(result.stdout)
    assert isinstance(said, dict)
    return said


def refused(*words: str, status: int) -> str:
    result = run(*words)
    assert result.exit_code == status, result.output
    assert "Traceback" not in result.output
    return " ".join(result.stderr.split())


def test_three_files_are_written_and_named(folder: Path) -> None:
    said = done("twelve.yaml", "--switch", "rotary_3_four_pole", "--time", "3", "--out", "chart")
    names = {kind: Path(path).name for kind, path in said["files"].items()}
    stem = "twelve-rotary_3_four_pole"
    assert names == {"drawing": f"{stem}.svg", "chart": f"{stem}.txt", "wiring": f"{stem}.yaml"}
    assert sorted(path.name for path in (folder / "chart").iterdir()) == sorted(names.values())
    assert (folder / "twelve.yaml").read_text(encoding="utf-8") == FILE, "the sketch stays"


def test_the_wiring_sounds_as_the_sketch_and_passes_the_check(folder: Path) -> None:
    said = done("twelve.yaml", "--switch", "rotary_3_four_pole", "--time", "3", "--out", ".")
    sketch, wiring = load_wiring(folder / "twelve.yaml"), load_wiring(Path(said["files"]["wiring"]))
    assert not [one for one in check(wiring) if one.severity == "error"]
    hz = np.geomspace(20.0, 20e3, 50)
    for position, one in said["positions"].items():
        sign = -1.0 if one["turned"] else 1.0
        for knob in (10.0, 3.0):
            got = respond(wiring, [wiring.setting(position, {"volume": knob})], hz).coil
            want = respond(sketch, [sketch.setting(one["sound"], {"volume": knob})], hz).coil
            assert np.max(np.abs(sign * got - want)) <= compare.SAME * np.max(np.abs(want))


def test_comments_stay_and_labels_follow(folder: Path) -> None:
    said = done(
        "twelve.yaml", "--switch", "rotary_3_four_pole", "--time", "3", "--out", ".", "--order", "fixed"
    )
    text = Path(said["files"]["wiring"]).read_text(encoding="utf-8")
    for comment in ("# a twelve-string, sketched", "# warm", "# to the controls", "# series"):
        assert comment in text
    assert "sketch" not in text.replace("# a twelve-string, sketched", "")
    wiring = load_wiring(Path(said["files"]["wiring"]))
    assert dict(wiring.labels) == {"1": "neck", "2": "Both, loud", "3": "bridge"}


def test_keep_polarity_turns_nothing() -> None:
    said = done("twelve.yaml", "--switch", "rotary_3_four_pole", "--time", "3", "--keep-polarity")
    assert not any(one["turned"] for one in said["positions"].values())


def test_the_text_holds_every_lug_joint_and_caution() -> None:
    result = run("twelve.yaml", "--switch", "rotary_3_four_pole", "--time", "3")
    assert result.exit_code == 0, result.output
    text = result.stdout
    heads = [
        "LUG CHART",
        "POSITIONS",
        "LUGS",
        "JOINTS",
        "IN SOLDERING ORDER",
        "NEEDED",
        "BETWEEN POSITIONS",
        "CARE",
    ]
    places = [text.index(head) for head in heads]
    assert places == sorted(places)
    for word in ("flux fume", "residual-current device", "local codes", "licensed technician", "start quiet"):
        assert word in text
    lugs = text[places[2] : places[3]]
    assert all(f"\n  {pole}{n}  " in lugs for pole in "ABCD" for n in range(4))
    assert "kΩ" in text[places[1] : places[2]], "the meter's readings"


def test_the_drawing_is_valid_xml_with_a_dot_per_joint_end(folder: Path) -> None:
    said = done("twelve.yaml", "--switch", "rotary_3_four_pole", "--time", "3", "--out", ".")
    root = ET.fromstring((folder / "twelve-rotary_3_four_pole.svg").read_text(encoding="utf-8"))
    texts = ["".join(one.itertext()) for one in root.iter(f"{SVG}text")]
    assert 'Twelve <& "friends">' in texts
    dots = [one for one in root.iter(f"{SVG}circle") if one.get("class") == "f"]
    assert len(dots) == sum(map(len, said["joints"]))
    rails = [one for one in root.iter(f"{SVG}path") if one.get("class") == "r"]
    assert len(rails) == len(said["joints"])
    assert "currentColor" in (folder / "twelve-rotary_3_four_pole.svg").read_text(encoding="utf-8")
    assert any("residual-current" in text for text in texts)


@pytest.mark.parametrize("nasty", ["<script>", '"&', "a\x00b\x0b", "\ud800", "]]>", "<!--"])
def test_hostile_names_stay_text(nasty: str) -> None:
    inside = ET.fromstring(f'<t a="{safe(nasty)}">{safe(nasty)}</t>')
    assert not list(inside)
    assert inside.text == inside.get("a")


def test_a_custom_switch(folder: Path) -> None:
    (folder / "mine.yaml").write_text(SWITCH_OF_ONE_S_OWN, encoding="utf-8")
    said = done("twelve.yaml", "--switch", "mine.yaml", "--time", "3", "--out", ".")
    wiring = load_wiring(Path(said["files"]["wiring"]))
    assert wiring.positions == ("1", "2", "3")
    assert {one["sound"] for one in said["positions"].values()} == {"1", "2", "3"}


def test_positions_left_over_repeat_a_sound_or_are_stopped() -> None:
    words = ("twelve.yaml", "--switch", "rotary_6_four_pole", "--time", "3")
    assert set(done(*words)["positions"]) == {"1", "2", "3", "4", "5", "6"}
    assert set(done(*words, "--stop", "3")["positions"]) == {"1", "2", "3"}
    assert "stop: got 7; allowed: 1 to 6" in refused(*words, "--stop", "7", status=1)


# --- refusals


def test_the_reason_and_the_nearest_choice_are_reported() -> None:
    said = refused(
        "twelve.yaml", "--switch", "rotary_12_one_pole", "--time", "5", "--stop", "3", "--no-shorts", status=1
    )
    assert "The 3 positions cannot be wired on this switch." in said
    assert "cannot be wired together on this switch" in said
    assert "A switch of this kind with 2 poles would do; this one has 1." in said
    assert "Nearest: everything but position" in said
    result = run("twelve.yaml", "--switch", "rotary_12_one_pole", "--stop", "3", "--no-shorts", "--json")
    record = json.loads(result.stdout)
    assert (result.exit_code, record["outcome"]) == (1, "impossible")
    assert {"minimal", "nearest_proved", "in_time"} <= {key for key, value in record.items() if value is True}


def test_more_positions_than_the_switch_has() -> None:
    said = refused("twelve.yaml", "--switch", "toggle_on_on", status=1)
    assert said == "positions: got 3 sounds; allowed: 1 to 2 sounds, as the switch has positions"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("lugs: [P, Q]\ncontacts: {1: [[P, Q]], 2: [[P, Q]], 3: [[P, Q]]}\n", "same lugs in every position"),
        ("lugs: [P, Q]\ncontacts: {1: [[P, R]]}\n", "mine.yaml:2: switch.contacts, position 1: got R"),
        ("lugs: [P, Q]\n", "switch: got lugs; allowed: either lugs and contacts, or poles and positions"),
        ("kind: coil\n", "mine.yaml"),
        ("- P\n", "mine.yaml:1: got a list of 1; allowed: a map with lugs and contacts"),
    ],
)
def test_bad_tables_are_reported_with_their_line(folder: Path, text: str, words: str) -> None:
    (folder / "mine.yaml").write_text(text, encoding="utf-8")
    assert words in refused("twelve.yaml", "--switch", "mine.yaml", "--time", "3", status=1)


def test_names_are_guessed_and_options_checked(folder: Path) -> None:
    said = refused("twelve.yaml", "--switch", "rotary_3_four_poles", status=1)
    assert "did you mean 'rotary_3_four_pole'?" in said
    assert "allowed: 0.1 to 3600" in refused("twelve.yaml", "--switch", "push_pull", "--time", "0", status=2)
    assert "'neck_single'" in refused("twelve.yaml", "--switch", "neck_single", status=1)


def test_a_wired_switch_is_charted_for_another_one(folder: Path) -> None:
    before = done("twelve.yaml", "--switch", "rotary_3_four_pole", "--time", "3", "--out", ".")
    words = ("twelve-rotary_3_four_pole.yaml", "--switch", "slide_3_two_pole", "--time", "3")
    assert "selector is a switch: its sounds are wired anew." in run(*words).stderr
    again = done(*words)
    assert [one["label"] for one in again["positions"].values()] == [
        one["label"] for one in before["positions"].values()
    ]


def test_without_a_switch_it_shows_how_the_present_one_is_soldered() -> None:
    result = run(str(DEMO / "baritone.yaml"))
    assert result.exit_code == 0
    assert "selector: Six-way rotary, four poles on two wafers; poles in use: 4" in result.output
    assert "  position 5: joins B0-B5" in result.output
    assert json.loads(run(str(DEMO / "baritone.yaml"), "--json").output)["sounds"]["5"]


def test_a_sketch_without_a_switch_asks_for_one(folder: Path) -> None:
    said = refused("twelve.yaml", status=1)
    assert "allowed: a wiring with a switch, or a sketch with --switch" in said


def test_a_switch_whose_coils_reach_the_controls_at_several_points_is_refused(folder: Path) -> None:
    said = refused(str(DEMO / "tenor.yaml"), "--switch", "push_pull", status=1)
    assert "got 3 points: clear.3; clear.2; tone_cap.b" in said


def test_a_chart_that_differs_is_not_written(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The search and both verifiers go wrong: the final check of the written file refuses."""
    text = FILE.replace("      2: neck + bridge\n      3: bridge\n", "      2: bridge\n")
    (folder / "twelve.yaml").write_text(
        text.replace("  2: Both, loud                     # series\n", "  2: B\n")
    )
    nets = (
        (HOT_END, (SWITCH, "A0")),
        (COLD_END, ("neck", "finish"), ("bridge", "finish")),
        (("neck", "start"), (SWITCH, "A2")),  # the throws exchanged
        (("bridge", "start"), (SWITCH, "A1")),
    )
    wrong = Chart(on_on(1), nets, {"1": "1", "2": "2"})
    monkeypatch.setattr("server.commands.lugs._make", lambda *_: ChartResult(Solution(wrong, "proved", True)))
    said = refused("twelve.yaml", "--switch", "toggle_on_on", "--out", "chart", status=1)
    assert "responses that differ" in said
    assert "nothing was written" in said
    assert not (folder / "chart").exists()


def test_the_sketch_is_never_written_over(folder: Path) -> None:
    done("twelve.yaml", "--switch", "rotary_3_four_pole", "--time", "3", "--out", ".")
    assert "positions: …" not in FILE
    (folder / "a").write_text("", encoding="utf-8")
    said = refused("twelve.yaml", "--switch", "rotary_3_four_pole", "--time", "3", "--out", "a", status=1)
    assert said.startswith("a: got")


OUTSIDE = FILE.replace(
    "  volume:", "  third: {kind: coil, resistance: 5 kΩ, inductance: 2 H, capacitance: 90 pF}\n  volume:"
).replace("  - [selector.hot, volume.3] ", "  - [selector.hot, volume.3, third.start] ")
OUTSIDE = OUTSIDE.replace("  - [selector.cold, ", "  - [selector.cold, third.finish, ")


@pytest.mark.parametrize("switch", ["rotary_3_four_pole", "toggle_on_on_on_four_pole"])
def test_no_sound_is_turned_where_another_coil_always_sounds(folder: Path, switch: str) -> None:
    """Against that coil every polarity matters."""
    (folder / "outside.yaml").write_text(OUTSIDE, encoding="utf-8")
    said = done("outside.yaml", "--switch", switch, "--time", "3", "--out", ".")
    assert not any(one["turned"] for one in said["positions"].values())


def test_no_coil_is_shorted_that_is_coupled_to_one_that_always_sounds(folder: Path) -> None:
    coupled = "couplings:\n  - {coils: [bridge, third], coefficient: 0.1}\njoints:"
    (folder / "outside.yaml").write_text(OUTSIDE.replace("joints:", coupled), encoding="utf-8")
    said = done("outside.yaml", "--switch", "rotary_3_four_pole", "--time", "3", "--out", ".")
    findings = check(load_wiring(Path(said["files"]["wiring"])))
    shorted = [one.lugs for one in findings if one.finding == "coil shorted"]
    assert not [lugs for lugs in shorted if "bridge.start" in lugs]


def test_two_switches_make_one_wiring(tmp_path: Path) -> None:
    """Six sounds on a three-way rotary times a push-pull: each at one combination, as sketched."""
    sketch = tmp_path / "two.yaml"
    sketch.write_text(
        "format: 1\nname: Two coils\nparts:\n"
        "  a: {kind: coil, resistance: 5.9 kΩ, inductance: 2.2 H, capacitance: 105 pF}\n"
        "  b: {kind: coil, resistance: 6.6 kΩ, inductance: 2.7 H, capacitance: 115 pF, winding: reverse}\n"
        "  volume: {kind: pot, resistance: 250 kΩ}\n"
        "  selector: {kind: sketch, positions: {1: a, 2: a | b, 3: b, 4: a + b}}\n"
        "  output: {kind: jack}\njoints:\n  - [selector.hot, volume.3]\n  - [volume.2, output.tip]\n"
        "  - [selector.cold, volume.1, output.sleeve]\n"
    )
    words = ["lugs", str(sketch), "--switch", "toggle_on_on", "--switch", "push_pull", "--time", "4"]
    done = CliRunner().invoke(
        main, [*words, "--json", "--out", str(tmp_path / "out")], catch_exceptions=False
    )
    assert done.exit_code == 0, done.output
    report = json.loads(done.stdout)
    assert set(report["positions"]) == {"1+down", "1+up", "2+down", "2+up"}
    assert sorted(one["sound"] for one in report["positions"].values()) == ["1", "2", "3", "4"]
    wiring = load_wiring(Path(report["files"]["wiring"]))
    assert set(wiring.switches) == {"push_pull"}
    before = load_wiring(sketch)
    hz = np.geomspace(50.0, 15_000.0, 20)
    for name, one in report["positions"].items():
        at, stand = name.split("+")
        got = respond(wiring, [wiring.setting(at, {"volume": 6.0}, {"push_pull": stand})], hz).coil
        want = respond(before, [before.setting(one["sound"], {"volume": 6.0})], hz).coil
        np.testing.assert_allclose(got * (-1.0 if one["turned"] else 1.0), want, atol=1e-9)
    text = Path(report["files"]["chart"]).read_text(encoding="utf-8")
    assert "2 switches: toggle_on_on x push_pull" in text
    assert "selector.A0" in text
    assert "push_pull.A0" in text
    assert wiring.labels["1"].startswith("down: ")


def test_another_sketch_is_charted_by_its_name(tmp_path: Path) -> None:
    """The labels stay those of the selector, and the selector stays a sketch."""
    second = "  fat: {kind: sketch, positions: {1: drain, 2: fat_cap}}\n"
    second += "  drain: {kind: resistor, resistance: 1 MΩ}\n"
    second += "  fat_cap: {kind: capacitor, capacitance: 2.2 nF}\n  output:"
    text = FILE.replace("  output:", second).replace("[selector.hot, ", "[selector.hot, fat.hot, ")
    file = tmp_path / "two.yaml"
    file.write_text(text.replace("[selector.cold, ", "[selector.cold, fat.cold, "), encoding="utf-8")
    words = ["lugs", str(file), "--switch", "toggle_on_on", "--sketch"]
    done = CliRunner().invoke(main, [*words, "fat", "--out", str(tmp_path / "chart")])
    assert done.exit_code == 0, done.output
    (made,) = (tmp_path / "chart").glob("*.yaml")
    charted = load_wiring(made)
    assert charted.stands == {"fat": ("1", "2")}
    assert list(charted.sketches) == ["selector"]
    assert charted.labels == {"2": "Both, loud"}
    refused = CliRunner().invoke(main, [*words, "fatt"])
    assert refused.exit_code == 2
    assert "no sketch 'fatt'; did you mean 'fat'?" in refused.output
