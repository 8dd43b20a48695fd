"""JSON Schema of fields and of maps of fields."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from dsp.documents.field import Field
from dsp.units import DIMENSIONS

SCALAR: Mapping[str, Any] = {"type": ["string", "number", "boolean"]}
NAME: Mapping[str, Any] = {"type": ["string", "integer"]}
Schemas = Mapping[str, Callable[[Field], dict[str, Any]]]
"""Per form of field, its schema without the description."""

_PLAIN: Schemas = {
    "levels": lambda field: {"type": "array", "items": {"type": ["string", "number"]}},
    "note": lambda field: {"type": "string"},
    "words": lambda field: {"type": "string"},
    "pair": lambda field: {"type": "array", "items": {"type": "string"}, "minItems": 2, "maxItems": 2},
}


def map_schema(properties: dict[str, Any], required: Sequence[str]) -> dict[str, Any]:
    """A closed map."""
    return {
        "type": "object",
        "properties": properties,
        "required": [*required],
        "additionalProperties": False,
    }


def table_schema(table: Sequence[Field], forms: Schemas | None = None) -> dict[str, Any]:
    """A closed map of the fields of a table.

    Parameters
    ----------
    table : sequence of Field
        Its required fields are required.
    forms : mapping, optional
        Schemas of forms beyond the plain ones.
    """
    return map_schema({f.name: field_schema(f, forms) for f in table}, [f.name for f in table if f.required])


def field_schema(field: Field, forms: Schemas | None = None) -> dict[str, Any]:
    """One field by its form; see `table_schema`."""
    found: dict[str, Any] = {"description": field.about}
    if field.form == "quantity":
        found |= {"type": ["string", "number"], "examples": list(DIMENSIONS[field.dimension].examples)}
    elif field.form == "choice":
        words: list[object] = [*field.choices]
        found["enum"] = [True, False, *words] if "true" in field.choices else words
    elif field.form == "count":
        found |= {"type": "integer", "minimum": int(field.lowest), "maximum": int(field.highest)}
    else:
        found |= {**_PLAIN, **(forms or {})}[field.form](field)
    if field.default:
        found["default"] = field.default
    return found
