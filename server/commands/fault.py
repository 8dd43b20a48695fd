"""`presolder fault`: what may be wrong in a guitar that does not read as it should."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import click

from server.commands import common
from server.commands.coil import read_calibration

EPILOG = """\b
Examples:
  presolder fault baritone.yaml odd.csv
  presolder fault baritone.yaml odd.csv --next       the reading to take next, alone
  presolder fault baritone.yaml --next               the first one
  presolder fault baritone.yaml excited.csv          levels under an exciter among the readings

The table is that of `presolder jack`. What is heard is a reading too: 2,heard,thin. The words: silent, weak,
thin, dull, hums, fine; of a knob turned down: 2 tone=0,heard,does nothing (or works reversed).
The exciter and the blade tell leads exchanged and magnets turned round: `presolder rig --exciter`.
One fault at a time: two together may look like a third. The first call for a wiring computes its faults once.
"""
MOST_SHOWN = 12
"""Faults of one class that are printed, and classes."""


@click.command(epilog=EPILOG)
@click.argument("file", type=common.EXISTING)
@click.argument("readings", type=common.EXISTING, required=False)
@click.option("--next", "next_alone", is_flag=True, help="Print the reading to take next, alone.")
@click.option("--exciter", is_flag=True, help="An exciter and a blade are at hand: they may be next.")
@common.exciter_options
@common.rig_options
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def command(
    file: Path,
    readings: Path | None,
    next_alone: bool,
    opened: Path | None,
    shorted: Path | None,
    known: str | None,
    exciter: bool,
    input_ohm: str,
    cable: str,
    sides: str,
    as_json: bool,
) -> None:
    """Rank the single faults that explain readings; name the next to take.

    Joints that the readings cannot tell apart are one line.
    """
    from server.measurements.finished import load_readings, notes_of
    from server.measurements.rig import CAUTIONS, EXCITER_CAUTIONS
    from server.searches.fault_book import (
        diagnose_readings,
        diagnosis_record,
        is_exciter_used,
        open_book,
    )

    wiring = common.load(file)
    rig = common.parse_exciter(input_ohm, cable)
    calibration = read_calibration(opened, shorted, known)
    if readings is None and not next_alone:
        raise click.UsageError("no readings; allowed: a table of readings, or --next for the first to take")
    with common.report_errors():
        rows = () if readings is None else load_readings(wiring, readings, calibration)
    with common.show_progress("the faults of this wiring, once") as progress:
        book = open_book(wiring, rows, progress, rig)
    exciter = exciter or is_exciter_used(rows)
    used = {"exciter": exciter, "sides_kept": sides == "kept"}
    found = diagnose_readings(book, rows, **used)
    record = diagnosis_record(wiring, book, found, **used)
    if next_alone:
        record = {key: record[key] for key in ("next", "clear")}
    cautions = list(dict.fromkeys((*CAUTIONS, *(EXCITER_CAUTIONS if exciter else ()))))
    record = {"cautions": cautions, **record, "notes": notes_of(rows)}
    if as_json:
        click.echo(json.dumps(record, indent=1, ensure_ascii=False))
        return
    click.echo("\n".join(["Heed:", *(f"  {one}" for one in cautions), ""]))
    for note in record["notes"]:
        click.echo(f"note: {note}")
    if not next_alone:
        click.echo("\n".join(_ranking(record)))
    click.echo(_next_words(record["next"], clear=record["clear"]))


def _ranking(record: dict[str, Any]) -> list[str]:
    lines = [f"Beware: {record['unexplained']}. Nearest come:", ""] if record["unexplained"] else []
    for one in record["classes"][:MOST_SHOWN]:
        percent = f"{100 * one['probability']:3.0f} %  "
        others = [fault for fault in one["faults"] if fault["kind"] != "sound"]
        if one["sound"]:
            lines.append(percent + "no fault that these readings show")
            if others:
                lines.append(f"       {len(others)} faults would read the same here")
            continue
        shown = [f"{fault['text']}   [{', '.join(fault['terminals'])}]" for fault in others]
        if len(shown) == 1:
            lines.append(percent + shown[0])
            continue
        lines.append(f"{percent}one of these {len(shown)}:")
        lines += [f"       {text}" for text in shown[:MOST_SHOWN]]
        if len(shown) > MOST_SHOWN:
            lines.append(f"       and {len(shown) - MOST_SHOWN} more: --json has all")
    if record["unseen"]:
        lines += [
            "",
            f"{len(record['unseen'])} faults would change no reading here: --json names them",
        ]
    return [*lines, ""]


def _next_words(upcoming: dict[str, Any] | None, *, clear: bool) -> str:
    if upcoming is None:
        return "It is clear enough." if clear else "No further reading tells more."
    coils = " then ".join(upcoming["coils"])
    return {
        "meter": f"Read next: the meter at {upcoming['setting']}",
        "recording": f"Read next: |Z| by the rig at {upcoming['setting']}",
        "exciter": f"Read next: the exciter over {coils}, at every setting of the selector and switches",
        "blade": f"Read next: the blade pulled away from {coils}, each at a setting in which it sounds",
    }[upcoming["what"]]
