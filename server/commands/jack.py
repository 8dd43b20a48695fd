"""`presolder jack`: judge what was read at the finished guitar's jack."""

from __future__ import annotations

import json
from pathlib import Path

import click

from dsp.errors import InputError
from server.commands import common
from server.commands.coil import read_calibration

EPILOG = """\b
Examples:
  presolder jack baritone.yaml readings.csv
  presolder jack baritone.yaml recorded.csv --open open.wav --short short.wav --known known.wav=99.87k
  presolder jack baritone.yaml excited.csv

The table has the head setting,what,value. A setting is a position, then knobs that are not at 10 and
switches that are not at their first: 2 tone=5. What is read: meter; a frequency such as 900 Hz for |Z|;
recording, its value a file of the rig or of a curve. Rows without a value are left out.
Under an exciter: exciter neck, its value the file of a recording, or what you read at 900 Hz: the level of
input 2 less that of input 1, and a sign before it, + where it leads, - where it lags: + -40 dB; or silent.
Pulled away from a blade: blade neck, its value + or -. Each sign is compared with the others.
`presolder expect --form` writes the table to fill in.
"""


@click.command(epilog=EPILOG)
@click.argument("file", type=common.EXISTING)
@click.argument("readings", type=common.EXISTING)
@common.exciter_options
@common.rig_options
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def command(
    file: Path,
    readings: Path,
    opened: Path | None,
    shorted: Path | None,
    known: str | None,
    input_ohm: str,
    cable: str,
    sides: str,
    as_json: bool,
) -> None:
    """Pass or fail each reading of a finished guitar.

    The exit status is 1 when one fails, or when nothing that was read can be judged.
    """
    from dsp.checking.bands import find_bands
    from dsp.checking.points import ohm_text
    from dsp.checking.readings_text import HEARD
    from server.measurements.excited import judge_excited, transfer_record, transfer_text
    from server.measurements.finished import band_record, load_readings, notes_of, or_open, place_text
    from server.measurements.rig import CAUTIONS, EXCITER_CAUTIONS

    wiring = common.load(file)
    calibration = read_calibration(opened, shorted, known)
    rig = common.parse_exciter(input_ohm, cable)
    with common.report_errors():
        found = load_readings(wiring, readings, calibration)
        rows = [one for one in found if one.what != HEARD and not one.coil]
        excited = judge_excited(wiring, found, rig, sides_kept=sides == "kept")
        if not rows and not excited:
            raise InputError(str(readings), "nothing but what is heard", "a reading of the meter or the rig")
    bands = find_bands(wiring, [one.point for one in rows]) if rows else ()
    judged = [band.judge(one.ohm) for one, band in zip(rows, bands, strict=True)]
    passed = [side == "within" for side in judged]
    every = [*passed, *(one.side == "within" for one in excited if one.counts)]
    good = bool(every) and all(every)
    cautions = list(dict.fromkeys((*CAUTIONS, *(EXCITER_CAUTIONS if excited else ()))))
    if as_json:
        record = {
            "cautions": cautions,
            "passed": good,
            "readings": [
                {
                    **band_record(wiring, band),
                    "ohm": or_open(one.ohm),
                    "passed": held,
                    "notes": list(one.notes),
                }
                for one, band, held in zip(rows, bands, passed, strict=True)
            ],
            "exciter": [transfer_record(wiring, one) for one in excited],
        }
        click.echo(json.dumps(record, indent=1, ensure_ascii=False))
    else:
        click.echo("\n".join(["Heed:", *(f"  {one}" for one in cautions), ""]))
        for one, band, side in zip(rows, bands, judged, strict=True):
            span = f"{ohm_text(band.low_ohm)} to {ohm_text(band.high_ohm)}"
            verdict, told = ("pass", "") if side == "within" else ("FAIL", f", {side}")
            click.echo(f"{verdict}  {place_text(wiring, one):<28} {ohm_text(one.ohm):>12}   {span}{told}")
        for each in excited:
            click.echo(transfer_text(wiring, each))
        failed = every.count(False)
        click.echo("\n".join(["", *(f"note: {note}" for note in notes_of(rows))]))
        if failed:
            click.echo(
                f"{failed} of {len(every)} readings outside of their bands; `presolder fault` names the cause"
            )
        elif every:
            click.echo(f"all {len(every)} readings are those of a sound instrument")
        else:
            click.echo("nothing can be judged yet: read another setting of this coil, or another coil")
    if not good:
        raise SystemExit(1)
