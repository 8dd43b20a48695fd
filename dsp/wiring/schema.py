"""The JSON Schema of the wiring file, from the tables of its reader."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from dsp.documents.field import Field
from dsp.documents.schema import SCALAR, Schemas, field_schema, map_schema, table_schema
from dsp.parts import fields
from dsp.parts.kinds import KINDS
from dsp.parts.library.index import LIBRARY

DIALECT = "https://json-schema.org/draft/2020-12/schema"
_FORMS: Schemas = {
    "strings": lambda field: {"type": "array", "items": table_schema(fields.STRING_FIELDS)},
    "places": lambda field: {
        "type": "object",
        "additionalProperties": {
            "type": "array",
            "minItems": 2,
            "maxItems": 3,
            "prefixItems": [*2 * [_coordinate(field)], {"enum": [0, 1, 2, 3]}],
        },
    },
    "runs": lambda field: {
        "type": "array",
        "items": {"type": "array", "items": {"type": "string"}, "minItems": 2, "maxItems": 2},
    },
}


def schema() -> dict[str, Any]:
    """Build the schema, JSON Schema 2020-12."""
    kinds = [_part(kind) for kind in KINDS]
    return {
        "$schema": DIALECT,
        "title": "Presolder wiring file, format 1",
        **map_schema(
            {
                "format": {"const": 1},
                "name": {"type": "string"},
                "instrument": table_schema(fields.INSTRUMENT_FIELDS, _FORMS),
                "parts": {"type": "object", "additionalProperties": {"anyOf": [*kinds, _like()]}},
                "selector": {"type": "string"},
                "output": {"type": "string", "description": fields.OUTPUT_FIELD.about},
                "couplings": {"type": "array", "items": table_schema(fields.COUPLING_FIELDS)},
                "joints": {
                    "type": "array",
                    "items": {"type": "array", "items": {"type": "string"}, "minItems": 2},
                },
                "labels": {"type": "object", "additionalProperties": SCALAR},
                "load": _load(),
                "ganged": {
                    "type": "object",
                    "additionalProperties": {"anyOf": [{"type": "string"}, _ganged()]},
                },
                "drawing": table_schema(fields.DRAWING_FIELDS, _FORMS),
            },
            ["format", "parts"],
        ),
    }


def _coordinate(field: Field) -> dict[str, Any]:
    return {"type": "number", "minimum": field.lowest, "maximum": field.highest}


def _common(values: Sequence[str]) -> dict[str, Any]:
    """Fields of every kind; the quantities that may have a tolerance are listed."""
    like, ganged, tolerance = fields.COMMON
    found = {
        "like": {"enum": list(LIBRARY), "description": like.about},
        "ganged": {"description": ganged.about, **_ganged()},
    }
    if values:
        each = map_schema(dict.fromkeys(values, SCALAR), [])
        found["tolerance"] = {"description": tolerance.about, "anyOf": [SCALAR, each]}
    return found


def _ganged() -> dict[str, Any]:
    return table_schema(fields.GANGED_FIELDS)


def _part(kind: str) -> dict[str, Any]:
    """A part that names its kind."""
    table = table_schema(KINDS[kind].fields, _forms(kind))
    values = [field.name for field in KINDS[kind].fields if field.form == "quantity"]
    table["properties"] = {"kind": {"const": kind}, **table["properties"], **_common(values)}
    needed = ["kind", *table["required"]]
    # fields of the library's part need not be repeated
    return {**table, "required": ["kind"], "anyOf": [{"required": needed}, {"required": ["like"]}]}


def _forms(kind: str) -> Schemas:
    return {name: form.schema for name, form in KINDS[kind].forms.items()}


def _like() -> dict[str, Any]:
    """A part that takes its kind from the library."""
    every = {f.name: field_schema(f, _forms(name)) for name, kind in KINDS.items() for f in kind.fields}
    values = [f.name for kind in KINDS.values() for f in kind.fields if f.form == "quantity"]
    every["positions"] = {}
    return map_schema({**every, **_common(values)}, ["like"])


def _load() -> dict[str, Any]:
    loads = [name for name, entry in LIBRARY.items() if entry.kind == "load"]
    parts = {"cable": table_schema(fields.CABLE_FIELDS), "amplifier": table_schema(fields.AMPLIFIER_FIELDS)}
    return map_schema({"kind": {"const": "load"}, "like": {"enum": loads}, **parts}, [])
