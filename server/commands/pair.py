"""`presolder pair`: tell how one knob changes what another does."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from dsp.errors import nearest
from server.commands import common

if TYPE_CHECKING:
    from dsp.knobs.pair_search import PairWay
    from dsp.wiring.model import Setting, Wiring

LONGEST_DB = 60.0
MOST_WAYS = 3
"""Printed of those that change what the second knob does least, and of those that do most."""
EPILOG = """\b
Examples:
  presolder pair twelve.yaml --position 3
  presolder pair baritone.yaml --first volume --second tone --within 6
  presolder pair baritone.yaml -p 1 --search

Each line is a value of the first knob: how wide the second travels there, how evenly, how much softer the
sound is, and by how much the second does something else than with the first at 10 (0 dB: the same).
Without --first and --second the knobs are a volume and a tone.
"""


@click.command(epilog=EPILOG)
@click.argument("file", type=common.EXISTING)
@common.position_option
@common.set_option
@click.option("--first", default="", metavar="KNOB", help="The knob that is turned back, such as a volume.")
@click.option(
    "--second", default="", metavar="KNOB", help="The knob whose travel the command measures, such as a tone."
)
@click.option(
    "--within",
    "within_db",
    type=float,
    metavar="DB",
    help="How much softer the first knob may make the sound; 12 unless given.",
)
@click.option(
    "--search",
    is_flag=True,
    help="Try bypass parts on the first knob, and the second at its lug 3 or wiper.",
)
@click.option("--json", "as_json", is_flag=True, help="Print JSON, with level and timbre distance over both.")
def command(
    file: Path,
    position: str,
    controls: tuple[str, ...],
    first: str,
    second: str,
    within_db: float | None,
    search: bool,
    as_json: bool,
) -> None:
    """Tell at which volume the tone knob travels widest and most evenly.

    The command says for any two knobs how a value of the first changes what the second does.
    """
    wiring = common.load(file)
    if within_db is not None and not 0.0 <= within_db <= LONGEST_DB:
        raise click.UsageError(f"--within: got {within_db:g}; allowed: 0 to {LONGEST_DB:g} (dB)")
    for option, name in (("--first", first), ("--second", second)):
        if name and name not in wiring.knobs:
            hint = nearest(name, wiring.knobs) or f"there are {', '.join(wiring.knobs) or 'none'}"
            raise click.UsageError(f"{option}: no knob '{name}'; {hint}")
    with common.report_errors():
        settings = common.settings_of(wiring, position, controls)
        found = [_record(wiring, setting, (first, second), within_db, search=search) for setting in settings]
    if as_json:
        click.echo(json.dumps({"pairs": found}, indent=1, ensure_ascii=False))
        return
    for one in found:
        _print(one)


def _record(
    wiring: Wiring, setting: Setting, wanted: tuple[str, str], within_db: float | None, *, search: bool
) -> dict[str, Any]:
    from dsp.knobs.pair import WITHIN_DB, choose_knobs, compute_pair
    from dsp.knobs.pair_words import pair_record

    knobs = choose_knobs(wiring, setting, wanted)
    within = WITHIN_DB if within_db is None else within_db
    record = {
        "position": setting.position,
        **pair_record(compute_pair(wiring, setting, knobs), within),
    }
    return record | _ways(wiring, setting, knobs, within) if search else record


def _ways(wiring: Wiring, setting: Setting, knobs: tuple[str, str], within_db: float) -> dict[str, Any]:
    """What other parts and joints make of the pair, that which changes least first."""
    from dsp.knobs.pair_search import try_ways

    with common.show_progress(f"parts for {knobs[0]} and {knobs[1]}") as progress:
        own, *ways = try_ways(wiring, setting, knobs, within_db=within_db, progress=progress)
    return {"changed_db": round(own.changed_db, 3), "ways": [_way(wiring, way) for way in ways]}


def _way(wiring: Wiring, way: PairWay) -> dict[str, Any]:
    top = way.pair.rows[0].travel if way.pair.rows else None
    return {
        "way": way.text,
        "changed_db": round(way.changed_db, 3),
        "width_db": round(top.width_db, 3) if top else None,
        "evenness": round(top.evenness, 3) if top else None,
        "edit": list(way.change.instructions(wiring)),
    }


def _print(one: dict[str, Any]) -> None:
    first, second = one["knobs"]
    click.echo(f"position {one['position']}  {one['text']}")
    for row in one["rows"]:
        if row["value"] != int(row["value"]):
            continue  # whole numbers are enough to read; --json has the halves
        marks = [name for name in ("widest", "most even") if one[name.replace(" ", "_")] == row["value"]]
        click.echo(
            f"  {first} {row['value']:>4g}  level {row['level_db']:+6.1f} dB"
            f"  {second}: {row['width_db']:5.1f} dB wide, evenness {row['evenness']:.2f},"
            f" changed by {row['changed_db']:.1f} dB" + (f"   {', '.join(marks)}" if marks else "")
        )
    if "ways" in one:
        _print_ways(one)


def _print_ways(one: dict[str, Any]) -> None:
    """Print the changes that keep what the second knob does, and those that alter it most."""
    first, second = one["knobs"]
    ways = one["ways"]
    if not ways:
        click.echo(f"  nothing to try: {first} is no volume, with a wiper between its ends")
        return
    click.echo(
        f"  {len(ways)} changes tried; as it is, {first} turned down changes what {second} does by"
        f" {one['changed_db']:.1f} dB"
    )
    kept = [way for way in ways if way["changed_db"] < one["changed_db"]][:MOST_WAYS]
    more = [way for way in reversed(ways) if way["changed_db"] > one["changed_db"]][:MOST_WAYS]
    for head, some in ((f"{second} stays most as it is with", kept), ("it does most else with", more)):
        if some:
            click.echo(f"  {head}:")
        for way in some:
            wide = "silent" if way["width_db"] is None else f"{way['width_db']:.1f} dB wide"
            click.echo(f"    {way['way']}: {way['changed_db']:.1f} dB; with {first} at 10 {wide}")
            click.echo(f"      {'; '.join(way['edit'])}")
