"""`presolder serve`: the server on one's own wirings."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from server.commands import common
from server.commands.serve_options import serve_options, settings_of

EPILOG = """\b
Examples:
  presolder serve baritone.yaml
  presolder serve wirings --no-browser --port 8400
"""


@click.command(epilog=EPILOG)
@click.argument("places", nargs=-1, type=common.EXISTING, metavar="[FILE|FOLDER]...")
@serve_options
def command(places: tuple[Path, ...], browser: bool, verbose: bool, **options: Any) -> None:
    """Start the page with the wirings of files and folders.

    A file becomes a commission with one wiring, a folder one with all of its wirings; the takes
    of a folder are listed with the demo's. Saving on the page writes the file too. What is no
    wiring is told and left out.
    """
    from server.commands.serving import run
    from server.commissions.wiring_files import import_wiring_files
    from server.database.store import Store

    with common.told():
        settings = settings_of(options, places=tuple(place.resolve() for place in places))
        store = Store(settings.data)
        for problem in import_wiring_files(store, settings.places):
            click.echo(f"left out: {problem}", err=True)
        store.close()
        run(settings, browser=browser, verbose=verbose)
