"""The rest of a draft beside its parts, as the page edits it: instrument, labels, joints, couplings.

Edits name the items of a list by their number in the version's text, new ones by the numbers
after: an edit keeps its place whatever else is taken out (see `WiringText.change`).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from itertools import combinations
from typing import Any

from dsp.documents.field import Field
from dsp.documents.tree import Entries, Items, Node, Text
from dsp.drawing.networks import network_record
from dsp.parts.fields import (
    COUPLING_FIELDS,
    INSTRUMENT_FIELDS,
    JOINT_FIELDS,
    LABEL_FIELDS,
    OUTPUT_FIELD,
    STRING_FIELDS,
)
from dsp.parts.kinds import KINDS
from dsp.wiring.editing.document import at, item_indexes
from dsp.wiring.model import Wiring
from dsp.wiring.reading.wiring import outputs_of
from server.bench.fields import as_written, field_json

Edits = Sequence[tuple[tuple[str, ...], str | None]]
CONTACT = next(field for field in KINDS["switch"].fields if field.name == "contacts")


def surroundings_json(tree: Node, wiring: Wiring, edits: Edits) -> list[dict[str, Any]]:
    """Return the sections beside the parts, in the order shown."""
    scale = at(tree, "instrument", "scale")
    strings = _items(tree, ("instrument", "strings"), STRING_FIELDS, edits)
    strings["add"]["value"] = _one_more_string(at(tree, "instrument", "strings"))
    scales = [field_json(f, scale, ["instrument", f.name]) for f in INSTRUMENT_FIELDS if f.form == "quantity"]
    couplings = _items(tree, ("couplings",), COUPLING_FIELDS, edits)
    couplings["add"]["value"] = _one_more_coupling(wiring)
    outputs = [".".join(one) for one in outputs_of(wiring.parts)]
    field = replace(OUTPUT_FIELD, choices=tuple(outputs), default=".".join(wiring.hot) if outputs else "")
    output = [field_json(field, at(tree, "output"), ["output"], remove=[["output"]])]
    return [
        _section("instrument", "scale length and strings, lowest first", scales, [strings] if scale else []),
        _section("labels", "what the selector's positions are called", list(_labels(tree, wiring)), []),
        _section("joints", "what is soldered together", [], [_items(tree, ("joints",), JOINT_FIELDS, edits)]),
        _section("couplings", "coils of one housing", [], [couplings] if len(wiring.coils) > 1 else []),
        *([_section("output", "where the sound is computed", output, [])] if len(outputs) > 1 else []),
    ]


def _section(
    name: str, about: str, fields: list[dict[str, Any]], lists: list[dict[str, Any]]
) -> dict[str, Any]:
    return {"name": name, "about": about, "fields": fields, "lists": lists}


def _labels(tree: Node, wiring: Wiring) -> Iterable[dict[str, Any]]:
    for position in wiring.positions:
        path, written = ["labels", position], at(tree, "labels", position)
        yield field_json(LABEL_FIELDS[0], written, path, name=position, remove=[path] if written else [])


def _items(tree: Node, path: tuple[str, ...], fields: Sequence[Field], edits: Edits) -> dict[str, Any]:
    """Return a list with the fields of its items: a map has several, a list or value one."""
    written = at(tree, *path)
    found = written.items if isinstance(written, Items) else ()
    indexes, free = item_indexes(path, len(found), edits)
    items = []
    for index, item in zip(indexes, found, strict=True):
        place = [*path, str(index)]
        if isinstance(item, Entries):
            shown = [field_json(field, item.get(field.name), [*place, field.name]) for field in fields]
        else:
            shown = [field_json(fields[0], item, place)]
        items.append({"fields": shown, "remove": [place]})
    empty = field_json(fields[0], None, [*path, str(free)])
    return {"name": path[-1], "items": items, "add": {**empty, "value": ""}}


def _one_more_string(strings: Node | None) -> str:
    """Return one more string like the highest, or a first one."""
    last = strings.items[-1] if isinstance(strings, Items) and strings.items else None
    return as_written(last) if isinstance(last, Entries) else "{note: E2, gauge: 0.046 in, wound: true}"


def _one_more_coupling(wiring: Wiring) -> str:
    """Return a pair of uncoupled coils with coefficient 0; an empty text if none is left."""
    known = [{one.first, one.second} for one in wiring.couplings]
    pair = next((pair for pair in combinations(wiring.coils, 2) if set(pair) not in known), None)
    return f"{{coils: [{', '.join(pair)}], coefficient: 0}}" if pair else ""


def positions_json(tree: Node, wiring: Wiring, name: str, key: str) -> dict[str, Any] | None:
    """Return the positions of a switch or sketch; None for a shorthand.

    Parameters
    ----------
    name : str
        Of the part.
    key : str
        ``contacts`` of a switch, ``positions`` of a sketch.
    """
    written = at(tree, "parts", name, key)
    if not isinstance(written, Entries):
        return None
    path, form = ["parts", name, key], _form(key)
    items: list[dict[str, Any]] = []
    sketch = wiring.sketches.get(name)
    sounds = sketch.positions if sketch else {}
    for position, value in written.entries:
        place = [*path, position.text]
        gone = [place, *_label_of(tree, wiring, name, position.text)]
        items.append({"fields": [field_json(form, value, place, name=position.text)], "remove": gone})
        if position.text in sounds:
            items[-1]["network"] = network_record(wiring, sounds[position.text])
    after = str(max((int(p.text) for p, _ in written.entries if _counts(p)), default=0) + 1)
    add = field_json(form, None, [*path, after], name=after)
    return {"name": "positions", "items": items, "add": {**add, "value": ""}}


def _form(key: str) -> Field:
    if key == "contacts":
        return CONTACT
    return Field("positions", "expression", "what stands between hot and cold in this position")


def _counts(key: Text) -> bool:
    return key.text.isdecimal() and len(key.text) < 5


def _label_of(tree: Node, wiring: Wiring, name: str, position: str) -> list[list[str]]:
    """Return the place of a selector position's label, if there is one."""
    if name != wiring.selector or at(tree, "labels", position) is None:
        return []
    return [["labels", position]]
