"""`presolder examples`: the demo's files, to start from."""

from __future__ import annotations

from pathlib import Path

import click

from server.commands import common
from server.files.copies import copy_folder
from server.paths import demo_folder


@click.command(epilog="\b\nExample:\n  presolder examples bench && cd bench && presolder check baritone.yaml")
@click.argument("folder", type=common.EXISTING)
def command(folder: Path) -> None:
    """Copy the demo's wirings and takes into FOLDER.

    A file that exists there stays as it is.
    """
    with common.report_errors():
        for target, copied in copy_folder(demo_folder(), folder):
            click.echo(str(target) if copied else f"{target}  exists, left as it is")
