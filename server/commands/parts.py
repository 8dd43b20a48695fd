"""`presolder parts`: the library of generic parts, and the table of fields."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import asdict

import click

from dsp.errors import nearest
from dsp.parts.fields import COMMON
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
            {"name": e.name, "kind": e.kind, "about": e.about, "fields": dict(e.fields), "outside": e.outside}
            for e in chosen
        ]
        click.echo(json.dumps({"parts": listed}, indent=1, ensure_ascii=False))
    elif name is not None:
        click.echo(_as_yaml(chosen[0]))
    else:
        for entry in chosen:
            click.echo(f"{entry.kind:<10} {entry.name:<34} {_values(entry.fields)}")


def _as_yaml(entry: Entry) -> str:
    """A part as a wiring file writes it under ``parts:``; a load, at the top."""
    at_top = entry.kind == "load"
    comments = [f"{entry.name} ({entry.kind})", entry.about, entry.outside]
    lines = [f"# {text}" for text in comments if text]
    inner = "  " if at_top else "    "
    lines.append("load:" if at_top else f"  {entry.name}:")
    kind = {} if at_top else {"kind": entry.kind}
    lines += [f"{inner}{field}: {_flow(value)}" for field, value in {**kind, **entry.fields}.items()]
    return "\n".join(lines)


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
    return {name: [asdict(field) for field in (*kind.fields, *COMMON)] for name, kind in KINDS.items()}


def _values(fields: Mapping[str, object]) -> str:
    plain = [str(value) for value in fields.values() if isinstance(value, str | int)]
    return ", ".join(plain)[:80]


def _fields() -> str:
    lines = []
    for name, kind in KINDS.items():
        leads = ", ".join(kind.lead_names or ("its lugs",))
        lines.append(f"{name}   (terminals: {leads})")
        for field in (*kind.fields, *COMMON):
            need = (
                "required" if field.required else f"default {field.default}" if field.default else "optional"
            )
            words = f" [{', '.join(field.choices)}]" if field.choices else ""
            lines.append(f"  {field.name:<16} {need:<18} {field.about}{words}")
        lines.append("")
    lines.append("quantities")
    lines += [f"  {name:<24} {', '.join(row.examples)}" for name, row in DIMENSIONS.items()]
    return "\n".join(lines)
