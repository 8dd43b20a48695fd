"""Write a Wiring as a file, with code of the tests so that the reader does not check itself."""

from __future__ import annotations

from dsp.parts.capacitor import Capacitor
from dsp.parts.choke import Inductor
from dsp.parts.coil import Coil
from dsp.parts.expression import Expression, Leaf
from dsp.parts.jack import Jack
from dsp.parts.kind import Part
from dsp.parts.load import Load
from dsp.parts.pot import Pot
from dsp.parts.resistor import Resistor
from dsp.parts.sketch import Sketch
from dsp.parts.switch import Switch
from dsp.wiring.model import Wiring


def text_of(wiring: Wiring) -> str:
    """Return a file with all that the wiring holds, every number to the last bit."""
    lines = ["format: 1", f"name: {wiring.name}", "parts:"]
    for name, part in wiring.parts.items():
        lines += [f"  {name}:", *(f"    {line}" for line in _part(part))]
    if wiring.couplings:
        lines.append("couplings:")
    for pair in wiring.couplings:
        lines.append(f"  - {{coils: [{pair.first}, {pair.second}], coefficient: {pair.coefficient!r}}}")
    if wiring.joints:
        lines.append("joints:")
    for joint in wiring.joints:
        lines.append(f"  - [{', '.join('.'.join(terminal) for terminal in joint.terminals)}]")
    return "\n".join([*lines, *_load(wiring.load)]) + "\n"


def _part(part: Part) -> list[str]:
    if isinstance(part, Coil):
        return _coil(part)
    if isinstance(part, Pot):
        points = ", ".join(f"[{x!r}, {y!r}]" for x, y in part.taper.points)
        ends = f"end_resistance: {part.end_resistance_ohm!r} Ω"
        return ["kind: pot", f"resistance: {part.resistance_ohm!r} Ω", f"taper: [{points}]", ends]
    if isinstance(part, Switch):
        return _switch(part)
    if isinstance(part, Sketch):
        rows = [f"  {name}: {expression_text(one)}" for name, one in part.positions.items()]
        return ["kind: sketch", "positions:", *rows]
    return _passive(part)


def _passive(part: Part) -> list[str]:
    if isinstance(part, Capacitor):
        return ["kind: capacitor", f"capacitance: {part.capacitance_f!r} F"]
    if isinstance(part, Resistor):
        return ["kind: resistor", f"resistance: {part.resistance_ohm!r} Ω"]
    if isinstance(part, Inductor):
        henry, ohm = f"inductance: {part.inductance_h!r} H", f"resistance: {part.resistance_ohm!r} Ω"
        return ["kind: inductor", henry, ohm]
    assert isinstance(part, Jack)
    return ["kind: jack"]


def _coil(coil: Coil) -> list[str]:
    eddy = ", ".join(f"{{share: {one.share!r}, corner: {one.corner_hz!r} Hz}}" for one in coil.eddy)
    shelf = coil.screening
    return [
        "kind: coil",
        *([f"screening: {{share: {shelf.share!r}, corner: {shelf.corner_hz!r} Hz}}"] if shelf else []),
        *(["cover: metal"] if coil.covered else []),
        f"resistance: {coil.resistance_ohm!r} Ω",
        f"inductance: {coil.inductance_h!r} H",
        f"capacitance: {coil.capacitance_f!r} F",
        f"eddy: [{eddy}]",
        f"winding: {'forward' if coil.winding > 0 else 'reverse'}",
        f"magnet: {'north' if coil.magnet > 0 else 'south'}",
        f"turns_area: {coil.turns_area!r}",
    ]


def _switch(switch: Switch) -> list[str]:
    rows = []
    for position, groups in switch.contacts.items():
        written = ", ".join(f"[{', '.join(group)}]" for group in groups)
        rows.append(f"  {position}: [{written}]")
    return ["kind: switch", f"lugs: [{', '.join(switch.lugs)}]", "contacts:", *rows]


def _load(load: Load) -> list[str]:
    return [
        "load:",
        f"  cable: {{length: {load.cable_length_m!r} m, capacitance: {load.cable_f_per_m!r} F/m}}",
        f"  amplifier: {{resistance: {load.amplifier_ohm!r} Ω, capacitance: {load.amplifier_f!r} F}}",
    ]


def expression_text(expression: Expression) -> str:
    """Return a sketch's expression with brackets around every group."""
    sign = "-" if expression.reversed else ""
    if isinstance(expression, Leaf):
        return f"{sign}{expression.name}"
    joined = (" + " if expression.series else " | ").join(map(expression_text, expression.members))
    return f"{sign}({joined})"
