"""`presolder parts`: the library of generic parts, and the table of fields."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import asdict

import click

from dsp.documents.field import Field
from dsp.errors import nearest
from dsp.parts.fields import COMMON, COUPLING_FIELDS, DRAWING_FIELDS
from dsp.parts.kinds import KINDS
from dsp.parts.library.index import LIBRARY, Entry
from dsp.units import DIMENSIONS

PLAIN = re.compile(r"[\w.+-][\w.+ %/-]*(?<! )")
"""Texts that need no quotes in YAML."""
EPILOG = """\b
Examples:
  presolder parts                       every part, a line each
  presolder parts --kind coil
  presolder parts narrow_single_medium  one part, to paste into a file
  presolder parts --fields              the fields of each kind of part
"""


@click.command(epilog=EPILOG)
@click.argument("name", required=False)
@click.option("--kind", type=click.Choice([*KINDS, "load"]), help="Show parts of this kind only.")
@click.option("--fields", is_flag=True, help="Print the fields of each kind of part, and units.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def command(name: str | None, kind: str | None, fields: bool, as_json: bool) -> None:
    """List generic parts to start from.

    In a wiring file `like: NAME` takes one; fields beside it change it.
    """
    if fields:
        click.echo(json.dumps(_field_table(), indent=1, ensure_ascii=False) if as_json else _fields())
        return
    if name is not None and name not in LIBRARY:
        hint = nearest(name, LIBRARY)
        raise click.UsageError(f"no part '{name}'; {hint or 'presolder parts lists them'}")
    if name is not None and kind not in (None, LIBRARY[name].kind):
        raise click.UsageError(f"--kind: got '{kind}'; allowed with {name}: {LIBRARY[name].kind}")
    chosen = [e for e in LIBRARY.values() if (kind in (None, e.kind)) and (name in (None, e.name))]
    if as_json:
        listed = [
            {
                "name": e.name,
                "kind": e.kind,
                "about": e.about,
                "fields": dict(e.fields),
                "pair": e.pair,
                "coupling": e.coupling,
                "outside": e.outside,
            }
            for e in chosen
        ]
        click.echo(json.dumps({"parts": listed}, indent=1, ensure_ascii=False))
    elif name is not None:
        click.echo(_as_yaml(chosen[0]))
    else:
        for entry in chosen:
            tables = entry.kind in ("switch", "jack")  # nobody knows one by its numbers
            words = entry.about if tables else _values(entry.fields) or entry.about
            click.echo(f"{entry.kind:<10} {entry.name:<34} {words}")


def _as_yaml(entry: Entry) -> str:
    """A part as a wiring file writes it under ``parts:``; a load, at the top."""
    at_top = entry.kind == "load"
    comments = [f"{entry.name} ({entry.kind})", entry.about, _offer(entry), entry.outside]
    lines = [f"# {text}" for text in comments if text]
    inner = "  " if at_top else "    "
    lines.append("load:" if at_top else f"  {entry.name}:")
    kind = {} if at_top else {"kind": entry.kind}
    lines += [f"{inner}{field}: {_flow(value)}" for field, value in {**kind, **entry.fields}.items()]
    return "\n".join(lines)


def _offer(entry: Entry) -> str:
    """The coupling offered with a coil and its pair, as a wiring file writes it."""
    if not entry.pair:
        return ""
    coils = "two of them" if entry.pair == entry.name else f"it and {entry.pair}"
    return f"For {coils}, couplings: [{{coils: [A, B], coefficient: {entry.coupling:g}}}]"


def _flow(value: object) -> str:
    """A value on one line of YAML."""
    if isinstance(value, Mapping):
        return "{" + ", ".join(f"{key}: {_flow(one)}" for key, one in value.items()) + "}"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_flow(one) for one in value) + "]"
    text = str(value)
    return text if PLAIN.fullmatch(text) else json.dumps(text, ensure_ascii=False)


def _field_table() -> dict[str, list[dict[str, object]]]:
    """The table of fields as plain values."""
    table = {name: (*kind.fields, *COMMON) for name, kind in KINDS.items()} | {
        "couplings": COUPLING_FIELDS,
        "drawing": DRAWING_FIELDS,
    }
    return {name: [asdict(field) for field in fields] for name, fields in table.items()}


def _values(fields: Mapping[str, object]) -> str:
    return ", ".join(value for value in fields.values() if isinstance(value, str))[:80]


def _field_line(field: Field) -> str:
    need = "required" if field.required else f"default {field.default}" if field.default else "optional"
    words = f" [{', '.join(field.choices)}]" if field.choices else ""
    return f"  {field.name:<16} {need:<18} {field.about}{words}"


def _fields() -> str:
    lines = []
    for name, kind in KINDS.items():
        leads = ", ".join(kind.lead_names or ("its lugs",))
        lines.append(f"{name}   (terminals: {leads})")
        lines += [*map(_field_line, (*kind.fields, *COMMON)), ""]
    lines += ["couplings   (at the top of the file, a list)", *map(_field_line, COUPLING_FIELDS), ""]
    lines += ["drawing   (at the top of the file, a map)", *map(_field_line, DRAWING_FIELDS), ""]
    lines.append("quantities")
    lines += [f"  {name:<24} {', '.join(row.examples)}" for name, row in DIMENSIONS.items()]
    return "\n".join(lines)
