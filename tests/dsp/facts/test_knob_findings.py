"""Faults that need a knob: ordinary wirings raise none, faulty ones name knob, value and position."""

from __future__ import annotations

from pathlib import Path

import pytest
from places import DEMO, ROOT
from small_wirings import LOAD, read, wiring_of, wiring_text

from dsp.facts.findings import turned
from dsp.facts.findings.check import check
from dsp.wiring.model import Wiring
from server.wirings.text import load_wiring

KNOB_RULES = (
    "both ends of a knob alike",
    "other coils silenced",
    "position silenced by a knob",
    "silent at 10",
)
COILS = "a: {COIL, at: 150 mm}\nb: {COIL, at: 42 mm, eddy: [{share: 9 %, corner: 2 kHz}]}"
POT = "{kind: pot, resistance: 500k}"
THREE_WAY = (
    "selector: {kind: switch, lugs: [A0, A1, A2], "
    "contacts: {a: [[A0, A1]], both: [[A0, A1, A2]], b: [[A0, A2]]}}"
)
JACK = "output: {kind: jack}"
COLD = "a.finish, b.finish"
GROUNDED = "a.finish, output.sleeve"

Told = tuple[str, tuple[str, ...], tuple[str, ...], str]


def told(wiring: Wiring) -> list[Told]:
    """Return the findings on knobs: rule, knobs, positions, detail."""
    found = [one for one in check(wiring) if one.finding in KNOB_RULES]
    return [(one.finding, one.lugs, one.positions, one.detail) for one in found]


def small(parts: list[str], joints: list[str]) -> Wiring:
    return wiring_of("\n".join([COILS, *parts, JACK]), "\n".join(joints), LOAD)


def pots(*names: str) -> list[str]:
    return [f"{name}: {POT}" for name in names]


CAPS = ["c1: {kind: capacitor, capacitance: 22n}", "c2: {kind: capacitor, capacitance: 22n}"]

SOUND = {
    "volumes joined so that neither shorts the other": small(
        [*pots("v1", "v2"), THREE_WAY],
        ["a.start, v1.2", "v1.3, selector.A1", "b.start, v2.2", "v2.3, selector.A2",
         "selector.A0, output.tip", f"{COLD}, v1.1, v2.1, output.sleeve"],
    ),
    "such volumes behind a master, all always on": small(
        pots("v1", "v2", "master"),
        ["a.start, v1.2", "b.start, v2.2", "v1.3, v2.3, master.3", "master.2, output.tip",
         f"{COLD}, v1.1, v2.1, master.1, output.sleeve"],
    ),
    "a volume each, then a master, one coil at a time": small(
        [*pots("v1", "v2", "master"), "selector: {kind: switch, poles: 1, positions: 2}"],
        ["a.start, v1.3", "v1.2, selector.A1", "b.start, v2.3", "v2.2, selector.A2",
         "selector.A0, master.3", "master.2, output.tip", f"{COLD}, v1.1, v2.1, master.1, output.sleeve"],
    ),
    "a volume and two tones, each for its own coil": small(
        [*pots("volume", "t1", "t2"), *CAPS, THREE_WAY],
        ["a.start, t1.2, selector.A1", "t1.1, c1.a", "b.start, t2.2, selector.A2", "t2.1, c2.a",
         "selector.A0, volume.3", "volume.2, output.tip", f"{COLD}, c1.b, c2.b, volume.1, output.sleeve"],
    ),
    "a blend from coil to coil, then a volume": small(
        pots("blend", "volume"),
        ["a.start, blend.1", "b.start, blend.3", "blend.2, volume.3", "volume.2, output.tip",
         f"{COLD}, volume.1, output.sleeve"],
    ),
    "a blend that grounds one coil or the other behind resistors": small(
        [*pots("blend", "volume"), "r1: {kind: resistor, resistance: 100k}",
         "r2: {kind: resistor, resistance: 100k}"],
        ["a.start, blend.1, r1.a", "b.start, blend.3, r2.a", "r1.b, r2.b, volume.3",
         "volume.2, output.tip", f"{COLD}, blend.2, volume.1, output.sleeve"],
    ),
    "a switch that passes by the controls": small(
        [*pots("volume", "tone"), CAPS[0], "direct: {kind: switch, poles: 2, positions: 2}"],
        ["a.start, b.start, direct.A0", "direct.A1, volume.3, tone.2", "volume.2, direct.B1",
         "direct.A2, direct.B2", "direct.B0, output.tip", "tone.1, c1.a",
         f"{COLD}, c1.b, volume.1, output.sleeve"],
    ),
    "a knob that fades the second coil of a pair out": small(
        pots("spread", "volume"),
        ["a.start, volume.3", "a.finish, b.start, spread.2", "volume.2, output.tip",
         "b.finish, spread.1, volume.1, output.sleeve"],
    ),
    "a variable resistor for a volume": small(
        pots("volume"), ["a.start, volume.2, output.tip", f"{COLD}, volume.1, output.sleeve"],
    ),
    "a treble bleed, and a tone that is darkest at 10": small(
        [*pots("volume", "tone"), *CAPS],
        ["a.start, b.start, volume.3, tone.3, c1.a", "volume.2, c1.b, output.tip", "tone.2, c2.a",
         f"{COLD}, c2.b, volume.1, output.sleeve"],
    ),
    "a bass cut": small(
        [*pots("volume", "cut"), *CAPS],
        ["a.start, b.start, c1.a, cut.3", "c1.b, cut.2, volume.3", "volume.2, output.tip",
         f"{COLD}, volume.1, output.sleeve"],
    ),
}  # fmt: skip

