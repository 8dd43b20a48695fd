"""A small wiring provokes each finding: rule, lugs, positions and line, and nothing else."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import pytest
from places import DEMO
from small_wirings import LOAD, marked_line, read, wiring_of, wiring_text

from dsp.facts.findings.check import check
from dsp.facts.findings.table import RULES, SEVERITIES, Finding
from server.wirings.text import load_wiring

HUM = ("hum-cancelling", "mostly hum-cancelling", "not hum-cancelling")
NOT_FAULTS = {"no load given", "sensitivity assumed", *HUM, "strings not grounded"}
"""Rules that report on sound wirings too."""


@dataclass(frozen=True)
class Case:
    """A wiring, the finding it should give (its line marked ``# here``) and what else comes with it."""

    name: str
    text: str
    want: Finding
    besides: frozenset[str] = frozenset()

    def finding(self) -> Finding:
        line = marked_line(self.text)
        return Finding(self.want.finding, self.want.lugs, self.want.positions, line, self.want.detail)


def case(
    name: str,
    parts: str,
    joints: str,
    want: Finding,
    *besides: str,
    rest: str = LOAD,
) -> Case:
    return Case(name, wiring_text(parts, joints, rest), want, frozenset(besides))


TWO_WAY = "selector: {kind: switch, lugs: [H, G, S], contacts: {1: [[H, S]], 2: [[H, G]]}}"
SPLIT = "selector: {kind: switch, poles: 1, positions: 2}"
GROUNDED = "a.finish, output.sleeve"

TWO_VOLUMES = "a: {COIL}\nb: {COIL, eddy: [{share: 9 %, corner: 2 kHz}]}\nv1: {kind: pot, resistance: 500k}"
THREE_WAY = (
    "selector: {kind: switch, lugs: [A0, A1, A2], "
    "contacts: {a: [[A0, A1]], both: [[A0, A1, A2]], b: [[A0, A2]]}}\noutput: {kind: jack}"
)
THREE_WAY_GROUND = "selector.A0, output.tip\na.finish, b.finish, v1.1, v2.1, output.sleeve"
SECOND = "b: {COIL, at: 42 mm, winding: reverse, magnet: south}"

CASES = [
    case(
        "jack shorted in one position",
        f"a: {{COIL}}\n{TWO_WAY}\noutput: {{kind: jack}}  # here",
        "a.start, selector.S\nselector.H, output.tip\na.finish, selector.G, output.sleeve",
        Finding("jack shorted", ("output.tip", "output.sleeve"), ("2",)),
        "coil lead hanging",
    ),
    case(
        "a volume pot the wrong way round",
        "a: {COIL}\nvolume: {kind: pot, resistance: 500 kΩ}  # here\noutput: {kind: jack}",
        "a.start, volume.1\nvolume.2, output.tip\na.finish, volume.3, output.sleeve",
        Finding("silent at 10", ("volume",), ("1",)),
    ),
    case(
        "jack shorted for good",
        "a: {COIL}\noutput: {kind: jack}  # here",
        "a.start, output.tip\noutput.tip, a.finish, output.sleeve",
        Finding("jack shorted", ("output.tip", "output.sleeve"), ("1",)),
        "coil shorted",
    ),
    case(
        "jack shorted by a kill switch",
        "a: {COIL}\nkill: {kind: switch, lugs: [T, S], contacts: {play: [], mute: [[T, S]]}}\n"
        "output: {kind: jack}  # here",
        "a.start, kill.T, output.tip\na.finish, kill.S, output.sleeve",
        Finding("silent with a switch", ("kill=mute",), ("1",), detail="jack shorted"),
        "coil shorted",
    ),
    case(
        "a kill switch that opens the hot lead",
        "a: {COIL}\nkill: {kind: switch, lugs: [T, S], contacts: {play: [[T, S]], mute: []}}\n"
        "output: {kind: jack}  # here",
        "a.start, kill.T\nkill.S, output.tip\na.finish, output.sleeve",
        Finding("silent with a switch", ("kill=mute",), ("1",), detail="no coil reaches the jack"),
        "coil lead hanging",
    ),
    case(
        "a position that reaches no coil",
        "a: {COIL}\nselector: {kind: switch, poles: 1, positions: 2}  # here\noutput: {kind: jack}",
        f"a.start, selector.A1\nselector.A0, output.tip\n{GROUNDED}",
        Finding("no coil reaches the jack", (), ("2",)),
        "coil lead hanging",
    ),
    case(
        "no coil joined at all",
        "a: {COIL}\nr: {kind: resistor, resistance: 1M}\noutput: {kind: jack}  # here",
        "r.a, output.tip\nr.b, output.sleeve",
        Finding("no coil reaches the jack", (), ("1",)),
        "coil lead never joined",
    ),
    case(
        "a coil's lead hangs in one position",
        f"a: {{COIL}}\nb: {{COIL}}  # here\n{SPLIT}\noutput: {{kind: jack}}",
        f"a.start, selector.A0, output.tip\nb.start, selector.A1\nb.finish, {GROUNDED}",
        Finding("coil lead hanging", ("b.start",), ("2",)),
    ),
    case(
        "a coil's lead is never joined",
        "a: {COIL}\nb: {COIL}  # here\noutput: {kind: jack}",
        "a.start, output.tip\na.finish, b.finish, output.sleeve",
        Finding("coil lead never joined", ("b.start",)),
    ),
    case(
        "a coil's lead is never joined, the other in one position only",
        f"a: {{COIL}}\nb: {{COIL}}  # here\n{SPLIT}\noutput: {{kind: jack}}",
        f"a.start, output.tip\nb.finish, selector.A1\nselector.A0, {GROUNDED}",
        Finding("coil lead never joined", ("b.start",)),
        "positions identical",
    ),
    case(
        "a capacitor's lead is never joined",
        "a: {COIL}\nc: {kind: capacitor, capacitance: 22n}  # here\noutput: {kind: jack}",
        f"a.start, c.a, output.tip\n{GROUNDED}",
        Finding("part lead never joined", ("c.b",)),
    ),
    case(
        "a coil shorted in one position",
        f"a: {{COIL}}\nb: {{COIL}}  # here\n{SPLIT}\noutput: {{kind: jack}}",
        "a.start, output.tip\na.finish, b.start, selector.A0\nselector.A2, b.finish, output.sleeve",
        Finding("coil shorted", ("b.start", "b.finish"), ("2",)),
        "loudness jump",
    ),
    case(
        "a coil hangs from the hot lug",
        f"a: {{COIL}}\nb: {{COIL}}  # here\n{SPLIT}\noutput: {{kind: jack}}",
        f"a.start, b.start, output.tip\nb.finish, selector.A1\nselector.A0, {GROUNDED}",
        Finding("hot end left as aerial", ("b.start",), ("2",)),
        "coil lead hanging",
    ),
    case(
        "a coil hangs from the hot lug through another",
        "a: {COIL}\nb: {COIL}\nc: {COIL}  # here\noutput: {kind: jack}",
        f"a.start, b.start, output.tip\nb.finish, c.finish\n{GROUNDED}",
        Finding("hot end left as aerial", ("c.finish",), ("1",)),
        "coil lead never joined",
    ),
    case(
        "a knob idle in one position",
        "a: {COIL}\ntone: {kind: pot, resistance: 500k}  # here\n"
        "cap: {kind: capacitor, capacitance: 22n}\n"
        "selector: {kind: switch, poles: 1, positions: 2}\noutput: {kind: jack}",
        f"a.start, selector.A1, output.tip\nselector.A0, tone.2\ntone.1, cap.a\ncap.b, {GROUNDED}",
        Finding("knob without effect", ("tone.1", "tone.2", "tone.3"), ("2",)),
    ),
    case(
        "a knob idle everywhere: its wiper is not joined",
        "a: {COIL}\nvolume: {kind: pot, resistance: 500k}  # here\n"
        "selector: {kind: switch, poles: 1, positions: 2}\nr: {kind: resistor, resistance: 1M}\n"
        "output: {kind: jack}",
        f"a.start, volume.3, selector.A1, output.tip\nselector.A0, r.a\nvolume.1, r.b, {GROUNDED}",
        Finding("knob without effect", ("volume.1", "volume.2", "volume.3"), ("1", "2")),
        "pot lug never joined",
    ),
    case(
        "a wiper joined to its own lug only",
        "a: {COIL}\nvolume: {kind: pot, resistance: 500k}  # here\noutput: {kind: jack}",
        f"a.start, volume.3, output.tip\nvolume.1, {GROUNDED}",
        Finding("pot lug never joined", ("volume.2",)),
        "knob without effect",
    ),
    case(
        "a track that opens at 10, used between the other two lugs",
        "a: {COIL}\ntone: {kind: pot, resistance: 500k, no_load: true}  # here\n"
        "cap: {kind: capacitor, capacitance: 22n}\noutput: {kind: jack}",
        f"a.start, tone.2, output.tip\ntone.3, cap.a\ncap.b, {GROUNDED}",
        Finding("open track not used", ("tone.1",)),
        "knob the wrong way round",
    ),
    case(
        "a section of a tapped coil with both its leads joined",
        "a: {COIL, tap: 50 %}  # here\noutput: {kind: jack}",
        f"a.start, output.tip\na.tap, {GROUNDED}",
        Finding("section of a coil shorted", ("a",), ("1",)),
    ),
    case(
        "a tapped coil played from its tap",
        "a: {COIL, tap: 50 %}  # here\noutput: {kind: jack}",
        f"a.tap, output.tip\n{GROUNDED}",
        Finding("coil lead never joined", ("a.start",)),
    ),
    case(
        "a tap that nothing is joined to",
        "a: {COIL}\nvolume: {kind: pot, resistance: 500k, tap: 50 %}  # here\noutput: {kind: jack}",
        f"a.start, volume.3\nvolume.2, output.tip\nvolume.1, {GROUNDED}",
        Finding("pot lug never joined", ("volume.4",)),
    ),
    case(
        "two tracks on one shaft that do nothing",
        "a: {COIL}\nleft: {kind: pot, resistance: 500k}  # here\n"
        "right: {kind: pot, resistance: 500k, ganged: {part: left}}\noutput: {kind: jack}",
        f"a.start, left.2, left.3, right.2, right.3, output.tip\n{GROUNDED}",
        Finding(
            "knob without effect", tuple(f"{side}.{n}" for side in ("left", "right") for n in "123"), ("1",)
        ),
    ),
    case(
        "a pot that hangs by one lug",
        "a: {COIL}\nvolume: {kind: pot, resistance: 500k}  # here\noutput: {kind: jack}",
        f"a.start, volume.2, output.tip\n{GROUNDED}",
        Finding("pot lug never joined", ("volume.1", "volume.3")),
        "knob without effect",
    ),
    case(
        "a sleeve that nothing is joined to",
        "a: {COIL}\noutput: {kind: jack}  # here",
        "a.start, output.tip",
        Finding("jack lug never joined", ("output.sleeve",)),
        "coil lead never joined", "no coil reaches the jack", "hot end left as aerial",
    ),
    case(
        "a tip that nothing is joined to",
        "a: {COIL}\noutput: {kind: jack}  # here",
        GROUNDED,
        Finding("jack lug never joined", ("output.tip",)),
        "coil lead never joined", "no coil reaches the jack",
    ),
    case(
        "a volume that shorts the jack for the other coil",
        f"{TWO_VOLUMES}  # here\nv2: {{kind: pot, resistance: 500k}}\n{THREE_WAY}",
        f"a.start, v1.3\nv1.2, selector.A1\nb.start, v2.2\nv2.3, selector.A2\n{THREE_WAY_GROUND}",
        Finding("other coils silenced", ("v1",), ("both",), detail="at 0 it silences b too"),
        "knob of other coils",  # each volume in the other's position
        "volume independent",
    ),
    case(
        "a volume of one pickup, in the other's position",
        f"{TWO_VOLUMES}  # here\n{THREE_WAY}",
        "a.start, v1.2\nv1.3, selector.A1\nb.start, selector.A2\nselector.A0, output.tip\n"
        "a.finish, b.finish, v1.1, output.sleeve",
        Finding("knob of other coils", ("v1",), ("b",)),
        "volume independent", "coil lead hanging",
    ),
    case(
        "a tone control that is darkest at 10",
        "a: {COIL}\ntone: {kind: pot, resistance: 500k}  # here\n"
        "cap: {kind: capacitor, capacitance: 22n}\noutput: {kind: jack}",
        f"a.start, tone.2, output.tip\ntone.3, cap.a\ncap.b, {GROUNDED}",
        Finding("knob the wrong way round", ("tone",), ("1",), detail="14 dB less with it at 10 than at 0"),
        "pot lug never joined",
    ),
    case(
        "a volume with its coil on lug 2, whose track loads the other coil",
        f"{TWO_VOLUMES}  # here\nv2: {{kind: pot, resistance: 500k}}\n{THREE_WAY}",
        f"a.start, v1.2\nv1.3, selector.A1\nb.start, v2.3\nv2.2, selector.A2\n{THREE_WAY_GROUND}",
        Finding("volume independent", ("v1",), ("both",), detail="b up to 4.5 dB louder"),
        "knob of other coils", "other coils silenced",
    ),
    case(
        "a volume behind a resistor of its own",
        "a: {COIL}\nb: {COIL}\nv1: {kind: pot, resistance: 100k}  # here\n"
        "mix: {kind: resistor, resistance: 47k}\noutput: {kind: jack}",
        "a.start, v1.3\nv1.2, mix.a\nmix.b, b.start, output.tip\na.finish, b.finish, v1.1, output.sleeve",
        Finding("volume independent", ("v1",), ("1",)),
    ),
    case(
        "a volume behind a resistor too small to part it from the other coil",
        "a: {COIL}\nb: {COIL}\nv1: {kind: pot, resistance: 100k}  # here\n"
        "mix: {kind: resistor, resistance: 4.7k}\nkeep: {kind: resistor, resistance: 4.7k}\n"
        "output: {kind: jack}",
        "a.start, v1.3\nv1.2, mix.a\nb.start, keep.a\nmix.b, keep.b, output.tip\n"
        "a.finish, b.finish, v1.1, output.sleeve",
        Finding("volume not independent", ("v1",), ("1",), detail="b up to 7.5 dB softer"),
    ),
    case(
        "two positions of very different levels",
        "a: {COIL}\nb: {COIL}\nselector: {kind: sketch, positions: {in: a + b, out: a + -b}}  # here\n"
        "output: {kind: jack}",
        "selector.hot, output.tip\nselector.cold, output.sleeve",
        Finding("loudness jump", detail="in to out: -60 dB or more, -60 LU or more through clean"),
        "out of phase", "no coil reaches the jack",
    ),
    case(
        "a tone control without its capacitor",
        "a: {COIL}\nvolume: {kind: pot, resistance: 500k}\n"
        "tone: {kind: pot, resistance: 500k}  # here\noutput: {kind: jack}",
        f"a.start, volume.3, tone.2\nvolume.2, output.tip\ntone.1, volume.1, {GROUNDED}",
        Finding("position silenced by a knob", ("tone",), ("1",), detail="at 0"),
    ),
    case(
        "a pot joined at both ends to the same place",
        "a: {COIL}\ntone: {kind: pot, resistance: 500k}  # here\n"
        "cap: {kind: capacitor, capacitance: 22n}\noutput: {kind: jack}",
        f"a.start, tone.2, output.tip\ntone.1, tone.3, cap.a\ncap.b, {GROUNDED}",
        Finding("both ends of a knob alike", ("tone",), ("1",), detail="at 0 and at 10"),
    ),
    case(
        "two coils against one another",
        "a: {COIL}\nb: {COIL, eddy: [{share: 9 %, corner: 2 kHz}]}\n"
        "selector: {kind: sketch, positions: {in: a + b, out: a + -b}}  # here\noutput: {kind: jack}",
        "selector.hot, output.tip\nselector.cold, output.sleeve",
        Finding("out of phase", (), ("out",), detail="a against b"),
        "loudness jump",
    ),
    case(
        "two coils against one another by a switch",
        "a: {COIL}\nb: {COIL}\nphase: {kind: switch, poles: 2, positions: 2}\noutput: {kind: jack}",
        "a.start, output.tip\na.finish, phase.A1, phase.B2\nphase.A2, phase.B1, output.sleeve\n"
        "b.start, phase.A0\nb.finish, phase.B0",
        Finding("out of phase", (), ("1",), detail="with phase at 2, a against b"),
    ),
    case(
        "two positions are the same",
        "a: {COIL}\nb: {COIL, eddy: [{share: 9 %, corner: 2 kHz}]}\n"
        "selector: {kind: switch, poles: 1, positions: 3}  # here\noutput: {kind: jack}",
        "a.start, selector.A1, selector.A3\nb.start, selector.A2\nselector.A0, output.tip\n"
        "a.finish, b.finish, output.sleeve",
        Finding("positions identical", (), ("1", "3")),
        "coil lead hanging",
    ),
    case(
        "two positions are the same with one position of another switch",
        "a: {COIL}\nb: {COIL, eddy: [{share: 9 %, corner: 2 kHz}]}\n"
        "selector: {kind: switch, poles: 1, positions: 2}  # here\n"
        "other: {kind: switch, poles: 1, positions: 2}\noutput: {kind: jack}",
        "a.start, selector.A1, other.A1\nb.start, other.A2\nselector.A2, other.A0\n"
        "selector.A0, output.tip\na.finish, b.finish, output.sleeve",
        Finding("positions identical", (), ("1", "2"), detail="with other at 1"),
        "coil lead hanging",
    ),
    case(
        "two positions are the same but for polarity",
        "a: {COIL}\nselector: {kind: sketch, positions: {in: a, out: -a}}  # here\noutput: {kind: jack}",
        "selector.hot, output.tip\nselector.cold, output.sleeve",
        Finding(
            "positions differ by polarity",
            (),
            ("in", "out"),
        ),
    ),
    case(
        "a shorting switch that shorts the output on its way",
        "a: {COIL}\nb: {COIL, eddy: [{share: 9 %, corner: 2 kHz}]}\n"
        "selector: {kind: switch, lugs: [H, T, S], contacts: {1: [[H, T]], 2: [[H, S]]}, timing: shorting}"
        "  # here\noutput: {kind: jack}",
        "a.start, selector.T, output.tip\na.finish, b.start, selector.H\nb.finish, selector.S, output.sleeve",
        Finding(
            "shorted between positions",
            ("selector",),
            detail="makes before it breaks, between 1 and 2",
        ),
        "coil shorted",
    ),
    case(
        "a rotary that breaks first",
        "a: {COIL}\nb: {COIL, eddy: [{share: 9 %, corner: 2 kHz}]}\n"
        "selector: {kind: switch, poles: 1, positions: 2, timing: non-shorting}  # here\n"
        "output: {kind: jack}",
        "a.start, selector.A1\nb.start, selector.A2\nselector.A0, output.tip\n"
        "a.finish, b.finish, output.sleeve",
        Finding("silent between positions", ("selector",), detail="breaks before it makes, between 1 and 2"),
        "coil lead hanging",
    ),
    case(
        "a plug in the second jack that takes the coil away",
        "a: {COIL}\noutput: {kind: jack}\n"
        "second: {kind: jack, lugs: [rest], contacts: {out: [[tip, rest]], in: []}}  # here",
        "a.start, second.tip\nsecond.rest, output.tip\na.finish, output.sleeve, second.sleeve",
        Finding("silent with another plug", ("second=in",), ("1",)),
    ),
    case(
        "a coil on the ring of a jack for mono plugs too",
        "a: {COIL}\nb: {COIL}\noutput: {kind: jack, lugs: [ring]}  # here",
        "a.start, output.tip\nb.start, output.ring\na.finish, b.finish, output.sleeve",
        Finding("ring lost with a mono plug", ("output.ring",), ("1",)),
        "coil shorted",
    ),
    case(
        "strings grounded",
        "a: {COIL}\nbridge: {kind: metal, of: strings}  # here\noutput: {kind: jack}",
        "a.start, output.tip\na.finish, bridge.b, output.sleeve",
        Finding("strings grounded", ("bridge",)),
    ),
    case(
        "a cover on the lead that a phase switch makes hot",
        "a: {COIL}\ncover: {kind: metal, of: cover, on: [a]}  # here\n"
        "phase: {kind: switch, poles: 2, positions: 2}\noutput: {kind: jack}",
        "a.start, phase.A1, phase.B2\na.finish, cover.a, phase.A2, phase.B1\n"
        "phase.A0, output.tip\nphase.B0, output.sleeve",
        Finding("metal live", ("cover",), ("1",), detail="with phase at 2"),
    ),
    case(
        "a shield that nothing grounds, with some capacitance to the coil",
        "a: {COIL}\nc: {kind: capacitor, capacitance: 50p}\nfoil: {kind: metal, of: cavity}  # here\n"
        "output: {kind: jack}",
        "a.start, c.a, output.tip\nc.b, foil.a\na.finish, output.sleeve",
        Finding("metal floating", ("foil",)),
        "part lead never joined",
    ),
    case(
        "a cable's shield soldered at both ends, beside another ground wire",
        "a: {COIL}\nvolume: {kind: pot, resistance: 500k}\ncasing: {kind: metal, of: casing, on: [volume]}"
        "  # here\nscreen: {kind: metal, of: cable shield}\noutput: {kind: jack}",
        "a.start, volume.3\nvolume.2, output.tip\na.finish, volume.1, casing.a\n"
        "casing.b, screen.a\nscreen.b, output.sleeve\ncasing.a, output.sleeve",
        Finding("ground made twice", ("casing", "screen")),
    ),
    case(
        "of three positions two are turned: each is told once",
        "a: {COIL}\n"
        "selector: {kind: sketch, positions: {in: a, out: -a, again: -a}}  # here\noutput: {kind: jack}",
        "selector.hot, output.tip\nselector.cold, output.sleeve",
        Finding("positions differ by polarity", (), ("in", "out", "again")),
    ),
    case(
        "no load",
        "a: {COIL}\noutput: {kind: jack}",
        f"a.start, output.tip\n{GROUNDED}",
        Finding("no load given"),
        rest="",
    ),
    case(
        "a line input by mistake",
        "a: {COIL}\noutput: {kind: jack}",
        f"a.start, output.tip\n{GROUNDED}",
        Finding("input removes the resonance", detail="20 kΩ"),
        rest="load: {like: line_input}  # here\n",
    ),
    case(
        "a single coil hums",
        "a: {COIL}\noutput: {kind: jack}",
        f"a.start, output.tip\n{GROUNDED}",
        Finding("not hum-cancelling", (), ("1",), detail="0.0 dB left of the coils' hum"),
    ),
    case(
        "an uneven pair hums a little",
        "a: {COIL}\nb: {COIL, winding: reverse, magnet: south, turns_area: 0.9}\noutput: {kind: jack}",
        "a.start, output.tip\na.finish, b.start\nb.finish, output.sleeve",
        Finding("mostly hum-cancelling", (), ("1",), detail="-25.6 dB left of the coils' hum"),
    ),
    case(
        "hum that hangs on another switch",
        "a: {COIL}\nb: {COIL, winding: reverse, magnet: south}\n"
        "split: {kind: switch, poles: 1, positions: 2}\noutput: {kind: jack}",
        "a.start, output.tip\na.finish, b.start, split.A0\nb.finish, split.A2, output.sleeve",
        Finding("not hum-cancelling", (), ("1",), detail="with split at 2, 0.0 dB left of the coils' hum"),
        "coil shorted",
    ),
    case(
        "a matched reverse pair does not hum",
        "a: {COIL}\nb: {COIL, winding: reverse, magnet: south}\noutput: {kind: jack}",
        "a.start, output.tip\na.finish, b.start\nb.finish, output.sleeve",
        Finding("hum-cancelling", (), ("1",), detail="nothing left"),
    ),
    case(
        "a string far too slack",
        "a: {COIL}\noutput: {kind: jack}",
        f"a.start, output.tip\n{GROUNDED}",
        Finding("string tension", detail="string 1 (E2, 0.25 mm): 5 N is slack: below 25 N a string rattles"),
        rest=LOAD + "instrument:  # here\n  scale: 648 mm\n  strings: [{note: E2, gauge: 0.010 in}]\n",
    ),
    case(
        "a sensitivity left to the default",
        "a: {COIL}  # here\nb: {COIL, sensitivity: 0.05}\nc: {like: narrow_single_hot}\nd: {COIL}\n"
        "output: {kind: jack}",
        "a.start, b.start, c.start, d.start, output.tip\n"
        "a.finish, b.finish, c.finish, d.finish, output.sleeve",
        Finding("sensitivity assumed", ("a", "d")),
    ),
    case(
        "side by side, hum-cancelling, and the coupling's sign of a stack",
        f"a: {{COIL, at: 60 mm}}  # here\n{SECOND}\noutput: {{kind: jack}}",
        "a.start, output.tip\na.finish, b.start\nb.finish, output.sleeve",
        Finding("coupling opposes", ("a", "b"), detail="k = -0.12"),
        rest=LOAD + "couplings: [{coils: [a, b], coefficient: -0.12}]\n",
    ),
    case(
        "strings",
        "a: {COIL}\noutput: {kind: jack}",
        f"a.start, output.tip\n{GROUNDED}",
        Finding("strings not grounded"),
    ),
]  # fmt: skip


@pytest.mark.parametrize("one", CASES, ids=lambda one: one.name)
def test_the_finding_its_lugs_positions_and_line(one: Case) -> None:
    wiring = read(one.text)
    found = [finding for finding in check(wiring) if finding.finding == one.want.finding]
    assert one.finding() in found
    others = {finding.finding for finding in check(wiring)} - {one.want.finding} - NOT_FAULTS
    assert others <= one.besides, "findings without a cause in this wiring"
    if one.want.finding not in one.besides:
        assert len(found) == 1


@pytest.mark.parametrize(
    ("first", "second", "coefficient"),
    [
        ("at: 60 mm", "at: 42 mm, winding: reverse", 0.16),  # measured: they aid
        ("at: 60 mm", "at: 60 mm, winding: reverse", -0.3),  # stacked on one axis
        ("at: 60 mm", "at: 42 mm", -0.16),  # wound alike: no hum to cancel
        ("aperture: 8 mm", "winding: reverse", -0.12),  # nobody knows where they are
    ],
)
def test_other_couplings_raise_no_doubt(first: str, second: str, coefficient: float) -> None:
    wiring = wiring_of(
        f"a: {{COIL, {first}}}\nb: {{COIL, {second}}}\noutput: {{kind: jack}}",
        "a.start, output.tip\na.finish, b.start\nb.finish, output.sleeve",
        LOAD + f"couplings: [{{coils: [a, b], coefficient: {coefficient}}}]\n",
    )
    assert "coupling opposes" not in {finding.finding for finding in check(wiring)}


def test_the_assumed_sensitivity_is_the_librarys_medium_single_coil() -> None:
    assert RULES["sensitivity assumed"][1] == "the file writes none: 0.055 V per m/s are taken"
    plain = wiring_of("a: {COIL}\nb: {like: narrow_single_medium}\noutput: {kind: jack}")
    assert plain.coils["a"].sensitivity == plain.coils["b"].sensitivity == 0.055


OF_THE_DRAWING = {"place of no part", "wire of no joint"}
"""Findings about what a file says of its drawing; `tests/dsp/wiring/test_drawn.py` has their cases."""


def test_every_rule_has_a_case() -> None:
    assert {one.want.finding for one in CASES} | OF_THE_DRAWING == set(RULES)


def test_severities_are_known_and_the_gravest_come_first() -> None:
    assert {severity for severity, _ in RULES.values()} <= set(SEVERITIES)
    for one in CASES:
        graveness = [SEVERITIES.index(finding.severity) for finding in check(read(one.text))]
        assert graveness == sorted(graveness), one.name


def test_what_silences_or_shorts_everything_is_an_error_and_what_is_part_of_the_design_is_not() -> None:
    assert {rule for rule, (severity, _) in RULES.items() if severity == "error"} == {
        "jack shorted",
        "jack lug never joined",
        "no coil reaches the jack",
        "silent at 10",
    }
    designed = {"coil shorted", "coil lead hanging", "out of phase", *HUM}
    assert {RULES[rule][0] for rule in designed} == {"note"}


@pytest.mark.parametrize("path", sorted(DEMO.glob("[bt]*.yaml")), ids=lambda path: path.stem)
def test_the_demo_wirings_are_sound(path: Path) -> None:
    found = check(load_wiring(path))
    assert not [finding.text() for finding in found if finding.severity in ("error", "warning")]
    hum = {p for f in found for p in f.positions if f.finding in HUM}
    assert hum == set(load_wiring(path).positions)


def test_the_words_of_a_finding() -> None:
    found = Finding("coil shorted", ("a.start", "a.finish"), ("2", "3"), 7, "by the split")
    assert found.text() == (
        "coil shorted in positions 2, 3: a.start, a.finish (by the split): start and finish are joined"
    )
    assert Finding("coil shorted", (), ("2",)).text().startswith("coil shorted in position 2: ")
    assert Finding("no load given").text().startswith("no load given: 5 m")


def test_care_is_taken_where_strings_meet_the_mains() -> None:
    """The usual cautions: no amplifier opened, local codes, a residual-current device."""
    words = RULES["strings not grounded"][1]
    for word in ("mains fault", "residual-current", "local codes", "licensed"):
        assert word in words


def test_many_switches_are_looked_at_one_at_a_time() -> None:
    """Twelve 24-way switches have 24^12 states: more than any memory holds."""
    switches = "\n".join(f"s{i}: {{kind: switch, poles: 1, positions: 24}}" for i in range(12))
    joints = f"a.start, s0.A1, s1.A1, output.tip\n{GROUNDED}, s0.A0, s1.A0"
    found = check(read(wiring_text(f"a: {{COIL}}\n{switches}\noutput: {{kind: jack}}", joints)))
    # both s0 and s1 short the jack in their first position: every state looked at is silent
    assert [f.positions for f in found if f.finding == "jack shorted"] == [("1",)]
