"""`presolder spread`: how far instruments built alike sound apart."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from server.commands import common

if TYPE_CHECKING:
    from dsp.checking.spread import Spread
    from dsp.wiring.model import Wiring

EPILOG = """\b
Examples:
  presolder spread baritone.yaml --built 10
  presolder spread baritone.yaml --built 10 --cable "20 %"     with the players' cables
  presolder spread baritone.yaml --built 10 --out ends         and write the farthest two as wirings

Parts of one order; a tolerance that the file states stands in for the usual one. Render both ends with
`presolder render` to hear them side by side.
"""
ONE_CABLE = (
    "All with one cable; players' cables differ by about ±20 %, more than all parts together: --cable '20 %'"
)


@click.command(epilog=EPILOG)
@click.argument("file", type=common.EXISTING)
@click.option("--built", type=click.IntRange(2, 1000), default=10, show_default=True, help="Instruments.")
@click.option("--cable", default="0 %", show_default=True, metavar="SHARE", help="Spread of the cable.")
@click.option("--out", type=common.EXISTING, metavar="DIR", help="Write the farthest two there.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def command(file: Path, built: int, cable: str, out: Path | None, as_json: bool) -> None:
    """Build a wiring many times by tolerance and tell what differs.

    Bands of resonance, height, level, hum and timbre; which part makes it, and what selecting it brings.
    """
    from dsp.checking.points import find_settings
    from dsp.checking.spread import find_spread
    from dsp.units import parse
    from server.files.whole import make_folder
    from server.searches.ends import write_ends

    wiring = common.load(file)
    with common.report_wrong_usage():
        share = parse(cable, "share", "--cable")
    if not 0.0 <= share <= 1.0:
        raise click.UsageError(f"--cable: got '{cable}'; allowed: 0 to 100 %")
    if not wiring.coils:
        raise click.UsageError(f"{file}: no coil; allowed: a wiring that sounds")
    found = find_spread(wiring, find_settings(wiring), built, cable=share)
    written: list[Path] = []
    if out is not None:
        with common.report_errors():
            make_folder(out)
            written = write_ends(out, file, wiring, found)
    record = {**_record(wiring, found), "notes": [] if share else [ONE_CABLE]}
    if as_json:
        click.echo(
            json.dumps({**record, "ends": [str(one) for one in written]}, indent=1, ensure_ascii=False)
        )
        return
    click.echo("\n".join([*_lines(record), *map(str, written)]))


def _record(wiring: Wiring, found: Spread) -> dict[str, Any]:
    from dsp.checking.points import setting_text

    def known(value: float) -> float | None:
        return value if math.isfinite(value) else None

    return {
        "built": found.built,
        "settings": [
            {
                "setting": setting_text(wiring, one.setting),
                "resonance_hz": known(one.resonance_hz),
                "semitones": known(one.semitones),
                "height_db": known(one.height_db),
                "level_db": one.level_db,
                "hum_db": one.hum_db,
                "timbre_db": one.timbre_db,
                "farthest_db": one.farthest_db,
            }
            for one in found.settings
        ],
        "shares": [{"part": one.part, "share": one.share, "selected_gain": one.gain} for one in found.shares],
    }


def _lines(record: dict[str, Any]) -> list[str]:
    from dsp.sound.audible import BAND_DB, word_of
    from dsp.units import show

    lines = [
        f"{record['built']} instruments. Half widths, hum left and distance from the middle that hold 95 %:",
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
    widest = max(one["farthest_db"] for one in record["settings"])
    word = word_of(widest, BAND_DB)
    lines += ["", f"The farthest two differ by {widest:.2f} dB of timbre where they differ most: {word}."]
    return lines + [f"note: {note}" for note in record["notes"]]
