"""`presolder built`: the workshop's record of finished guitars."""

from __future__ import annotations

import contextlib
import json
from pathlib import Path

import click

from server.commands import common

EPILOG = """\b
Examples:
  presolder built                                       every guitar, the last read first
  presolder built 26-014                                those whose serial number, client or notes have it
  presolder built --csv built.csv --decimal comma       a line for each reading, for a spreadsheet
  presolder built --json

"Built?" on the bench keeps them.
"""


@click.command(epilog=EPILOG)
@click.argument("search", required=False, default="")
@click.option("--archived", is_flag=True, help="List those put away instead.")
@click.option("--csv", "table", type=common.EXISTING, metavar="OUT", help="Write a table, archived ones too.")
@click.option(
    "--decimal",
    type=click.Choice(["point", "comma"]),
    default="point",
    show_default=True,
    help="Of the table; with a comma its columns are apart by semicolons.",
)
@click.option(
    "--data",
    type=common.EXISTING,
    metavar="DIR",
    help="Folder that keeps them; the platform's own unless given.",
)
@click.option("--json", "as_json", is_flag=True, help="Print all that is kept, as JSON.")
def command(
    search: str, archived: bool, table: Path | None, decimal: str, data: Path | None, as_json: bool
) -> None:
    """List finished guitars, or write them as a table."""
    from server.built.record import list_instruments
    from server.built.table import record_csv
    from server.database.store import Store
    from server.files.whole import write_bytes
    from server.settings import data_folder

    with common.report_errors(), contextlib.closing(Store(data or data_folder())) as store:
        found = list_instruments(store, search, archived=archived)
        if table is not None:
            every = [*found, *list_instruments(store, search, archived=not archived)]
            write_bytes(table, record_csv(every, decimal_comma=decimal == "comma").encode())
    if as_json:
        click.echo(json.dumps({"instruments": found}, indent=1, ensure_ascii=False))
    elif table is not None:
        click.echo(table)
    elif not found:
        click.echo(
            "No guitar has these words." if search else "No guitar is kept yet: “Built?” on the bench."
        )
    else:
        for one in found:
            signed = f"signed {one['signed']}" if one["signed"] else "not signed for"
            version = f"{one['wiring']}, version {one['version_number']}, {signed}"
            click.echo(f"{one['serial']:<16} {one['day']}  {version}: {one['verdict']['text']}")
