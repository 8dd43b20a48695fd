"""`presolder spread`: how far instruments built alike sound apart."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import click

from server.commands import common

EPILOG = """\b
Examples:
  presolder spread baritone.yaml --built 10
  presolder spread baritone.yaml --built 10 --cable "20 %"     with the players' cables
  presolder spread baritone.yaml --built 10 --out ends         and write the farthest two as wirings
  presolder spread baritone.yaml --must "level at most 4 dB below the loudest"

A limit is one of: resonance of POSITION between A and B; level at most X dB below the loudest; timbre at
most X dB from nominal. Level and timbre may name a position: timbre of 2 at most 0.5 dB from nominal. 200
instruments are drawn and computed exactly, their knobs at 10. The interval in brackets holds the true share
95 times in a hundred.

Parts of one order; a tolerance that the file states stands in for the usual one. Render both ends with
`presolder render` to hear them side by side.
"""


@click.command(epilog=EPILOG)
@click.argument("file", type=common.EXISTING)
@click.option("--built", type=click.IntRange(2, 1000), default=10, show_default=True, help="Instruments.")
@click.option("--cable", default="0 %", show_default=True, metavar="SHARE", help="Spread of the cable.")
@click.option("--out", type=common.EXISTING, metavar="DIR", help="Write the farthest two there.")
@click.option(
    "--must", multiple=True, metavar="LIMIT", help="Count those that keep a limit in words; repeat it."
)
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def command(
    file: Path, built: int, cable: str, out: Path | None, must: tuple[str, ...], as_json: bool
) -> None:
    """Build a wiring many times by tolerance and tell what differs.

    Bands of resonance, height, level, hum and timbre; which part makes it, and what selecting it brings.
    """
    from dsp.checking.points import find_settings
    from dsp.checking.spread import find_spread
    from dsp.checking.yields import find_yield
    from dsp.units import parse
    from server.files.whole import make_folder
    from server.searches.spread import ONE_CABLE, read_limits, spread_record, yield_record
    from server.wirings.ends import write_ends

    wiring = common.load(file)
    with common.report_wrong_usage():
        share = parse(cable, "share", "--cable")
    if not 0.0 <= share <= 1.0:
        raise click.UsageError(f"--cable: got '{cable}'; allowed: 0 to 100 %")
    if not wiring.coils:
        raise click.UsageError(f"{file}: no coil; allowed: a wiring that sounds")
    with common.report_errors():
        limits = read_limits(wiring, must)
        kept = find_yield(wiring, limits, cable=share) if limits else None
    found = find_spread(wiring, find_settings(wiring), built, cable=share)
    written: list[Path] = []
    if out is not None:
        with common.report_errors():
            make_folder(out)
            written = write_ends(out, file, wiring, found)
    record = {**spread_record(wiring, found), "notes": [] if share else [ONE_CABLE]}
    if kept is not None:
        record["yield"] = yield_record(kept)
    if as_json:
        click.echo(
            json.dumps({**record, "ends": [str(one) for one in written]}, indent=1, ensure_ascii=False)
        )
        return
    click.echo("\n".join([*_lines(record), *map(str, written)]))


def _lines(record: dict[str, Any]) -> list[str]:
    from dsp.units import show

    lines = [
        f"{record['built']} instruments are built; the farthest two are of them. Half widths, hum left and",
        f"distance from the middle hold 95 % of {record['drawn']} drawn (tolerance: 2 standard deviations).",
        "",
        f"{'setting':<16}{'resonance':>11}{'semitones':>11}{'height':>9}{'level':>9}{'hum':>9}"
        f"{'timbre':>9}{'farthest two':>14}",
    ]
    for one in record["settings"]:
        peak = one["resonance_hz"]
        cells = [
            f"{'-' if peak is None else show(peak, 'frequency', 3):>11}",
            f"{'-' if peak is None else format(one['semitones'], '.2f'):>11}",
            f"{'-' if peak is None else format(one['height_db'], '.2f') + ' dB':>9}",
            f"{one['level_db']:>6.2f} dB",
            f"{one['hum_db']:>6.1f} dB",
            f"{one['timbre_db']:>6.2f} dB",
            f"{one['farthest_db']:>11.2f} dB",
        ]
        lines.append(f"{one['setting']:<16}" + "".join(cells))
    lines += ["", "What differs most:"]
    for one in record["shares"]:
        if one["share"] >= 0.01:
            gain = f"selected to a third of its spread: {100 * one['selected_gain']:.0f} % less apart"
            lines.append(f"  {100 * one['share']:3.0f} %  {one['part']:<24} {gain}")
    lines += ["", record["honest"]]
    if "yield" in record:
        lines += ["", *_yield_lines(record["yield"])]
    return lines + [f"note: {note}" for note in record["notes"]]


def _yield_lines(kept: dict[str, Any]) -> list[str]:
    def share(one: dict[str, Any]) -> str:
        return f"{100 * one['share']:3.0f} % ({100 * one['low']:.0f} to {100 * one['high']:.0f} %)"

    lines = [f"Of {kept['drawn']} drawn, their knobs at 10, keep (in brackets the draw's 95 % interval):"]
    for one in kept["limits"]:
        costs = (
            f"; without it {100 * one['cost']:.0f} percentage points more keep the rest"
            if one["cost"]
            else ""
        )
        lines.append(f"  {share(one)}  {one['limit']}{costs}")
    lines.append(f"  {share(kept['together'])}  all of them")
    return [
        *lines,
        *([f"Costs most: {kept['dearest']}"] if kept["dearest"] and len(kept["limits"]) > 1 else []),
    ]