FAULTY: dict[str, tuple[Wiring, list[Told]]] = {
    "wipers at the jack": (
        small(
            [*pots("v1", "v2"), THREE_WAY],
            ["a.start, v1.3", "v1.2, selector.A1", "b.start, v2.3", "v2.2, selector.A2",
             "selector.A0, output.tip", f"{COLD}, v1.1, v2.1, output.sleeve"],
        ),
        [("other coils silenced", ("v1",), ("both",), "at 0 it silences b too"),
         ("other coils silenced", ("v2",), ("both",), "at 0 it silences a too")],
    ),
    "wipers at the jack, no selector, some ohms left at the ends": (
        small(
            ["v1: {kind: pot, resistance: 500k, end_resistance: 20}",
             "v2: {kind: pot, resistance: 500k, taper: audio, end_resistance: 20}"],
            ["a.start, v1.3", "b.start, v2.3", "v1.2, v2.2, output.tip",
             f"{COLD}, v1.1, v2.1, output.sleeve"],
        ),
        [("other coils silenced", ("v1",), ("1",), "at 0 it silences b too"),
         ("other coils silenced", ("v2",), ("1",), "at 0 it silences a too")],
    ),
    "wipers at the jack before a master": (
        small(
            pots("v1", "v2", "master"),
            ["a.start, v1.3", "b.start, v2.3", "v1.2, v2.2, master.3", "master.2, output.tip",
             f"{COLD}, v1.1, v2.1, master.1, output.sleeve"],
        ),
        [("other coils silenced", ("v1",), ("1",), "at 0 it silences b too"),
         ("other coils silenced", ("v2",), ("1",), "at 0 it silences a too")],
    ),
    "both wipers stay at the jack while the selector picks the coil": (
        small(
            [*pots("v1", "v2"), "selector: {kind: switch, poles: 2, positions: 2}"],
            ["a.start, selector.A1", "selector.A0, v1.3", "b.start, selector.B2", "selector.B0, v2.3",
             "v1.2, v2.2, output.tip", f"{COLD}, v1.1, v2.1, output.sleeve"],
        ),
        [("position silenced by a knob", ("v1",), ("2",), "at 0"),
         ("position silenced by a knob", ("v2",), ("1",), "at 0")],
    ),
    "the second volume of two coils in series": (
        small(
            [*pots("v1", "v2"),
             "selector: {kind: switch, lugs: [T, W, B, C, F, G], "
             "contacts: {a: [[T, W]], series: [[T, B], [F, W]], b: [[T, B], [F, G]]}}"],
            ["a.start, v1.2", "v1.3, selector.W", "b.start, v2.3", "v2.2, selector.B",
             "b.finish, selector.F", "selector.T, output.tip",
             "a.finish, selector.G, v1.1, v2.1, output.sleeve"],
        ),
        [("other coils silenced", ("v2",), ("series",), "at 0 it silences a too")],
    ),
    "a tone whose capacitor one position bridges": (
        small(
            [*pots("tone"), CAPS[0],
             "selector: {kind: switch, lugs: [A, B, T, C, G], "
             "contacts: {1: [[A, T]], 2: [[A, B, T]], 3: [[B, T], [C, G]]}}"],
            ["a.start, selector.A", "b.start, selector.B", "selector.T, tone.2, output.tip",
             "tone.1, c1.a, selector.C", f"{COLD}, c1.b, selector.G, output.sleeve"],
        ),
        [("position silenced by a knob", ("tone",), ("3",), "at 0")],
    ),
    "a capacitor that another switch bridges": (
        small(
            [*pots("volume", "tone"), CAPS[0],
             "boost: {kind: switch, lugs: [C, G], contacts: {off: [], on: [[C, G]]}}", THREE_WAY],
            ["a.start, selector.A1", "b.start, selector.A2", "selector.A0, tone.2, volume.3",
             "volume.2, output.tip", "tone.1, c1.a, boost.C",
             f"{COLD}, c1.b, boost.G, volume.1, output.sleeve"],
        ),
        [("position silenced by a knob", ("tone",), ("a", "both", "b"), "with boost at on, at 0")],
    ),
    "equal capacitors at both ends": (
        small(
            [*pots("volume", "tone"), *CAPS],
            ["a.start, b.start, volume.3, tone.2", "volume.2, output.tip", "tone.1, c1.a", "tone.3, c2.a",
             f"{COLD}, c1.b, c2.b, volume.1, output.sleeve"],
        ),
        [("both ends of a knob alike", ("tone",), ("1",), "at 0 and at 10")],
    ),
    "a blend whose ends one position joins": (
        small(
            [*pots("blend"), "selector: {kind: switch, lugs: [A, B], contacts: {mix: [], both: [[A, B]]}}"],
            ["a.start, blend.1, selector.A", "b.start, blend.3, selector.B", "blend.2, output.tip",
             f"{COLD}, output.sleeve"],
        ),
        [("both ends of a knob alike", ("blend",), ("both",), "at 0 and at 10")],
    ),
    "one of two volumes the wrong way round": (
        small(
            [*pots("v1", "v2"), "selector: {kind: switch, poles: 1, positions: 2}"],
            ["a.start, v1.1", "v1.2, selector.A1", "b.start, v2.3", "v2.2, selector.A2",
             "selector.A0, output.tip", f"{COLD}, v1.3, v2.1, output.sleeve"],
        ),
        [("silent at 10", ("v1",), ("1",), "")],
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", SOUND)
def test_ordinary_knobs_raise_no_finding(name: str) -> None:
    assert told(SOUND[name]) == []


@pytest.mark.parametrize("name", FAULTY)
def test_a_fault_names_knob_value_and_position(name: str) -> None:
    wiring, want = FAULTY[name]
    assert told(wiring) == want


STARTERS = sorted((ROOT / "server" / "commissions" / "starters").glob("*.yaml"))


@pytest.mark.parametrize("path", [*sorted(DEMO.glob("[bt]*.yaml")), *STARTERS], ids=lambda path: path.stem)
def test_the_demo_and_the_starters_raise_none(path: Path) -> None:
    assert told(load_wiring(path)) == []


def test_a_knob_without_effect_is_not_told_twice() -> None:
    """Its two ends are alike too."""
    idle = small(pots("v"), ["a.start, v.2, v.3, v.1, output.tip", f"{COLD}, output.sleeve"])
    assert told(idle) == []


def test_beyond_the_limit_a_knob_that_works_is_still_not_called_idle(monkeypatch: pytest.MonkeyPatch) -> None:
    wiring = small(
        [*pots("volume"), "off: {kind: switch, poles: 1, positions: 2}", THREE_WAY],
        ["a.start, selector.A1", "b.start, selector.A2", "selector.A0, volume.3", "volume.2, off.A1",
         "off.A0, output.tip", f"{COLD}, volume.1, output.sleeve"],
    )  # fmt: skip
    monkeypatch.setattr(turned, "MOST_TURNED", 1)
    assert "knob without effect" not in {one.finding for one in check(wiring)}


def _knobs(*more: str) -> str:
    return "\n".join(["a: {COIL}", *more, "output: {kind: jack}"])


def test_a_tone_behind_a_volume_at_zero_is_not_called_idle() -> None:
    """Every knob is tried with the others at 10 and in the middle, never with the volume down."""
    parts = _knobs(
        "volume: {kind: pot, resistance: 500k}",
        "tone: {kind: pot, resistance: 500k}",
        "cap: {kind: capacitor, capacitance: 22n}",
    )
    joints = f"a.start, volume.3\nvolume.2, tone.2, output.tip\ntone.1, cap.a\ncap.b, volume.1, {GROUNDED}"
    assert "knob without effect" not in {f.finding for f in check(read(wiring_text(parts, joints)))}


def test_a_knob_that_works_only_beside_another_is_not_called_idle() -> None:
    """A pot across a master's upper half does nothing while the master stands at 10."""
    parts = _knobs("volume: {kind: pot, resistance: 500k}", "bleed: {kind: pot, resistance: 500k}")
    joints = f"a.start, volume.3, bleed.3\nvolume.2, bleed.2, output.tip\nvolume.1, {GROUNDED}"
    found = {f.finding for f in check(read(wiring_text(parts, joints)))}
    assert "knob without effect" not in found
