"""Wiring files: their content, all their problems at once, and writing them back."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from places import NETWORKS
from random_wirings import WIRINGS
from wiring_text import text_of

from dsp.errors import InputError, Problem
from dsp.parts.capacitor import Capacitor
from dsp.parts.choke import Inductor
from dsp.parts.coil import Coil, Eddy
from dsp.parts.expression import Group, Leaf
from dsp.parts.instrument import Instrument
from dsp.parts.jack import Jack
from dsp.parts.kinds import kind_of
from dsp.parts.library.index import LIBRARY
from dsp.parts.load import Load
from dsp.parts.pot import Pot
from dsp.parts.resistor import Resistor
from dsp.parts.sketch import Sketch
from dsp.parts.switch import Switch, bridging, neighbours, on_off_on, on_on, on_on_on, shorthand
from dsp.parts.taper import audio, from_points, linear, measured_audio
from dsp.wiring.model import Coupling, Wiring
from dsp.wiring.network import build_network, resistances
from dsp.wiring.reading.wiring import read_wiring
from server.files.yaml_text import parse_tree
from server.wirings.text import WiringText, load_wiring

# The example of the format's own page, completed.
EXAMPLE = """\
format: 1
name: Baritone, two doubles, six-way rotary
instrument:
  scale: 686 mm                       # nut to bridge
  strings:                            # lowest first
    - {note: B1, gauge: 0.062 in, wound: true}
    - {note: F#3, gauge: 0.018 in}
parts:
  neck_a:
    kind: coil
    resistance: 4.1 kΩ                # DC at 20 °C
    inductance: 2.3 H                 # low-frequency value, eddy share included
    capacitance: 70 pF                # winding and lead
    eddy: [{share: 18 %, corner: 3.2 kHz}]     # optional
    at: 168 mm                        # centre, from the bridge
    aperture: 10 mm                   # optional
    winding: forward                  # forward | reverse
    magnet: north                     # pole facing the strings: north | south
    sensitivity: 1.0                  # optional
    string_balance: [0, -1]           # optional, dB per string, lowest first
    turns_area: 1.0                   # optional, relative hum pick-up
  neck_b: {kind: coil, resistance: 4k3, inductance: 2H4, capacitance: 75p, winding: reverse, magnet: south}
  volume:   {kind: pot, resistance: 500 kΩ, taper: audio, midpoint: 15 %}
  tone:     {kind: pot, resistance: 500 kΩ, taper: linear}
  tone_cap: {kind: capacitor, capacitance: 22 nF}
  drain:    {kind: resistor, resistance: 1 MΩ}
  choke:    {kind: inductor, inductance: 1.5 H, resistance: 90 Ω}
  selector:
    kind: switch
    lugs: [A0, A1, A2, B0, B1, B2]
    contacts:                         # per position, the groups of lugs that the switch joins
      1: [[A0, A1], [B0, B1]]
      2: [[A0, A2], [B0, B2]]
  output:   {kind: jack}
couplings:
  - {coils: [neck_a, neck_b], coefficient: -0.12}   # -1 < coefficient < 1
joints:                               # each list: terminals soldered together
  - [neck_a.start, selector.A1]
  - [volume.2, output.tip]
  - [volume.1, output.sleeve]
labels: {1: "Neck, both coils"}       # optional, per selector position
load:
  cable: {length: 5 m, capacitance: 100 pF/m}
  amplifier: {resistance: 1 MΩ, capacitance: 20 pF}
"""


def read(text: str, file: str = "here.yaml") -> Wiring:
    return read_wiring(parse_tree(text, file), file)


def problems(text: str, file: str = "here.yaml") -> tuple[Problem, ...]:
    with pytest.raises(InputError) as caught:
        read(text, file)
    return caught.value.problems


def test_the_formats_own_example() -> None:
    wiring = read(EXAMPLE)
    eddy = (Eddy(0.18, 3200.0),)
    neck = Coil(4100.0, 2.3, 70e-12, eddy, 0.168, 0.01, 1, 1, 1.0, (0.0, -1.0), 1.0)
    assert wiring.parts == {
        "neck_a": neck,
        "neck_b": Coil(4300.0, 2.4, 75e-12, winding=-1, magnet=-1),
        "volume": Pot(500e3, audio(0.15)),
        "tone": Pot(500e3, linear()),
        "tone_cap": Capacitor(22e-9),
        "drain": Resistor(1e6),
        "choke": Inductor(1.5, 90.0),
        "selector": Switch(
            ("A0", "A1", "A2", "B0", "B1", "B2"),
            {"1": (("A0", "A1"), ("B0", "B1")), "2": (("A0", "A2"), ("B0", "B2"))},
        ),
        "output": Jack(),
    }
    assert wiring.couplings == (Coupling("neck_a", "neck_b", -0.12),)
    assert [joint.terminals for joint in wiring.joints] == [
        (("neck_a", "start"), ("selector", "A1")),
        (("volume", "2"), ("output", "tip")),
        (("volume", "1"), ("output", "sleeve")),
    ]
    assert wiring.load == Load(5.0, 100e-12, 1e6, 20e-12)
    assert wiring.labels == {"1": "Neck, both coils"}
    assert (wiring.selector, wiring.jack, wiring.positions) == ("selector", "output", ("1", "2"))
    assert wiring.name == "Baritone, two doubles, six-way rotary"


def test_the_instrument_of_the_example() -> None:
    instrument = read(EXAMPLE).instrument
    assert isinstance(instrument, Instrument)
    low, high = instrument.strings
    assert instrument.scale_m == 0.686
    assert (low.gauge_m, low.wound, high.wound) == (0.062 * 0.0254, True, False)
    # Equal temperament, A4 = 440 Hz (ISO 16): B1 is 34 semitones below, F#3 15.
    assert low.pitch_hz == pytest.approx(440.0 * 2 ** (-34 / 12), rel=1e-12)
    assert high.pitch_hz == pytest.approx(440.0 * 2 ** (-15 / 12), rel=1e-12)


def test_lines_are_those_of_the_file() -> None:
    wiring, rows = read(EXAMPLE), EXAMPLE.splitlines()
    for name in wiring.parts:
        assert re.match(rf"  {name}:", rows[wiring.lines[name] - 1])
    assert rows[wiring.lines["load"] - 1].startswith(("load:", "  cable:"))
    assert "neck_a.start" in rows[wiring.joints[0].line - 1]


SMALL = "format: 1\nparts:\n  a: {kind: coil, resistance: 5k, inductance: 2H, capacitance: 80p}\n"
SMALL += "  output: {kind: jack}\n"


def with_part(text: str) -> Wiring:
    return read(f"{SMALL}  x: {text}\n")


@pytest.mark.parametrize(
    ("text", "want"),
    [
        ("{kind: pot, resistance: 1M}", Pot(1e6, linear())),
        ("{kind: pot, resistance: 250k, taper: Audio}", Pot(250e3, audio())),
        ("{kind: pot, resistance: 250k, taper: measured audio}", Pot(250e3, measured_audio())),
        ("{kind: pot, resistance: 9k, taper: reverse audio, midpoint: 0.9}", Pot(9e3, audio(0.9))),
        (
            "{kind: pot, resistance: 9k, taper: [[0, 0], [0.62, 0.22], [1, 1]], end_resistance: 3 Ω}",
            Pot(9e3, from_points([[0, 0], [0.62, 0.22], [1, 1]]), 3.0),
        ),
        ("{kind: switch, poles: 4, positions: 5}", shorthand(4, 5)),
        ("{kind: inductor, inductance: 350 mH}", Inductor(0.35, 0.0)),
        (
            "{kind: switch, lugs: [F1, F2], contacts: {out: [], in: [[F1, F2]]}}",
            Switch(("F1", "F2"), {"out": (), "in": (("F1", "F2"),)}),
        ),
    ],
)
def test_parts(text: str, want: object) -> None:
    assert with_part(text).parts["x"] == want


def test_the_shorthand_is_the_obvious_table() -> None:
    switch = with_part("{kind: switch, poles: 2, positions: 3}").parts["x"]
    assert isinstance(switch, Switch)
    assert switch.lugs == ("A0", "A1", "A2", "A3", "B0", "B1", "B2", "B3")
    assert switch.contacts["2"] == (("A0", "A2"), ("B0", "B2"))


@pytest.mark.parametrize(
    ("text", "want"),
    [
        ("poles: 3, function: on-on", on_on(3)),
        ("poles: 3, positions: 3, function: on-off-on", on_off_on(3)),
        ("poles: 5, function: on-on-on", on_on_on(5)),
        ("poles: 2, function: on-on-on mirrored", on_on_on(2, "A2 B1")),
        ("poles: 4, positions: 5, function: bridging", bridging(4, 5)),
        ("poles: 1, positions: 4, function: neighbours", neighbours(1, 4)),
        ("poles: 2, positions: 6, function: change-over, timing: shorting",
         replace(shorthand(2, 6), timing="shorting")),
        ("lugs: [A, B], contacts: {1: [], 2: [[A, B]]}, timing: non-shorting",
         Switch(("A", "B"), {"1": (), "2": (("A", "B"),)}, "non-shorting")),
    ],
)  # fmt: skip
def test_a_switch_by_the_word_for_what_it_does(text: str, want: Switch) -> None:
    assert with_part(f"{{kind: switch, {text}}}").parts["x"] == want


@pytest.mark.parametrize(
    ("text", "want"),
    [
        ("toggle_on_on_on, poles: 3", on_on_on(3)),
        ("toggle_on_off_on, poles: 1, timing: shorting", replace(on_off_on(1), timing="shorting")),
        ("blade_5_two_pole, poles: 4", bridging(4, 5)),
        ("blade_5_two_pole, positions: 3", bridging(2, 3)),
        ("slide_on_on_shorting, poles: 4", replace(on_on(4), timing="shorting")),
        ("rotary_6_two_pole, timing: non-shorting", replace(shorthand(2, 6), timing="non-shorting")),
        ("toggle_on_off_on, contacts: {1: [[A0, A1]], 2: []}",
         Switch(on_off_on(2).lugs, {"1": (("A0", "A1"),), "2": ()})),
    ],
)  # fmt: skip
def test_a_switch_like_the_librarys_with_other_poles_or_timing(text: str, want: Switch) -> None:
    assert with_part(f"{{like: {text}}}").parts["x"] == want


def test_a_switch_with_a_timing_is_written_back() -> None:
    switch = replace(bridging(1, 3), timing="shorting")
    assert kind_of(switch).file_fields(switch)["timing"] == "shorting"
    assert "timing" not in kind_of(switch).file_fields(bridging(1, 3))


def test_like_a_part_of_the_library_with_fields_overridden() -> None:
    for name, entry in LIBRARY.items():
        if entry.kind == "load":
            continue
        assert (
            with_part(f"{{like: {name}}}").parts["x"]
            == with_part(f"{{kind: {entry.kind}, like: {name}}}").parts["x"]
        )
    name = next(name for name, entry in LIBRARY.items() if entry.kind == "coil")
    plain, own = (with_part(f"{{like: {name}{more}}}").parts["x"] for more in ("", ", resistance: 4321 Ω"))
    assert isinstance(plain, Coil)
    assert plain.resistance_ohm != 4321.0
    assert own == replace(plain, resistance_ohm=4321.0)


def test_a_sketch() -> None:
    wiring = read(f"{SMALL}  b: {{kind: capacitor, capacitance: 1n}}\n"
                  "  selector: {kind: sketch, positions: {1: a + -b, both: a | b}}\n")  # fmt: skip
    assert wiring.positions == ("1", "both")
    sketch = wiring.parts["selector"]
    assert isinstance(sketch, Sketch)
    assert sketch.positions["1"] == Group((Leaf("a"), Leaf("b", True)), series=True)


def test_another_part_as_the_selector() -> None:
    text = f"{SMALL}  lever: {{kind: switch, poles: 1, positions: 3}}\n"
    assert read(text).positions == ("1",)
    assert read(text + "selector: lever\n").positions == ("1", "2", "3")
    (problem,) = problems(text + "selector: levr\n")
    assert (problem.where, problem.hint) == ("here.yaml:6: selector", "did you mean 'lever'?")


def test_ganged_either_way() -> None:
    parts = f"{SMALL}  volume: {{kind: pot, resistance: 1M}}\n"
    inside = read(parts + "  split: {kind: switch, poles: 1, positions: 2, ganged: {part: volume}}\n")
    assert inside.ganged == {"split": "volume"}
    outside = read(parts + "  split: {kind: switch, poles: 1, positions: 2}\nganged: {split: volume}\n")
    assert outside.ganged == {"split": "volume"}


def test_a_tolerance_is_kept_for_each_value() -> None:
    text = SMALL.replace("80p}", "80p, at: 150 mm, tolerance: 10 %}")
    assert read(text).tolerances == {"a": dict.fromkeys(("resistance", "inductance", "capacitance"), 0.1)}
    own = read(SMALL.replace("80p}", "80p, at: 150 mm, tolerance: {inductance: 5 %, at: 1 %}}"))
    assert own.tolerances == {"a": {"inductance": 0.05, "at": 0.01}}
    assert read(SMALL).tolerances == {}


GANG = (
    f"{SMALL}  left: {{kind: pot, resistance: 1M}}\n"
    "  right: {kind: pot, resistance: 500k, taper: audio, ganged: {part: left}}\n"
)


@pytest.mark.parametrize(
    "text",
    [
        GANG,
        GANG.replace(", ganged: {part: left}", "") + "ganged: {right: left}\n",
        GANG.replace(", ganged: {part: left}", "") + "ganged: {right: {part: left, turns: together}}\n",
    ],
    ids=["in the part", "at the top", "at the top as a map"],
)
def test_two_pots_on_one_shaft_are_one_knob(text: str) -> None:
    wiring = read(text)
    assert wiring.knobs == {"left": ("left", "right")}
    setting = wiring.setting("1", {"left": 4.0})
    assert setting.knobs == {"left": 4.0}
    turned = resistances(build_network(wiring, setting), setting)
    assert turned["left", 0] == pytest.approx(400e3)
    assert turned["right", 0] == pytest.approx(500e3 * 0.15 * 0.8)
    with pytest.raises(InputError, match="left, the knob that turns right too"):
        wiring.setting("1", {"right": 4.0})


def test_three_tracks_follow_the_shaft_at_the_end_of_the_chain() -> None:
    wiring = read(f"{GANG}  third: {{kind: pot, resistance: 1M, ganged: {{part: right}}}}\n")
    assert wiring.knobs == {"left": ("left", "right", "third")}
    assert wiring.ganged == {"right": "left", "third": "right"}


def test_one_knob_above_another_turns_alone() -> None:
    wiring = read(GANG.replace("{part: left}", "{part: left, turns: apart}"))
    assert wiring.knobs == {"left": ("left",), "right": ("right",)}
    assert wiring.ganged == {"right": "left"}


def test_a_push_pull_on_a_shaft_stays_a_switch() -> None:
    text = f"{GANG}  split: {{kind: switch, poles: 1, positions: 2, ganged: {{part: left}}}}\n"
    wiring = read(text)
    assert list(wiring.switches) == ["split"]
    assert wiring.setting("1", {"left": 2.0}, {"split": "2"}).switches == {"split": "2"}


def test_the_default_load_is_a_cable_and_an_amplifier() -> None:
    assert read(SMALL).load == Load()
    assert read(SMALL + "load: {amplifier: {resistance: 200k}}\n").load == Load(0.0, 0.0, 200e3, 0.0)


def test_quotes_anchors_and_a_byte_order_mark(tmp_path: Path) -> None:
    text = "\ufeff" + SMALL.replace("2H", '"2H"').replace("{kind: jack}", "&j {kind: 'jack'}")
    path = tmp_path / "bom.yaml"
    path.write_text(text, encoding="utf-8")
    assert load_wiring(path).coils["a"].inductance_h == 2.0


FAULTY = """\
format: 1
parts:
  neck: {kind: coil, resistance: 4k7, inductance: 2 nF, capacitance: 80p}
  bridge: {kind: coil, resistance: 5k, inductance: 2H, capacitance: 80p, windng: reverse}
  volume: {kind: pott, resistance: 500k}
  tone: {kind: pot, resistance: -500k}
  blade: {kind: switch, lugs: [A0, A1, A2], contacts: {1: [[A0, A1], [A0, A2]]}}
  output: {kind: jack}
joints:
  - [neck.start, brigde.start]
  - [output.tipp, bridge.finish]
lod: {}
"""
FAULTS = [  # line, got, allowed, guess
    (3, "'2 nF'", "2.5 H", "this is a capacitance"),
    (4, "'windng'", "resistance, inductance", "did you mean 'winding'?"),
    (5, "'pott'", "coil, pot", "did you mean 'pot'?"),
    (6, "'-500k'", "from 1 Ω to", ""),
    (7, "A0 2 times", "each lug once", ""),
    (10, "'brigde.start'", "neck, bridge", "did you mean 'bridge'?"),
    (11, "'output.tipp'", "output.tip, output.sleeve", "did you mean 'tip'?"),
    (12, "'lod'", "format, name", "did you mean 'load'?"),
]


def test_all_problems_of_a_file_at_once() -> None:
    found = problems(FAULTY)
    assert len(found) == len(FAULTS)
    for problem, (line, got, allowed, hint) in zip(found, FAULTS, strict=True):
        assert problem.where.startswith(f"here.yaml:{line}:") or problem.where == f"here.yaml:{line}"
        assert problem.got == got
        assert allowed in problem.allowed
        assert problem.hint == hint


def test_each_fault_is_found_alone_and_a_mended_file_has_none() -> None:
    """The twin: each mended line leaves one problem fewer."""
    mended = FAULTY.splitlines()
    cures = {
        3: "  neck: {kind: coil, resistance: 4k7, inductance: 2 H, capacitance: 80p}",
        4: "  bridge: {kind: coil, resistance: 5k, inductance: 2H, capacitance: 80p}",
        5: "  volume: {kind: pot, resistance: 500k}",
        6: "  tone: {kind: pot, resistance: 500k}",
        7: "  blade: {kind: switch, lugs: [A0, A1, A2], contacts: {1: [[A0, A1, A2]]}}",
        10: "  - [neck.start, bridge.start]",
        11: "  - [output.tip, bridge.finish]",
        12: "load: {}",
    }
    left = len(FAULTS)
    for line, cure in cures.items():
        assert len(problems("\n".join(mended) + "\n")) == left
        mended[line - 1], left = cure, left - 1
    assert set(read("\n".join(mended) + "\n").coils) == {"neck", "bridge"}


def test_duplicate_keys_all_named() -> None:
    found = problems("format: 1\nformat: 1\nparts:\n  a: {kind: jack}\n  a: {kind: jack}\n")
    assert [problem.where for problem in found] == ["here.yaml:2", "here.yaml:5"]
    assert "line 4" in found[1].allowed


# One space after a colon: the first write moves values back that are aligned in columns.
OWN_STYLE = re.sub(r"^(  \w+:) +\{", r"\1 {", EXAMPLE, flags=re.MULTILINE)


def test_an_unchanged_file_is_written_unchanged() -> None:
    assert WiringText(OWN_STYLE, "here.yaml").dump() == OWN_STYLE


def test_a_write_loses_only_columns() -> None:
    assert OWN_STYLE != EXAMPLE
    assert WiringText(EXAMPLE, "here.yaml").dump() == OWN_STYLE


@pytest.mark.parametrize("path", sorted(NETWORKS.glob("*.yaml")), ids=str)
def test_reference_files_are_written_unchanged(path: Path) -> None:
    assert WiringText.of(path).dump() == path.read_text(encoding="utf-8")


def test_one_value_set_changes_one_line() -> None:
    text = WiringText(OWN_STYLE, "here.yaml")
    text.set(("parts", "neck_a", "resistance"), "5.2 kΩ")
    before, after = OWN_STYLE.splitlines(), text.dump().splitlines()
    changed = [(a, b) for a, b in zip(before, after, strict=True) if a != b]
    assert len(changed) == 1
    assert changed[0][1].split("#")[0].strip() == "resistance: 5.2 kΩ"
    assert changed[0][1].endswith("# DC at 20 °C")
    assert text.wiring().coils["neck_a"].resistance_ohm == 5200.0


def test_values_set_in_maps_of_one_line_and_new_ones() -> None:
    text = WiringText(EXAMPLE, "here.yaml")
    text.set(("parts", "tone", "taper"), "audio")
    text.set(("labels", "2"), "7 # loud: yes")
    text.set(("labels", "1"), "Neck")
    wiring = text.wiring()
    assert wiring.pots["tone"].taper == audio()
    assert wiring.labels == {"1": "Neck", "2": "7 # loud: yes"}
    assert "# per position" not in text.dump().split("labels")[1]


def test_a_place_that_is_not_there_is_an_error() -> None:
    text = WiringText(OWN_STYLE, "here.yaml")
    with pytest.raises(InputError, match="neck_a") as caught:
        text.set(("parts", "nekc_a", "resistance"), "5k")
    assert caught.value.problems[0].hint == "did you mean 'neck_a'?"
    assert text.dump() == OWN_STYLE


def test_a_broken_wiring_is_not_saved(tmp_path: Path) -> None:
    path = tmp_path / "guitar.yaml"
    path.write_text(EXAMPLE, encoding="utf-8")
    text = WiringText.of(path)
    text.set(("parts", "volume", "resistance"), "much")
    with pytest.raises(InputError):
        text.save(path)
    assert path.read_text(encoding="utf-8") == EXAMPLE
    assert list(tmp_path.iterdir()) == [path]


def _said(wiring: Wiring) -> tuple[object, ...]:
    joints = [joint.terminals for joint in wiring.joints]
    return wiring.name, dict(wiring.parts), joints, wiring.couplings, wiring.load, wiring.selector


@settings(max_examples=40, derandomize=True, deadline=None)
@given(WIRINGS)
def test_random_wirings_survive_writing_and_reading(wiring: Wiring) -> None:
    text = text_of(wiring)
    assert _said(read(text)) == _said(wiring)
    again = WiringText(text, "here.yaml").dump()
    assert _said(read(again)) == _said(wiring)


LOOKALIKES = ["2001-99-99", "null", "~", "+1", "1e400", "2001-1-1 25:61:61"]


@pytest.mark.parametrize(
    "name", ["yes", "1e3", "0777", "1_000", "12:30", "a: b", "#", "[1", "", " x ", "'", "x\ny"]
)
def test_any_text_can_be_set(name: str) -> None:
    text = WiringText(SMALL, "here.yaml")
    text.set(("name",), name)
    assert text.wiring().name == name


@pytest.mark.parametrize("name", LOOKALIKES)
def test_texts_that_look_like_something_else_stay_texts(name: str) -> None:
    text = f"{SMALL}name: {name}\n"
    assert read(text).name == name
    assert WiringText(text, "here.yaml").dump() == text
    assert WiringText(text, "here.yaml").wiring().name == name
