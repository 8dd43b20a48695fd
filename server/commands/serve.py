"""`presolder serve`: the server on your own wirings."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from server.commands import common
from server.commands.serving import run, server_options, settings_of
from server.files.existing import real_path

EPILOG = """\b
Examples:
  presolder serve baritone.yaml
  presolder serve wirings --no-browser --port 8400
"""


@click.command(epilog=EPILOG)
@click.argument("places", nargs=-1, type=common.EXISTING, metavar="[FILE|FOLDER]...")
@server_options
def command(places: tuple[Path, ...], browser: bool, verbose: bool, **options: Any) -> None:
    """Start the page on the wirings of files and folders.

    A file becomes a commission with one wiring, a folder a commission with all of its wirings.
    The takes of a folder are listed with the demo's. Saving on the page writes the file too.
    Files that are not wirings are skipped; their problems are printed.
    """
    from server.commissions.wiring_files import import_wiring_files
    from server.database.store import Store

    with common.report_errors():
        settings = settings_of(options, places=tuple(map(real_path, places)))
        store = Store(settings.data)
        for problem in import_wiring_files(store, settings.places):
            click.echo(f"left out: {problem}", err=True)
        store.close()
        run(settings, browser=browser, verbose=verbose)
