"""The finished guitar's readings: a table of them, and recordings at the rig."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from dsp.checking.bands import Band
from dsp.checking.points import FREQUENCIES_HZ, OPEN_OHM, setting_text
from dsp.checking.readings_text import HEAD, METER, RECORDING, Reading, read_readings
from dsp.errors import InputError
from dsp.units import show
from dsp.wiring.model import Setting, Wiring
from server.files.existing import path_kind
from server.files.whole import write_text
from server.files.yaml_text import read_text
from server.measurements.coil import Calibration, read_curve


def load_readings(wiring: Wiring, path: Path, calibration: Calibration | None) -> tuple[Reading, ...]:
    """Read a table of readings; a recording becomes |Z| of it.

    Raises
    ------
    InputError
        As `read_readings` and `read_curve`; for a recording that reaches none of `FREQUENCIES_HZ`.
    """
    found: list[Reading] = []
    for reading in read_readings(wiring, read_text(path), str(path)):
        found += _recorded(reading, path, calibration) if reading.what == RECORDING else [reading]
    return tuple(found)


def _recorded(reading: Reading, table: Path, calibration: Calibration | None) -> Iterator[Reading]:
    """Yield what a recording beside the table reads."""
    path = table.parent / reading.text
    curve, notes = read_curve(path, calibration)
    hz = curve.frequencies_hz
    if not any(hz[0] <= one <= hz[-1] for one in FREQUENCIES_HZ):
        reach = f"{show(hz[0], 'frequency', 3)} to {show(hz[-1], 'frequency', 3)}"
        allowed = ", ".join(show(one, "frequency", 3) for one in FREQUENCIES_HZ)
        raise InputError(f"{reading.where}: {path}", reach, f"one at least of {allowed} within")
    levels = np.interp(np.log(FREQUENCIES_HZ), np.log(hz), np.log(np.abs(curve.ohm)))
    for one, level in zip(FREQUENCIES_HZ, levels, strict=True):
        if hz[0] <= one <= hz[-1]:
            ohm = min(float(np.exp(level)), OPEN_OHM)
            yield Reading(reading.where, reading.setting, "z", one, ohm, reading.text, notes)


def write_form(path: Path, wiring: Wiring, settings: Sequence[Setting]) -> None:
    """Write an empty table of readings.

    The meter's rows come first, then a recording for each setting.

    Raises
    ------
    InputError
        If the file exists or cannot be written.
    """
    if path_kind(path) != "nothing":
        raise InputError(str(path), "a file that exists", "a new file: readings in it would be lost")
    texts = [setting_text(wiring, setting) for setting in settings]
    rows = [",".join(HEAD), *(f"{one},{METER}," for one in texts), *(f"{one},{RECORDING}," for one in texts)]
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
    what = "meter" if reading.what == METER else f"|Z| at {show(reading.frequency_hz, 'frequency', 3)}"
    return f"{setting_text(wiring, reading.setting)}, {what}"


def notes_of(readings: Sequence[Reading]) -> list[str]:
    """Return what recordings leave in doubt, each with its row, once."""
    return list(dict.fromkeys(f"{one.where}: {one.text}: {note}" for one in readings for note in one.notes))
