"""`presolder set`: change values in a wiring file."""

from __future__ import annotations

from pathlib import Path

import click

from server.commands import common
from server.wirings.text import WiringText

EPILOG = """\b
Examples:
  presolder set baritone.yaml tone_cap.capacitance="33 nF" volume.taper=audio
  presolder set baritone.yaml load.cable.length="3 m" --out short-cable.yaml
"""
TOP = ("name", "labels", "load", "instrument")
"""First words of a path that does not begin with a part's name."""


@click.command("set", epilog=EPILOG)
@click.argument("file", type=common.EXISTING)
@click.argument("changes", nargs=-1, required=True, metavar="PART.FIELD=VALUE...")
@click.option("--out", type=common.EXISTING, metavar="FILE", help="Write a new file instead.")
def command(file: Path, changes: tuple[str, ...], out: Path | None) -> None:
    """Change values in a wiring file and keep its comments.

    The changed wiring is checked before it is written.
    """
    with common.report_errors():
        text = WiringText.of(file)
        for change in changes:
            place, equals, value = change.partition("=")
            path = place.strip().split(".")
            if not equals or not all(path):
                raise click.UsageError(f"got '{change}'; allowed: PART.FIELD=VALUE")
            text.set(path if path[0] in TOP else ["parts", *path], value.strip())
        text.save(out or file)
