"""The JSON Schema of the wiring file, from the same table that its reader follows."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from dsp.documents.field import Field
from dsp.parts import fields
from dsp.parts.library.index import LIBRARY
from dsp.units import DIMENSIONS

DIALECT = "https://json-schema.org/draft/2020-12/schema"
_SCALAR = {"type": ["string", "number", "boolean"]}
_NAME = {"type": ["string", "integer"]}
_GROUPS = {"type": "array", "items": {"type": "array", "items": _NAME, "minItems": 2}}


def schema() -> dict[str, Any]:
    """The whole schema, JSON Schema 2020-12."""
    kinds = [_part(kind) for kind in fields.KINDS]
    return {
        "$schema": DIALECT,
        "title": "Presolder wiring file, format 1",
        **_map(
            {
                "format": {"const": 1},
                "name": {"type": "string"},
                "instrument": _table(fields.INSTRUMENT_FIELDS),
                "parts": {"type": "object", "additionalProperties": {"anyOf": [*kinds, _like()]}},
                "selector": {"type": "string"},
                "couplings": {"type": "array", "items": _table(fields.COUPLING_FIELDS)},
                "joints": {
                    "type": "array",
                    "items": {"type": "array", "items": {"type": "string"}, "minItems": 2},
                },
                "labels": {"type": "object", "additionalProperties": _SCALAR},
                "load": _load(),
                "ganged": {"type": "object", "additionalProperties": {"type": "string"}},
            },
            ["format", "parts"],
        ),
    }


def _map(properties: dict[str, Any], required: list[str]) -> dict[str, Any]:
    return {
        "type": "object",
        "properties": properties,
        "required": required,
        "additionalProperties": False,
    }


def _table(table: tuple[Field, ...]) -> dict[str, Any]:
    return _map({f.name: _field(f) for f in table}, [f.name for f in table if f.required])


def _common() -> dict[str, Any]:
    return {
        "like": {"enum": list(LIBRARY), "description": fields.COMMON[0].about},
        "ganged": _map({"part": {"type": "string"}}, ["part"]),
    }


def _part(kind: str) -> dict[str, Any]:
    """A part whose kind is written out."""
    table = _table(fields.KINDS[kind])
    table["properties"] = {"kind": {"const": kind}, **table["properties"], **_common()}
    needed = ["kind", *table["required"]]
    # what the library's part says already need not be said again
    return {**table, "required": ["kind"], "anyOf": [{"required": needed}, {"required": ["like"]}]}


def _like() -> dict[str, Any]:
    """A part that leaves its kind to the library's part."""
    every = {f.name: _field(f) for table in fields.KINDS.values() for f in table if f.form != "expressions"}
    every["positions"] = {}
    return _map({**every, **_common()}, ["like"])


def _load() -> dict[str, Any]:
    loads = [name for name, entry in LIBRARY.items() if entry.kind == "load"]
    parts = {"cable": _table(fields.CABLE_FIELDS), "amplifier": _table(fields.AMPLIFIER_FIELDS)}
    return _map({"kind": {"const": "load"}, "like": {"enum": loads}, **parts}, [])


def _field(field: Field) -> dict[str, Any]:
    """One field by its form."""
    found: dict[str, Any] = {"description": field.about}
    if field.form == "quantity":
        found |= {"type": ["string", "number"], "examples": list(DIMENSIONS[field.dimension].examples)}
    elif field.form == "choice":
        words: list[object] = [*field.choices]
        found["enum"] = [True, False, *words] if "true" in field.choices else words
    elif field.form == "count":
        found |= {"type": "integer", "minimum": int(field.lowest), "maximum": int(field.highest)}
    elif field.form == "eddy":
        found |= {"type": "array", "items": _table(fields.EDDY_FIELDS)}
    elif field.form == "strings":
        found |= {"type": "array", "items": _table(fields.STRING_FIELDS)}
    else:
        found |= _FORMS[field.form](field)
    if field.default:
        found["default"] = field.default
    return found


_FORMS: dict[str, Callable[[Field], dict[str, Any]]] = {
    "levels": lambda field: {"type": "array", "items": {"type": ["string", "number"]}},
    "taper": lambda field: {
        "anyOf": [
            {"enum": list(field.choices)},
            {"type": "array", "items": {"type": "array", "items": _SCALAR, "minItems": 2, "maxItems": 2}},
        ]
    },
    "lugs": lambda field: {"type": "array", "items": _NAME},
    "contacts": lambda field: {"type": "object", "additionalProperties": _GROUPS},
    "expressions": lambda field: {"type": "object", "additionalProperties": {"type": "string"}},
    "note": lambda field: {"type": "string"},
    "pair": lambda field: {"type": "array", "items": {"type": "string"}, "minItems": 2, "maxItems": 2},
}
