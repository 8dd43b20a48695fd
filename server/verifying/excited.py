"""How coils are wound against one another, by an exciter: recordings of a table, words, JSON."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from dsp.checking.exciter import ExciterRig, find_exciter_points
from dsp.checking.exciter_bands import find_pulses
from dsp.checking.exciter_reading import read_exciter
from dsp.checking.points import Point, setting_text
from dsp.errors import InputError, Problem
from dsp.parts.load import Load
from dsp.verifying.laid_text import LaidRow, check_coil, read_laid
from dsp.verifying.windings import (
    PLACE_SD_DB,
    POLE_SD_DB,
    Windings,
    check_reach,
    expect_windings,
    find_together,
    find_windings,
)
from dsp.wiring.model import Wiring
from server.files.yaml_text import read_text
from server.measurements.coil import read_transfer
from server.measurements.rig import EXCITER_CAUTIONS
from server.verifying.sensitivity import (
    IN,
    OUT,
    SIMULATED,
    balance_lines,
    coil_lines,
    coil_record,
    string_number,
)

METHOD = "exciter over each coil, magnets taken as alike"
EXCITER_STEPS = (
    "By an exciter (`presolder rig --exciter` tells how): lay it over each coil in turn, the same side down",
    "and at the same height, and record at a setting below. For the balance of the strings lay it over each",
    "pole in turn. Name the recordings in a table, coil,string,setting,recording; give that by --exciter.",
)
DB_BETWEEN = PLACE_SD_DB * 2.0**0.5
"""Between two coils, one standard deviation."""
AS_FILED, TURNED = "as the file says", "turned"
SIGNS = {"+": 1, "-": -1, "−": -1}


def exciter_rig_of(load: Load) -> ExciterRig:
    """Return what is at the jack, from a wiring's load."""
    return ExciterRig(load.amplifier_ohm, load.capacitance_f)


def plan_laying(wiring: Wiring) -> list[Point]:
    """Return for each coil the setting at which it is loudest at the jack."""
    return [one for one in find_exciter_points(wiring) if one.kind == "blade"]


def read_blade(wiring: Wiring, text: str) -> tuple[str, int]:
    """Read the sign of a blade's pulse, such as ``neck=+``.

    Raises
    ------
    InputError
        For a coil that the wiring lacks, or no sign.
    """
    coil, _, sign = (part.strip() for part in text.partition("="))
    check_coil(wiring, coil, "--blade")
    if sign not in SIGNS:
        raise InputError("--blade", text, f"{coil}=+ or {coil}=-")
    return coil, SIGNS[sign]


def load_windings(
    wiring: Wiring, table: Path, *, reference: str | None = None, sides_kept: bool = True
) -> tuple[tuple[LaidRow, ...], Windings]:
    """Read the recordings of a table, and find how the coils are wound.

    Parameters
    ----------
    wiring : Wiring
        Its load is the input and the cable of the recordings.
    table : Path
        Recordings lie beside it.
    reference, sides_kept
        As of `find_windings`.

    Raises
    ------
    InputError
        As `read_laid`, `check_reach`, `read_exciter` and `find_windings`; for a table of one coil
        without poles.
    """
    rows = read_laid(wiring, read_text(table), str(table))
    rig = exciter_rig_of(wiring.load)
    laid = [one.laid for one in rows]
    if len({one.coil for one in laid}) < 2 and len({one.string for one in laid}) < 2:
        raise InputError(
            str(table), f"{laid[0].coil} alone", "two coils, or two poles of one: they are compared"
        )
    check_reach(wiring, laid, [one.where for one in rows], rig)
    names = [f"{one.where}: {one.recording}" for one in rows]
    read, problems = [], list[Problem]()
    for name, one in zip(names, rows, strict=True):
        try:
            recorded = read_transfer(table.parent / one.recording, shorted=True)
            read.append([transfer for _, transfer in read_exciter(recorded)])
        except InputError as error:
            problems += [Problem(f"{name}: {p.where}", p.got, p.allowed, p.hint) for p in error.problems]
    if problems:
        raise InputError.of(problems)
    expected = expect_windings(wiring, laid, rig)
    return rows, find_windings(expected, np.array(read), names, reference=reference, sides_kept=sides_kept)


def windings_record(
    wiring: Wiring,
    rows: Sequence[LaidRow],
    found: Windings,
    pulses: Mapping[str, int] | None = None,
    *,
    sides_kept: bool = True,
) -> dict[str, Any]:
    """Return what was found as JSON has it; null where it is not told.

    Keys are those of `sensitivity_record`, with ``method`` and, of each coil, ``ratio_db`` and
    ``winding``.

    Parameters
    ----------
    pulses : mapping of str to int
        By coil, 1 or -1: the sign of a blade's pulse at the setting of `plan_laying`.
    """
    by_string = _turned_strings(wiring, pulses or {}, found.reference)
    coils = []
    for one in found.coils:
        name = one.found.coil
        if name == found.reference and one.agrees and not one.strings:
            continue
        turned = None if name == found.reference else one.turned
        magnet = None if turned is None or name not in by_string else turned != by_string[name]
        record = coil_record(wiring, one.strings, one.found)
        record["ratio_db"] = round(one.ratio_db, 2) if one.found.level.told else None
        record["winding"] = _way(turned)
        record["magnet"] = _way(magnet)
        coils.append(record)
    return {
        "method": METHOD,
        "cautions": list(EXCITER_CAUTIONS),
        "reference": found.reference,
        "misfit": round(found.misfit, 3),
        "fits": all(one.agrees for one in found.coils),
        "coils": coils,
        "polarities": list(_polarities(wiring, found, by_string)),
        "recordings": [
            {
                "file": one.recording,
                "coil": one.laid.coil,
                "setting": setting_text(wiring, one.laid.setting),
                "string": None if one.laid.string is None else string_number(wiring, one.laid.string),
            }
            for one in rows
        ],
        "notes": list(_notes(found, len(by_string) > 1, sides_kept)),
    }


