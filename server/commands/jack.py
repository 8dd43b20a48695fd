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

The table has the head setting,what,value. A setting is a position, then knobs that are not at 10 and
switches that are not at their first: 2 tone=5. What is read: meter; a frequency such as 900 Hz for |Z|;
recording, its value a file of the rig or of a curve. Rows without a value are left out.
`presolder expect --form` writes the table to fill in.
"""


@click.command(epilog=EPILOG)
@click.argument("file", type=common.EXISTING)
@click.argument("readings", type=common.EXISTING)
@common.rig_options
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def command(
    file: Path, readings: Path, opened: Path | None, shorted: Path | None, known: str | None, as_json: bool
) -> None:
    """Pass or fail each reading of a finished guitar.

    The exit status is 1 when one fails.
    """
    from dsp.checking.bands import find_bands
    from dsp.checking.points import ohm_text
    from dsp.checking.readings_text import HEARD
    from server.measurements.finished import band_record, load_readings, notes_of, or_open, place_text
    from server.measurements.rig import CAUTIONS

    wiring = common.load(file)
    calibration = read_calibration(opened, shorted, known)
    with common.report_errors():
        found = load_readings(wiring, readings, calibration)
        rows = [one for one in found if one.what != HEARD]
        if not rows:
            raise InputError(str(readings), "nothing but what is heard", "a reading of the meter or the rig")
    bands = find_bands(wiring, [one.point for one in rows])
    sides = [band.judge(one.ohm) for one, band in zip(rows, bands, strict=True)]
    passed = [side == "within" for side in sides]
    if as_json:
        record = {
            "cautions": list(CAUTIONS),
            "passed": all(passed),
            "readings": [
                {
                    **band_record(wiring, band),
                    "ohm": or_open(one.ohm),
                    "passed": good,
                    "notes": list(one.notes),
                }
                for one, band, good in zip(rows, bands, passed, strict=True)
            ],
        }
        click.echo(json.dumps(record, indent=1, ensure_ascii=False))
    else:
        click.echo("\n".join(["Heed:", *(f"  {one}" for one in CAUTIONS), ""]))
        for one, band, side in zip(rows, bands, sides, strict=True):
            span = f"{ohm_text(band.low_ohm)} to {ohm_text(band.high_ohm)}"
            verdict, told = ("pass", "") if side == "within" else ("FAIL", f", {side}")
            click.echo(f"{verdict}  {place_text(wiring, one):<28} {ohm_text(one.ohm):>12}   {span}{told}")
        failed = passed.count(False)
        click.echo("\n".join(["", *(f"note: {note}" for note in notes_of(rows))]))
        if failed:
            click.echo(
                f"{failed} of {len(rows)} readings outside of their bands; `presolder fault` names the cause"
            )
        else:
            click.echo(f"all {len(rows)} readings are those of a sound instrument")
    if not all(passed):
        raise SystemExit(1)
