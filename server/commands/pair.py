"""`presolder pair`: tell how one knob changes what another does."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from dsp.errors import nearest
from server.commands import common

if TYPE_CHECKING:
    from dsp.wiring.model import Setting, Wiring

LONGEST_DB = 60.0
EPILOG = """\b
Examples:
  presolder pair twelve.yaml --position 3
  presolder pair baritone.yaml --first volume --second tone --within 6

Each line is a value of the first knob: how wide the second travels there, how evenly, how much softer the
sound is, and by how much the second does something else than with the first at 10 (0 dB: the same).
Without --first and --second the knobs are a volume and a tone.
"""


@click.command(epilog=EPILOG)
@click.argument("file", type=common.EXISTING)
@common.position_option
@common.set_option
@click.option("--first", default="", metavar="KNOB", help="The knob that is turned back, such as a volume.")
@click.option("--second", default="", metavar="KNOB", help="The knob whose travel is told, such as a tone.")
@click.option(
    "--within",
    "within_db",
    type=float,
    metavar="DB",
    help="How much softer the first knob may make the sound; 12 unless given.",
)
@click.option("--json", "as_json", is_flag=True, help="Print JSON, with level and timbre distance over both.")
def command(
    file: Path,
    position: str,
    controls: tuple[str, ...],
    first: str,
    second: str,
    within_db: float | None,
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
        found = [_record(wiring, setting, (first, second), within_db) for setting in settings]
    if as_json:
        click.echo(json.dumps({"pairs": found}, indent=1, ensure_ascii=False))
        return
    for one in found:
        _print(one)


def _record(
    wiring: Wiring, setting: Setting, wanted: tuple[str, str], within_db: float | None
) -> dict[str, Any]:
    from dsp.knobs.pair import WITHIN_DB, choose_knobs, compute_pair
    from dsp.knobs.pair_words import pair_record

    pair = compute_pair(wiring, setting, choose_knobs(wiring, setting, wanted))
    within = WITHIN_DB if within_db is None else within_db
    return {"position": setting.position, **pair_record(pair, within)}


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
