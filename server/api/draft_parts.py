"""A draft's parts as the page edits them: every field of the table, as written, with its neighbours."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import Any

from dsp.circuit.finding import Finding
from dsp.document.field import Field
from dsp.document.tree import Entries, Items, Node, Text
from dsp.errors import InputError
from dsp.parts.fields import AMPLIFIER_FIELDS, CABLE_FIELDS, KINDS
from dsp.units import parse, show
from dsp.units.preferred import step
from dsp.wiring.model import Sketch, Wiring, kind_of

SERIES: Mapping[str, str] = {"capacitance": "E12", "resistance": "E24", "inductance": "E24"}
"""Per dimension, the preferred values (IEC 60063) that stepping goes through."""
EVEN_STEPS: Mapping[str, float] = {"length": 1e-3, "share": 0.01, "level": 0.5}
"""Per dimension without preferred values, the step: 1 mm, 1 %, half a decibel."""
NOTHING: Mapping[str, Any] = {
    "findings": [], "parts": [], "positions": [], "knobs": [], "switches": [], "coils": [], "selector": None,
    "strings": [],
}  # fmt: skip
LOAD_MAPS = {"cable": CABLE_FIELDS, "amplifier": AMPLIFIER_FIELDS}


def parts_json(tree: Node, wiring: Wiring, findings: Iterable[Finding]) -> dict[str, Any]:
    """Everything the page needs to show a draft and change it."""
    return {
        "findings": [finding_json(one) for one in findings],
        "parts": [*_parts(tree, wiring), *_load(tree)],
        "positions": [{"position": p, "label": wiring.labels.get(p, "")} for p in wiring.positions],
        "knobs": [
            {"name": name, "about": f"{show(pot.resistance_ohm, 'resistance')}, {_taper(tree, name)}"}
            for name, pot in wiring.pots.items()
        ],
        "switches": [{"name": n, "positions": list(s.contacts)} for n, s in wiring.switches.items()],
        "coils": [
            {
                "name": name,
                "at_mm": None if coil.at_m is None else round(1000.0 * coil.at_m, 3),
                "winding": "forward" if coil.winding > 0 else "reverse",
                "magnet": "north" if coil.magnet > 0 else "south",
            }
            for name, coil in wiring.coils.items()
        ],
        "selector": wiring.selector,
        "strings": [one.note for one in wiring.instrument.strings] if wiring.instrument else [],
    }


def finding_json(one: Finding) -> dict[str, Any]:
    """A finding with its words."""
    return {
        "finding": one.finding,
        "severity": one.severity,
        "text": one.text(),
        "lugs": list(one.lugs),
        "positions": list(one.positions),
        "line": one.line,
    }


def _parts(tree: Node, wiring: Wiring) -> Iterable[dict[str, Any]]:
    for name, part in wiring.parts.items():
        kind, written = kind_of(part), _at(tree, "parts", name)
        path = ["parts", name]
        if isinstance(part, Sketch):
            fields = list(_expressions(written, path))
        else:
            fields = [_field(field, written, path) for field in KINDS[kind]]
        like = _at(written, "like")
        yield {"name": name, "kind": kind, "like": as_written(like), "fields": fields}


def _load(tree: Node) -> Iterable[dict[str, Any]]:
    """Cable and amplifier, where the file has them to be changed."""
    for name, table in LOAD_MAPS.items():
        written = _at(tree, "load", name)
        if isinstance(written, Entries):
            fields = [_field(field, written, ["load", name]) for field in table]
            yield {"name": name, "kind": "load", "like": "", "fields": fields}


def _field(field: Field, written: Node | None, path: list[str]) -> dict[str, Any]:
    value = as_written(_at(written, field.name))
    return {
        "name": field.name,
        "value": value,
        "form": field.form,
        "dimension": field.dimension,
        "choices": list(field.choices),
        "about": field.about,
        "default": field.default,
        "path": [*path, field.name],
        "steps": steps_of(field, value or field.default),
    }


def _expressions(written: Node | None, path: list[str]) -> Iterable[dict[str, Any]]:
    """A field per position of a sketch."""
    positions = _at(written, "positions")
    for key, value in positions.entries if isinstance(positions, Entries) else ():
        yield {
            "name": key.text,
            "value": as_written(value),
            "form": "expression",
            "dimension": "",
            "choices": [],
            "about": "what stands between hot and cold in this position",
            "default": "",
            "path": [*path, "positions", key.text],
            "steps": None,
        }


def steps_of(field: Field, value: str) -> dict[str, str | None] | None:
    """The values next below and above, as they would be written.

    Parameters
    ----------
    field : Field
    value : str
        As written.

    Returns
    -------
    dict or None
        Keys ``down`` and ``up``, each None where the field's bounds end; None where there is
        nothing to step through.
    """
    if field.form != "quantity" or field.dimension not in {*SERIES, *EVEN_STEPS} or not value:
        return None
    try:
        now = parse(value, field.dimension)
        return {word: _stepped(field, now, way) for word, way in (("down", -1), ("up", 1))}
    except InputError:  # nought has no neighbour in a series
        return None


def _stepped(field: Field, now: float, way: int) -> str | None:
    if field.dimension in SERIES:
        to = step(now, SERIES[field.dimension], way)
    else:
        size = EVEN_STEPS[field.dimension]
        to = (math.floor(now / size + 1e-6) + 1 if way > 0 else math.ceil(now / size - 1e-6) - 1) * size
    return show(to, field.dimension, 6) if field.lowest <= to <= field.highest else None


def as_written(node: Node | None) -> str:
    """A value as its file writes it, in one line; nothing for None."""
    if node is None:
        return ""
    if isinstance(node, Text):
        return node.text
    if isinstance(node, Items):
        return f"[{', '.join(map(as_written, node.items))}]"
    return f"{{{', '.join(f'{key.text}: {as_written(value)}' for key, value in node.entries)}}}"


def _at(node: Node | None, *names: str) -> Node | None:
    for name in names:
        node = node.get(name) if isinstance(node, Entries) else None
    return node


def _taper(tree: Node, pot: str) -> str:
    node = _at(tree, "parts", pot, "taper")
    return "own taper" if isinstance(node, Items) else as_written(node) or "linear"
