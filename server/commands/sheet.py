"""`presolder sheet`: what a wiring is soldered by, on paper or as data."""

from __future__ import annotations

import json
from pathlib import Path

import click

from server.commands import common

EPILOG = """\b
Examples:
  presolder sheet baritone.yaml --pdf sheet.pdf
  presolder sheet baritone.yaml --pdf sheet.pdf --paper letter
  presolder sheet baritone.yaml --html sheet.html
  presolder sheet baritone.yaml --json

The wires of --json alone rebuild the joints. Without --pdf, --html and --json the sheet is printed as text.
"""


@click.command(epilog=EPILOG)
@click.argument("file", type=common.EXISTING)
@click.option("--pdf", type=common.EXISTING, metavar="OUT", help="Write the sheet for a printer.")
@click.option("--html", type=common.EXISTING, metavar="OUT", help="Write the sheet as a page.")
@click.option(
    "--paper", type=click.Choice(["a4", "letter"]), default="a4", show_default=True, help="Size of the paper."
)
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def command(file: Path, pdf: Path | None, html: Path | None, paper: str, as_json: bool) -> None:
    """Print a build sheet: steps in order, parts, readings, checks.

    A wiring that still has a sketch has no lugs to solder: make its chart first.
    """
    from server.documents.build_sheet import build_sheet
    from server.documents.build_sheet_words import sheet_words
    from server.files.whole import write_bytes, write_text

    wiring = common.load(file)
    with common.report_wrong_usage():
        sheet = build_sheet(wiring)
    with common.report_errors():
        if pdf is not None:
            from server.documents.build_sheet_pdf import sheet_pdf

            write_bytes(pdf, sheet_pdf(sheet, paper))
        if html is not None:
            from server.documents.build_sheet_page import sheet_html

            write_text(html, sheet_html(sheet, paper))
    if as_json:
        click.echo(json.dumps(sheet.record, indent=1, ensure_ascii=False))
    elif pdf is None and html is None:
        click.echo("\n".join(sheet_words(sheet.record)))
    for text in sheet.record["broken"]:
        click.echo(f"No way was found for the wire from {text}; the drawing marks its two ends.", err=True)
