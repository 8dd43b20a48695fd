"""Read plain fields: each tree node becomes a value or a problem."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from dsp.documents.field import Field
from dsp.documents.tree import Entries, Node, Reading
from dsp.errors import InputError
from dsp.units import parse, show

MOST_WORDS = 60
"""Longest text of a field in words, in characters."""


def read_quantity(reading: Reading, field: Field, node: Node, what: str) -> float | None:
    """Read a quantity within the field's bounds, SI; None after a problem."""
    text = reading.text(node, what)
    if text is None:
        return None
    try:
        value = parse(text, field.dimension, reading.where(node, what))
    except InputError as error:
        reading.take(error)
        return None
    if not field.lowest <= value <= field.highest:
        low, high = show(field.lowest, field.dimension), show(field.highest, field.dimension)
        reading.refuse(node, what, f"from {low} to {high}")
        return None
    return value


def read_choice(reading: Reading, field: Field, node: Node, what: str) -> str | None:
    """Read one of the field's words; None after a problem."""
    text = reading.text(node, what)
    if text is None:
        return None
    word = text.strip().lower()
    if word not in field.choices:
        reading.refuse(node, what, " or ".join(field.choices), hint=reading.guess(word, field.choices))
        return None
    return word


def read_count(reading: Reading, field: Field, node: Node, what: str) -> int | None:
    """Read a whole number within the field's bounds; None after a problem."""
    text = reading.text(node, what)
    if text is None:
        return None
    if not text.isdecimal() or len(text) > 9 or not field.lowest <= int(text) <= field.highest:
        reading.refuse(node, what, f"a whole number from {field.lowest:g} to {field.highest:g}")
        return None
    return int(text)


def read_words(reading: Reading, field: Field, node: Node, what: str) -> str | None:
    """Read a few words for people, on one line; None after a problem."""
    text = reading.text(node, what)
    if text is None:
        return None
    words = " ".join(text.split())
    if not 0 < len(words) <= MOST_WORDS:
        reading.refuse(node, what, f"1 to {MOST_WORDS} characters", got=f"{len(words)} characters")
        return None
    return words


def read_map(reading: Reading, fields: tuple[Field, ...], node: Node | None, what: str) -> dict[str, Any]:
    """Read the plain fields of a map; unknown keys are problems."""
    values: dict[str, Any] = {}
    known = {field.name: field for field in fields}
    for key, value in reading.entries(node, what):
        field = known.get(key.text)
        place = f"{what}.{key.text}"
        if field is None:
            reading.refuse(key, what, ", ".join(known), hint=reading.guess(key.text, known))
        elif field.form == "quantity":
            values[field.name] = read_quantity(reading, field, value, place)
        elif field.form == "choice":
            values[field.name] = read_choice(reading, field, value, place)
        else:
            values[field.name] = value
    if isinstance(node, Entries):
        require_fields(reading, fields, values, node, what)
    return values


def require_fields(
    reading: Reading, fields: tuple[Field, ...], values: Mapping[str, object], node: Node, what: str
) -> None:
    """Record a problem for every required field that is missing."""
    for field in fields:
        if field.required and field.name not in values:
            reading.refuse(node, what, f"{field.name}: {field.about}", got=f"no {field.name}")


def read_names(reading: Reading, node: Node, what: str) -> tuple[str, ...]:
    """Read a list of names."""
    texts = [reading.text(item, what) for item in reading.items(node, what)]
    return tuple(text for text in texts if text is not None)


def read_levels(reading: Reading, field: Field, node: Node, what: str) -> tuple[float, ...]:
    """Read one level per string, dB."""
    items = reading.items(node, what)
    levels = [read_quantity(reading, field, item, what) for item in items]
    return tuple(level for level in levels if level is not None)
