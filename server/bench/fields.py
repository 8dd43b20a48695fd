"""The fields of parts and items as the page edits them: as written, their place, their next values."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from dsp.documents.field import Field
from dsp.documents.tree import Items, Node, Text
from dsp.errors import InputError
from dsp.parts.instrument import pitch_hz
from dsp.units import parse, show
from dsp.units.preferred import step_value

LISTS = ("contacts", "lugs", "names", "pair", "terminals")
"""Forms that are lists: shown without their brackets, which the page puts back."""
SERIES: Mapping[str, str] = {"capacitance": "E12", "resistance": "E24", "inductance": "E24"}
"""Per dimension, the preferred values (IEC 60063) to step through."""
EVEN_STEPS: Mapping[str, float] = {"length": 1e-3, "share": 0.01, "level": 0.5}
"""Per dimension without preferred values, the step: 1 mm, 1 %, half a decibel."""
NOTES = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")
INCH_M, MILLIMETRE_M = 0.0254, 1e-3
Steps = dict[str, str | None]
DIRECTIONS: Mapping[str, int] = {"down": -1, "up": 1}


def field_json(
    field: Field,
    written: Node | None,
    path: list[str],
    *,
    name: str = "",
    inherited: str = "",
    remove: Sequence[list[str]] = (),
) -> dict[str, Any]:
    """Return a field of a part or item, its value as the file writes it.

    Parameters
    ----------
    written : Node or None
        The value itself.
    path : list of str
        Its place in the file.
    name : str
        The name to show, if it is not the field's own.
    inherited : str
        The value in the library's part that this part is like; empty without one.
    remove : sequence of list of str
        Places to take out with it; empty for a field that cannot be taken out alone.
    """
    value, bare = as_written(written), field.form in LISTS and isinstance(written, Items | None)
    if written is None and field.form == "contacts" and path[-1] == field.name:
        bare = False  # the whole map of contacts, not those of a position
    return {
        "name": name or field.name,
        "value": value[1:-1] if bare else value,
        "form": field.form,
        "dimension": field.dimension,
        "choices": list(field.choices),
        "about": field.about,
        "default": field.default,
        "inherited": inherited[1:-1] if bare and inherited.startswith("[") else inherited,
        "required": field.required,
        "brackets": bare,
        "path": path,
        "remove": list(remove),
        "steps": steps_of(field, value or inherited or field.default),
    }


def as_written(node: Node | None) -> str:
    """Return a value in one line, as its file writes it; nothing for None."""
    if node is None:
        return ""
    if isinstance(node, Text):
        return node.text
    if isinstance(node, Items):
        return f"[{', '.join(map(as_written, node.items))}]"
    return f"{{{', '.join(f'{key.text}: {as_written(value)}' for key, value in node.entries)}}}"


def steps_of(field: Field, value: str) -> Steps | None:
    """Return the values next below and above, as a file writes them.

    Parameters
    ----------
    value : str
        As written.

    Returns
    -------
    dict or None
        Keys ``down`` and ``up``, each None beyond the field's bounds; None for a field that is
        not stepped through.
    """
    own = STEPPERS.get(field.name)
    if own is not None and value:
        try:
            return {word: own(field, value, way) for word, way in DIRECTIONS.items()}
        except InputError:
            return None
    if field.form != "quantity" or field.dimension not in {*SERIES, *EVEN_STEPS} or not value:
        return None
    try:
        now = parse(value, field.dimension)
        return {word: _step_value(field, now, way) for word, way in DIRECTIONS.items()}
    except InputError:  # zero has no neighbour in a series
        return None


def _step_value(field: Field, now: float, way: int) -> str | None:
    """Return the next preferred value, or the next even step."""
    if field.dimension in SERIES:
        to = step_value(now, SERIES[field.dimension], way)
    else:
        size = EVEN_STEPS[field.dimension]
        to = (math.floor(now / size + 1e-6) + 1 if way > 0 else math.ceil(now / size - 1e-6) - 1) * size
    return show(to, field.dimension, 6) if field.lowest <= to <= field.highest else None


def _note(field: Field, value: str, way: int) -> str | None:
    """Return the note a semitone away, between C0 and B8."""
    number = round(12.0 * math.log2(pitch_hz(value) / pitch_hz("A4"))) + 57 + way
    return f"{NOTES[number % 12]}{number // 12}" if 0 <= number < 12 * 9 else None


def _gauge(field: Field, value: str, way: int) -> str | None:
    """Step by 0.001 in, as strings are sold; by 0.01 mm for a value in millimetres."""
    now, metric = parse(value, field.dimension), value.rstrip().endswith("mm")
    size = MILLIMETRE_M / 100.0 if metric else INCH_M / 1000.0
    to = (round(now / size) + way) * size
    if not field.lowest <= to <= field.highest:
        return None
    return f"{to / MILLIMETRE_M:.2f} mm" if metric else f"{to / INCH_M:.3f} in"


def _coefficient(field: Field, value: str, way: int) -> str | None:
    to = round(parse(value, field.dimension) + 0.01 * way, 2)
    return f"{to:g}" if field.lowest < to < field.highest else None


STEPPERS: Mapping[str, Callable[[Field, str, int], str | None]] = {
    "note": _note, "gauge": _gauge, "coefficient": _coefficient,
}  # fmt: skip
"""By name, fields whose steps follow neither a series nor their dimension."""
