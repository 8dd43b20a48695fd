"""`presolder draw`: the whole wiring as a picture."""

from __future__ import annotations

import json
from pathlib import Path

import click

from server.commands import common

EPILOG = """\b
Examples:
  presolder draw baritone.yaml --svg baritone.svg
  presolder draw baritone.yaml --position 3 --set tone=5 --svg position-3.svg
  presolder draw baritone.yaml --every-ground --svg grounds.svg

Without a position each joint has a number, a hue and a tracer. With one, what carries the sound is copper.
Without --svg the same is printed in words.
"""


@click.command(epilog=EPILOG)
@click.argument("file", type=common.EXISTING)
@click.option("--svg", type=common.EXISTING, metavar="OUT", help="Write the drawing.")
@click.option("--position", "-p", metavar="N", help="Show what sounds at this selector position.")
@common.set_option
@click.option(
    "--every-ground", is_flag=True, help="Run every ground wire instead of a symbol at each grounded lug."
)
@click.option("--json", "as_json", is_flag=True, help="Print the wires as JSON.")
def command(
    file: Path,
    svg: Path | None,
    position: str | None,
    controls: tuple[str, ...],
    every_ground: bool,
    as_json: bool,
) -> None:
    """Draw a wiring: its parts, and every wire from lug to lug."""
    if position == "all":
        raise click.UsageError("--position: got 'all'; allowed: one position")
    if controls and position is None:
        raise click.UsageError("--set without --position; allowed: both")
    from server.documents.wiring_drawing import draw_wiring, drawing_words
    from server.files.whole import write_text

    wiring = common.load(file)
    setting = None if position is None else common.settings_of(wiring, position, controls)[0]
    drawing = draw_wiring(wiring, setting, grounds=every_ground)
    if svg is not None:
        with common.report_errors():
            write_text(svg, drawing.svg)
    if as_json:
        found = {"wires": drawing.wires, "crossings": drawing.crossings, "broken": list(drawing.broken)}
        click.echo(json.dumps(found, ensure_ascii=False))
    elif svg is None:
        click.echo("\n".join(drawing_words(wiring, drawing)))
    for text in drawing.broken:
        click.echo(f"No way was found for the wire from {text}; the drawing marks its two ends.", err=True)
