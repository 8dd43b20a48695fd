"""`presolder expect`: what the finished guitar reads at its jack."""

from __future__ import annotations

import json
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING

import click

from server.commands import common

if TYPE_CHECKING:
    from dsp.checking.bands import Band
    from dsp.wiring.model import Wiring

EPILOG = """\b
Examples:
  presolder expect baritone.yaml                         readings to tick off
  presolder expect baritone.yaml --form readings.csv     and a table to fill in
  presolder expect baritone.yaml --exciter               and under an exciter, coil by coil
  presolder expect baritone.yaml --json

`presolder rig` tells how |Z| is read. At a guitar the rig's clips go to the plug at the end of the cable:
calibrate there. `presolder jack` judges the filled table.
"""


@click.command(epilog=EPILOG)
@click.argument("file", type=common.EXISTING)
@click.option("--form", type=common.EXISTING, metavar="OUT", help="Write an empty table of readings.")
@click.option("--exciter", is_flag=True, help="Add what an exciter and a blade read, and what they tell.")
@common.exciter_options
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def command(
    file: Path, form: Path | None, exciter: bool, input_ohm: str, cable: str, sides: str, as_json: bool
) -> None:
    """Tell what a finished guitar reads at its jack, and within which bands.

    97.5 % of sound instruments keep all of their bands in ohms, and 97.5 % those under an exciter: about
    95 % keep both.
    """
    from dsp.checking.bands import HELD
    from dsp.checking.diagnosis import told_by_exciter
    from dsp.checking.directions import find_directions
    from dsp.checking.points import find_settings
    from server.measurements.excited import plan_excited
    from server.measurements.finished import band_record, plan_bands, spread_lines, write_form
    from server.measurements.rig import CAUTIONS, EXCITER_CAUTIONS
    from server.searches.fault_book import open_book

    wiring = common.load(file)
    rig = common.parse_exciter(input_ohm, cable)
    plan = None
    if exciter:
        with common.show_progress("the faults of this wiring, once") as progress:
            told = told_by_exciter(open_book(wiring, (), progress, rig), sides_kept=sides == "kept")
        plan = plan_excited(wiring, [one.text for one in told], rig)
    with common.report_errors():
        if form is not None:
            write_form(form, wiring, find_settings(wiring), plan.rows(wiring) if plan else ())
    bands = plan_bands(wiring)
    cautions = list(dict.fromkeys((*CAUTIONS, *(EXCITER_CAUTIONS if exciter else ()))))
    directions = find_directions(wiring)
    if as_json:
        record = {
            "cautions": cautions,
            "held": HELD,
            "spreads": [
                {"part": one.part, "field": one.field, "spread": one.spread_text()} for one in directions
            ],
            "readings": [band_record(wiring, band) for band in bands],
            **({} if plan is None else {"exciter": plan.record(wiring)}),
        }
        click.echo(json.dumps(record, indent=1, ensure_ascii=False))
        return
    click.echo("\n".join(["Heed:", *(f"  {one}" for one in cautions), ""]))
    click.echo("\n".join(_lines(wiring, bands)))
    if plan is not None:
        click.echo("\n".join(["", *plan.lines(wiring, sides_kept=sides == "kept")]))
    click.echo("\n".join(["", "The bands follow from:", *(f"  {one}" for one in spread_lines(wiring))]))
    if form is not None:
        click.echo(f"\n{form}")


def _lines(wiring: Wiring, bands: tuple[Band, ...]) -> list[str]:
    from dsp.checking.points import ohm_text, setting_text

    found = ["At the jack, tip to sleeve, nothing else plugged in. Knobs not named are at 10."]
    for setting, rows in groupby(bands, key=lambda band: setting_text(wiring, band.point.setting)):
        label = wiring.labels.get(setting, "")
        found += ["", f"{setting}   {label}".rstrip()]
        for band in rows:
            ends = ohm_text(band.low_ohm), ohm_text(band.high_ohm)
            span = f"   {ends[0]} to {ends[1]}" if ends[0] != ends[1] else ""
            found.append(f"  [ ] {band.point.what():<15} {ohm_text(band.typical_ohm):>12}{span}")
    return found
