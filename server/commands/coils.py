"""`presolder coils`: the coils that you measured and kept."""

from __future__ import annotations

import contextlib
import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from server.commands import common

if TYPE_CHECKING:
    from server.wirings.own_coils import OwnCoil

EPILOG = """\b
Examples:
  presolder coil bridge.csv --dc 8.12k --keep our_bridge && presolder coils
  presolder coil bridge.csv --dc 8.12k --keep our_bridge && presolder coils our_bridge
  presolder coil bridge.csv --dc 8.12k --keep our_bridge && presolder coils our_bridge --rename hot_bridge
  presolder coil bridge.csv --dc 8.12k --keep our_bridge && presolder coils our_bridge --json > kept.json

In a wiring file `like: our_bridge` takes it. Whatever Presolder saves holds the values themselves, with a
comment of their origin, so that the wiring can be read on other computers. To use a coil there in files of
your own, print it here and write its values into the file.
"""


@click.command(epilog=EPILOG)
@click.argument("name", required=False)
@click.option("--rename", metavar="NAME", help="Give the coil another name.")
@click.option("--remove", is_flag=True, help="Take the coil out of the list.")
@click.option("--restore", is_flag=True, help="Bring back a coil that was removed.")
@click.option(
    "--data",
    type=common.EXISTING,
    metavar="DIR",
    help="Folder that keeps them; the platform's own unless given.",
)
@click.option("--json", "as_json", is_flag=True, help="Print all that is known, curves too, as JSON.")
def command(
    name: str | None, rename: str | None, remove: bool, restore: bool, data: Path | None, as_json: bool
) -> None:
    """List the coils that you measured, or print one to paste into a file.

    `presolder coil READING… --keep NAME` keeps one.
    """
    acts = sum((rename is not None, remove, restore))
    if acts > 1 or (acts and name is None):
        raise click.UsageError("allowed: one of --rename, --remove and --restore, with the coil's name")
    from server.database.store import Store
    from server.settings import data_folder
    from server.wirings import own_coils

    with common.report_errors(), contextlib.closing(Store(data or data_folder())) as store:
        if name is not None and rename is not None:
            own_coils.rename_coil(store, name, rename)
            name = rename
        elif name is not None and remove:
            own_coils.remove_coil(store, name)
            click.echo(f"{name} is out of the list; --restore brings it back.")
            return
        elif name is not None and restore:
            name = own_coils.restore_coil(store, name).name
        coils = own_coils.list_coils(store) if name is None else [own_coils.get_coil(store, name)]
    if as_json:
        click.echo(json.dumps({"coils": [coil.as_json() for coil in coils]}, indent=1, ensure_ascii=False))
    elif name is not None:
        click.echo(_as_yaml(coils[0]))
    elif not coils:
        click.echo("No coil is kept yet. `presolder coil READING… --keep NAME` keeps one.")
    else:
        for coil in coils:
            click.echo(f"{coil.name:<28} {coil.day}  {_in_short(coil.fields)}  {coil.method}")


def _in_short(fields: Any) -> str:
    return ", ".join(value for value in fields.values() if isinstance(value, str))


def _as_yaml(coil: OwnCoil) -> str:
    """A coil as a wiring file writes it under ``parts:``."""
    from server.wirings.text import written

    values = {"kind": "coil", **coil.fields}
    lines = [f"  # {coil.told}", f"  {coil.name}:"]
    return "\n".join([*lines, *(f"    {field}: {written(value)}" for field, value in values.items())])
