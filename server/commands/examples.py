"""`presolder examples`: the demo's files, to start from."""

from __future__ import annotations

from pathlib import Path

import click

from dsp.errors import InputError
from server.commands import common
from server.paths import demo_folder
from server.storage.whole_files import write_bytes


@click.command(epilog="\b\nExample:\n  presolder examples bench && cd bench && presolder check baritone.yaml")
@click.argument("folder", type=common.EXISTING)
def command(folder: Path) -> None:
    """Copy the demo's wirings and take into FOLDER.

    A file that is there already stays as it is.
    """
    with common.told():
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise InputError(
                str(folder), error.strerror or str(error), "a folder that can be made"
            ) from error
        for source in sorted(demo_folder().iterdir()):
            target = folder / source.name
            if target.exists():
                click.echo(f"{target}  is there already, left as it is")
            else:
                write_bytes(target, source.read_bytes())
                click.echo(str(target))
