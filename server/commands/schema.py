"""`presolder schema`: the wiring file's JSON Schema."""

from __future__ import annotations

import json
from pathlib import Path

import click

from dsp.wiring.schema import schema
from server.commands import common
from server.files.whole import write_text


@click.command(epilog="\b\nExample:\n  presolder schema --out wiring.schema.json")
@click.option("--out", type=common.EXISTING, metavar="FILE", help="Write a file instead of printing.")
def command(out: Path | None) -> None:
    """Print the JSON Schema of the wiring file.

    An editor that knows it completes and checks the file.
    """
    text = json.dumps(schema(), indent=1, ensure_ascii=False) + "\n"
    if out is None:
        click.echo(text, nl=False)
    else:
        with common.report_errors():
            write_text(out, text)
