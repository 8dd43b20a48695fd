"""`presolder takes`: list takes."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import click

from server.commands import common
from server.paths import demo_folder

EPILOG = """\b
Examples:
  presolder takes                  the demo's takes and those of this folder
  presolder takes demo_audio       those of a folder
  presolder takes riff.yaml --json
  presolder takes riff.mid --on baritone.yaml
"""


@click.command(epilog=EPILOG)
@click.argument("places", nargs=-1, type=common.EXISTING, metavar="[FILE|FOLDER]...")
@click.option("--on", type=common.EXISTING, metavar="WIRING", help="Say how its instrument plays them.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def command(places: tuple[Path, ...], on: Path | None, as_json: bool) -> None:
    """List takes: length, kind, and whether coil places are modelled.

    A take is a take file, a sound file or a MIDI file. With --on, a MIDI file's notes that the
    instrument cannot play are named, all at once.

    Of a recording written ``line: single`` it says from when to when one note sounds at a time, several
    ring together, or neither can be told.

    Exit status 1 if a take cannot be used.
    """
    from server.takes.folders import find_takes, play_on

    chosen = places or tuple(dict.fromkeys([demo_folder(), Path.cwd()]))
    listed = list(find_takes(chosen))
    if on is not None:
        wiring = common.load(on)
        listed = [play_on(one, wiring) for one in listed]
    if as_json:
        click.echo(json.dumps({"takes": [_entry(one) for one in listed]}, indent=1, ensure_ascii=False))
    else:
        for one in listed:
            _print(one)
        if not listed:
            click.echo(f"no takes in {', '.join(map(str, chosen))}", err=True)
    if any(one.error for one in listed):
        raise SystemExit(1)


def _entry(one: Any) -> dict[str, Any]:
    if one.performance is None:
        return {"file": str(one.path), "problems": [str(problem) for problem in one.error.problems]}
    take = one.performance.take
    return {
        "file": str(one.path),
        "name": take.name,
        "kind": take.kind,
        "seconds": round(one.performance.seconds, 3),
        "coil_places": one.coil_places,
        "verdict": list(one.verdict),
        "notes": list(one.notes),
        "warnings": list(one.performance.warnings),
    }


def _print(one: Any) -> None:
    if one.performance is None:
        for problem in one.error.problems:
            click.echo(str(problem), err=True)
        return
    take, seconds = one.performance.take, one.performance.seconds
    click.echo(f"{one.path}\n  {take.name}: {take.kind}, {seconds:.1f} s; coil places: {one.coil_places}")
    for text in one.verdict:
        click.echo(f"    {text}")
    for text in (*one.performance.warnings, *one.notes):
        click.echo(f"  note: {text}")