def _way(turned: bool | None) -> str | None:
    return None if turned is None else TURNED if turned else AS_FILED


def _turned_strings(wiring: Wiring, pulses: Mapping[str, int], reference: str) -> dict[str, bool]:
    """Of each coil that a blade was pulled from: whether strings are turned against the reference."""
    if reference not in pulses:
        return {}
    points = [one for one in plan_laying(wiring) if one.coil in pulses]
    expected = find_pulses(wiring, points, exciter_rig_of(wiring.load))
    same = {one.coil: pulses[one.coil] * level > 0.0 for one, level in zip(points, expected, strict=True)}
    return {coil: way != same[reference] for coil, way in same.items()}


def _polarities(wiring: Wiring, found: Windings, by_string: Mapping[str, bool]) -> Iterator[dict[str, Any]]:
    rig = exciter_rig_of(wiring.load)
    for one in found.coils:
        name = one.found.coil
        both = None if name == found.reference else find_together(wiring, found.reference, name, rig)
        if both is None:
            continue
        setting, in_phase = both
        heard = None if name not in by_string else (IN if in_phase != by_string[name] else OUT)
        yield {
            "coils": [found.reference, name],
            "setting": setting_text(wiring, setting),
            "wired": IN if in_phase else OUT,
            "heard": heard,
            "probability_as_wired": None,
        }


def _notes(found: Windings, blades: bool, sides_kept: bool) -> Iterator[str]:
    yield (
        "An exciter tells turns and place, not the magnet: a string's level is winding times magnet. So the"
        " sensitivities here are those of coils whose magnets are alike; plucked strings tell the coils' own."
    )
    yield (
        f"Intervals allow for an exciter that lies otherwise over the next coil: {DB_BETWEEN:.0f} dB, and"
        f" {POLE_SD_DB:g} dB from pole to pole (standard deviations), at the same height everywhere."
    )
    for one in found.coils:
        if not one.agrees:
            yield (
                f"Recordings of {one.found.coil} do not agree: a setting may be named wrongly, the exciter"
                " may have moved, or the wiring differs; `presolder fault` looks for that."
            )
    if not sides_kept:
        yield "The side of the exciter was not kept: signs between coils are not told."
    turned = [one.found.coil for one in found.coils if one.turned]
    if turned and len(found.coils) == 2:
        yield (
            f"{found.reference} and {turned[0]}: the leads or the winding of one are the other way round than"
            " the file says; of two coils nobody knows which. Nothing of this is written into a file."
        )
    elif turned:
        yield (
            f"Against {found.reference} the other way round than the file says: {', '.join(turned)}. Leads or"
            f" winding differ, of {found.reference} if all are named. Nothing of this is written into a file."
        )
    if not blades:
        yield (
            f"Without the pulse of a blade at {found.reference} and at another coil, the phase of strings and"
            " the magnets are not told (--blade)."
        )
    yield SIMULATED


def windings_lines(record: Mapping[str, Any]) -> Iterator[str]:
    """Yield the lines of what was found, from its record."""
    yield from ("Heed:", *(f"  {one}" for one in record["cautions"]), "")
    yield f"Under an exciter, against {record['reference']}; misfit {record['misfit']:.2f}."
    for coil in record["coils"]:
        if coil["coil"] == record["reference"] and coil["told"]:
            yield f"  {coil['coil']:<14}the others are held to it"
            yield from balance_lines(coil)
            continue
        yield from coil_lines(coil)
        if not coil["told"]:
            yield from balance_lines(coil)
        else:
            ratio = f"{coil['ratio_db']:+.1f} ±{coil['within_db']:.1f} dB"
            yield f"    for one ampere {ratio} to {record['reference']}"
        if coil["winding"]:
            yield f"    winding with its leads against {record['reference']}: {coil['winding']}"
        if coil["magnet"]:
            yield f"    magnet against {record['reference']}: {coil['magnet']}"
    for pair in record["polarities"]:
        first, second = pair["coils"]
        said = f"the file says {pair['wired']}"
        words = f"not told; {said}" if pair["heard"] is None else f"{pair['heard']}, {said}"
        yield f"  strings over {first} and {second} at {pair['setting']}: {words}"
    yield ""
    for one in record["recordings"]:
        over = one["coil"] if one["string"] is None else f"{one['coil']}, pole of string {one['string']}"
        yield f"{one['setting']:<16}over {over:<32}{one['file']}"
    yield from (f"note: {note}" for note in record["notes"])


def is_as_filed(record: Mapping[str, Any]) -> bool:
    """Return whether a value was found, and every sign is the file's."""
    coils = record["coils"]
    told = any(one["told"] if one["coil"] != record["reference"] else one["string_balance"] for one in coils)
    turned = any(TURNED in (one["winding"], one["magnet"]) for one in coils)
    otherwise = any(one["heard"] not in (None, one["wired"]) for one in record["polarities"])
    return bool(told) and record["fits"] and not turned and not otherwise
