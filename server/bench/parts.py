"""A draft's parts as the page edits them: every field, as written, with its next values."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any

from dsp.circuit.hum_limits import CANCELLING_DB
from dsp.documents.field import Field
from dsp.documents.tree import Entries, Items, Node, Text
from dsp.facts.balance import string_levels
from dsp.facts.findings.table import Finding
from dsp.parts.fields import AMPLIFIER_FIELDS, CABLE_FIELDS, COMMON, GANGED_FIELDS
from dsp.parts.kinds import kind_of, positioned_of, terminals_of, variable_of
from dsp.parts.library.index import LIBRARY
from dsp.units import show
from dsp.wiring.editing.document import at
from dsp.wiring.load_maps import like_of, unwritten_maps
from dsp.wiring.model import Wiring
from server.bench.fields import as_written, field_json
from server.bench.surroundings import Edits, positions_json, surroundings_json
from server.wirings.labels import sound_keys
from server.wirings.text import written as library_text

NOTHING: Mapping[str, Any] = {
    "findings": [], "parts": [], "positions": [], "knobs": [], "switches": [], "coils": [], "selector": None,
    "strings": [], "around": [], "joints": [], "hum_cancelling_db": CANCELLING_DB,
}  # fmt: skip
SWAPPED = "lugs 1 and 3"
"""What `swap leads` exchanges of a pot, in words."""
LOAD_MAPS = {"cable": CABLE_FIELDS, "amplifier": AMPLIFIER_FIELDS}


def parts_json(tree: Node, wiring: Wiring, findings: Iterable[Finding], edits: Edits = ()) -> dict[str, Any]:
    """Return everything the page needs to show a draft and change it."""
    sounds = sound_keys(wiring)
    return {
        "findings": [finding_json(one) for one in findings],
        "parts": [*_parts(tree, wiring), *_load(tree)],
        "around": surroundings_json(tree, wiring, edits),
        "joints": [[".".join(one) for one in joint.terminals] for joint in wiring.joints],
        "positions": [
            {"position": p, "label": wiring.labels.get(p, ""), "sound": sounds.get(p, "")}
            for p in wiring.positions
        ],
        "knobs": [
            {
                "name": knob,
                "about": "; ".join(_track(tree, wiring, name, knob) for name in tracks),
                "detent": wiring.clicks(knob),
            }
            for knob, tracks in wiring.knobs.items()
        ],
        "switches": [
            {"name": name, "positions": list(places), "jack": name in wiring.jacks}
            for name, places in wiring.stands.items()
        ],
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
        "hum_cancelling_db": CANCELLING_DB,
        "strings": [one.note for one in wiring.instrument.strings] if wiring.instrument else [],
    }


def finding_json(one: Finding) -> dict[str, Any]:
    """Return a finding with its text."""
    return {
        "finding": one.finding,
        "severity": one.severity,
        "text": one.text(),
        "lugs": list(one.lugs),
        "positions": list(one.positions),
        "line": one.line,
    }


def _balance(wiring: Wiring) -> dict[str, list[dict[str, Any]]]:
    """Return the level of each string in each coil, by the coils' names; none without strings."""
    strings = wiring.instrument.strings if wiring.instrument else ()
    if not strings:
        return {}
    return {
        name: [
            {"note": string.note, "level_db": round(float(level_db), 1)}
            for string, level_db in zip(strings, levels, strict=True)
        ]
        for name, levels in string_levels(wiring).items()
    }


def _parts(tree: Node, wiring: Wiring) -> Iterable[dict[str, Any]]:
    balance = _balance(wiring)
    for name, part in wiring.parts.items():
        kind, written, turns = kind_of(part), at(tree, "parts", name), positioned_of(part)
        # a sketch's only field is its positions, which are a list of their own
        table = [field for field in kind.fields if not (turns and turns.sketched)]
        like = as_written(at(written, "like"))
        fields = [*_fields(table, written, ["parts", name], like), *_shaft(tree, wiring, name)]
        if any(field.form == "quantity" for field in table):
            tolerance = next(field for field in COMMON if field.name == "tolerance")
            fields.append(field_json(tolerance, at(written, "tolerance"), ["parts", name, "tolerance"]))
        positions = positions_json(tree, wiring, name, turns.positions_field) if turns else None
        yield {
            "name": name,
            "kind": kind.name,
            "like": like,
            "fields": fields,
            "lists": [positions] if positions else [],
            "terminals": list(terminals_of(part)),
            "swaps": SWAPPED if variable_of(part) else "leads" if kind.ends() else "",
            "balance": balance.get(name, []),
        }


def _fields(
    table: Iterable[Field], written: Node | None, path: list[str], like: str = ""
) -> list[dict[str, Any]]:
    entry = LIBRARY.get(like)
    inherited = {name: library_text(value) for name, value in entry.fields.items()} if entry else {}
    return [
        field_json(
            field, at(written, field.name), [*path, field.name], inherited=inherited.get(field.name, "")
        )
        for field in table
    ]


def _load(tree: Node) -> Iterable[dict[str, Any]]:
    """Return cable and amplifier; what the file does not write, as the library's or the default."""
    load = at(tree, "load")
    like, unwritten = like_of(load), unwritten_maps(load)
    for name, table in LOAD_MAPS.items():
        written = at(load, name)
        given = {} if isinstance(written, Entries) else unwritten[name]
        fields = [
            field_json(
                field if like or not given else replace(field, default=given[field.name]),
                at(written, field.name),
                ["load", name, field.name],
                inherited=given.get(field.name, "") if like else "",
            )
            for field in table
        ]
        yield {
            "name": name, "kind": "load", "like": like, "fields": fields, "lists": [], "terminals": [],
            "swaps": "",
        }  # fmt: skip


def _shaft(tree: Node, wiring: Wiring, name: str) -> Iterable[dict[str, Any]]:
    """Yield whose shaft a pot or a switch shares, and of two pots how they turn."""
    pots = [pot for pot in wiring.pots if pot != name]
    is_pot = name in wiring.pots
    if not pots or not (is_pot or name in wiring.switches):
        return
    top = at(tree, "ganged", name)
    path = ["parts", name, "ganged"] if top is None else ["ganged", name]
    written = at(tree, *path)
    partner = written if isinstance(written, Text) else at(written, "part")
    inner = path if isinstance(written, Text) else [*path, "part"]
    field, turns = GANGED_FIELDS
    shaft = replace(field, choices=("", *pots), required=False)
    yield field_json(shaft, partner, inner, name="ganged", remove=[path])
    if is_pot and isinstance(written, Entries):
        yield field_json(turns, at(written, "turns"), [*path, "turns"])


def _track(tree: Node, wiring: Wiring, name: str, knob: str) -> str:
    """Return a track of a knob in words."""
    pot = wiring.pots[name]
    words = [show(pot.resistance_ohm, "resistance"), _taper(tree, name)]
    words += ["open at 10"] if pot.no_load else []
    words += [f"tapped at {show(pot.tap, 'share', 3)}"] if pot.tap is not None else []
    words += (
        [f"clicks at 5, the middle within {show(pot.detent, 'share', 3)}"] if pot.detent is not None else []
    )
    return ("" if name == knob else f"with {name}: ") + ", ".join(words)


def _taper(tree: Node, pot: str) -> str:
    node = at(tree, "parts", pot, "taper")
    return "own taper" if isinstance(node, Items) else as_written(node) or "linear"
