"""The finished guitar's readings: a table of them, and recordings at the rig."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from dsp.checking.bands import Band, find_bands
from dsp.checking.directions import CABLE, find_directions
from dsp.checking.exciter import EXCITER
from dsp.checking.exciter_reading import read_exciter
from dsp.checking.points import FLOOR_OHM, FREQUENCIES_HZ, OPEN_OHM, find_points, find_settings, setting_text
from dsp.checking.readings_text import HEAD, METER, RECORDING, Reading, read_readings
from dsp.errors import InputError
from dsp.measuring.curve import Curve
from dsp.parts.kinds import kind_of
from dsp.parts.spreads import BY_FIELD
from dsp.units import show
from dsp.wiring.model import Setting, Wiring
from server.files.existing import path_kind
from server.files.whole import write_text
from server.files.yaml_text import read_text
from server.measurements.coil import Calibration, read_curve, read_transfer


def load_readings(wiring: Wiring, path: Path, calibration: Calibration | None) -> tuple[Reading, ...]:
    """Read a table of readings; a recording becomes |Z| or levels of it.

    Raises
    ------
    InputError
        As `read_readings`, `read_curve` and `read_exciter`; for a recording that reaches none of
        `FREQUENCIES_HZ`.
    """
    found: list[Reading] = []
    for reading in read_readings(wiring, read_text(path), str(path)):
        if reading.what == RECORDING:
            found += _recorded(reading, path, calibration)
        elif reading.what == EXCITER and reading.text:
            found += _excited(reading, path)
        else:
            found.append(reading)
    return tuple(found)


def _recorded(reading: Reading, table: Path, calibration: Calibration | None) -> Iterator[Reading]:
    """Yield what a recording beside the table reads."""
    path = table.parent / reading.text
    curve, notes = read_curve(path, calibration)
    for hz, ohm in impedances_of(curve, f"{reading.where}: {path}"):
        yield Reading(reading.where, reading.setting, "z", hz, ohm, reading.text, notes)


def _excited(reading: Reading, table: Path) -> Iterator[Reading]:
    """Yield what a recording under an exciter reads; its jack may be silent."""
    path = table.parent / reading.text
    for hz, transfer in read_exciter(read_transfer(path, shorted=True)):
        yield replace(reading, frequency_hz=hz, transfer=transfer)


def impedances_of(curve: Curve, where: str) -> tuple[tuple[float, float], ...]:
    """Return frequency and |Z| in ohms where a curve reaches `FREQUENCIES_HZ`.

    Parameters
    ----------
    where : str
        What errors call the curve.

    Raises
    ------
    InputError
        If it reaches none of them.
    """
    hz = curve.frequencies_hz
    if not any(hz[0] <= one <= hz[-1] for one in FREQUENCIES_HZ):
        reach = f"{show(hz[0], 'frequency', 3)} to {show(hz[-1], 'frequency', 3)}"
        allowed = ", ".join(show(one, "frequency", 3) for one in FREQUENCIES_HZ)
        raise InputError(where, reach, f"one at least of {allowed} within")
    levels = np.interp(np.log(FREQUENCIES_HZ), np.log(hz), np.log(np.abs(curve.ohm)))
    return tuple(
        (one, min(float(np.exp(level)), OPEN_OHM))
        for one, level in zip(FREQUENCIES_HZ, levels, strict=True)
        if hz[0] <= one <= hz[-1]
    )


def plan_bands(wiring: Wiring) -> tuple[Band, ...]:
    """Return what to read at the finished guitar, each with its band."""
    return find_bands(wiring, find_points(find_settings(wiring)))


def meaning_text(band: Band, ohm: float) -> str:
    """Return what an open or shorted reading, ``ohm``, says; else nothing."""
    if ohm > 0.9 * OPEN_OHM:
        if band.holds(ohm):
            return "As it should be here: nothing reaches the jack."
        return "Nothing conducts from tip to sleeve. Look for an open joint, contact or coil."
    if ohm < FLOOR_OHM / 2 and not band.point.frequency_hz:
        if band.holds(ohm):
            return "As it should be here: this setting joins tip and sleeve."
        return "Tip and sleeve are joined. Look for a wire, a strand or solder that touches."
    return ""


def verdict_text(outside: int, read: int, planned: int, *, meter_alone: bool = False) -> str:
    """Return what all readings of an instrument say together.

    Parameters
    ----------
    outside, read, planned : int
        Readings beyond their bands, all readings, and those that the plan holds.
    meter_alone : bool
        Whether nothing but the meter was read.
    """
    if not read:
        return "nothing read yet"
    told = ["within what the parts allow" if not outside else f"{_counted(outside)} outside"]
    told += [f"{read} of {planned} read"] * (read < planned)
    return ", ".join([*told, *["by the meter alone"] * meter_alone])


COUNTS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")


def _counted(count: int) -> str:
    word = COUNTS[count] if count < len(COUNTS) else str(count)
    return f"{word} {'reading' if count == 1 else 'readings'}"


def readings_table(rows: Iterable[tuple[str, str, str]]) -> str:
    """Return rows as the text that `read_readings` reads.

    Its columns are apart by semicolons, so that a comma may stand for the decimal point.

    Parameters
    ----------
    rows : iterable of tuple of str
        Setting, what and value.
    """
    lines = (";".join(one.replace(";", " ") for one in row) for row in (HEAD, *rows))
    return "\n".join(lines) + "\n"


def write_form(
    path: Path, wiring: Wiring, settings: Sequence[Setting], more: Sequence[tuple[str, str]] = ()
) -> None:
    """Write an empty table of readings.

    The meter's rows come first, then a recording for each setting.

    Parameters
    ----------
    more : sequence of tuple of str
        Setting and what of further rows.

    Raises
    ------
    InputError
        If the file exists or cannot be written.
    """
    if path_kind(path) != "nothing":
        raise InputError(str(path), "a file that exists", "a new file: readings in it would be lost")
    texts = [setting_text(wiring, setting) for setting in settings]
    rows = [",".join(HEAD), *(f"{one},{METER}," for one in texts), *(f"{one},{RECORDING}," for one in texts)]
    rows += [f"{setting},{what}," for setting, what in more]
    write_text(path, "\n".join(rows) + "\n")


def band_record(wiring: Wiring, band: Band) -> dict[str, Any]:
    """Return a band as the commands print it; null is open."""
    setting = band.point.setting
    return {
        "setting": setting_text(wiring, setting),
        "position": setting.position,
        "knobs": dict(setting.knobs),
        "switches": dict(setting.switches),
        "what": "z" if band.point.frequency_hz else METER,
        "frequency_hz": band.point.frequency_hz or None,
        "typical_ohm": or_open(band.typical_ohm),
        "low_ohm": or_open(band.low_ohm),
        "high_ohm": or_open(band.high_ohm),
    }


def or_open(ohm: float) -> float | None:
    """Return a reading, ``ohm``, as JSON has it: None is open."""
    return None if ohm > 0.9 * OPEN_OHM else ohm


def place_text(wiring: Wiring, reading: Reading) -> str:
    """Return what was read where, in words."""
    return f"{setting_text(wiring, reading.setting)}, {reading.point.what()}"


def notes_of(readings: Sequence[Reading]) -> list[str]:
    """Return what recordings leave in doubt, each with its row, once."""
    return list(dict.fromkeys(f"{one.where}: {one.text}: {note}" for one in readings for note in one.notes))


def spread_lines(wiring: Wiring) -> list[str]:
    """Return the spreads that bands follow from, and how each is known."""
    rows: dict[tuple[str, str, str], list[str]] = {}
    for one in find_directions(wiring):
        part = wiring.parts.get(one.part)
        kind = kind_of(part).name if part else "coupling" if one.number >= 0 else one.part
        stated = one.field in wiring.tolerances.get(one.part, {})
        source = "the file" if stated else BY_FIELD[kind, one.field].source
        what = one.field if one.part != CABLE else "cable"
        rows.setdefault((f"{what} {one.spread_text()}", kind, source), []).append(one.part)
    return [
        f"{text} of {'the room' if kind == 'room' else ', '.join(parts)}: {source}"
        for (text, kind, source), parts in rows.items()
    ]
