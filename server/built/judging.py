"""Readings of a finished guitar judged against the bands of its wiring."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Any

import numpy as np

from dsp.checking.bands import Band
from dsp.checking.exciter_bands import HELD_TO, NOT_JUDGED
from dsp.checking.points import OPEN_OHM, ohm_text, setting_text
from dsp.checking.readings_text import METER, Reading, read_row
from dsp.errors import InputError
from dsp.measuring.curve import Curve, calibrate
from dsp.units import parse, show
from dsp.wiring.model import Wiring
from server.built.excited import is_excited
from server.built.store import JackReadings
from server.measurements.finished import impedances_of, meaning_text, or_open, readings_table, verdict_text
from server.measurements.recordings import transfer_of
from server.measurements.store import CALIBRATION, Kept

NAMES = {"open": "the open plug", "short": "the shorted plug", "known": "the known resistor"}
"""What problems call the rig's recordings."""
SIDES = ("within", "too low", "too high", "turned")
"""Sides of a band; a reading that has none is of no use for the verdict."""
UNSURE = (HELD_TO, NOT_JUDGED)
"""Sides of what an exciter read that count for no verdict, though the fault finder weighs them."""
PROBLEM, UNPLANNED = "problem", "unplanned"
ALONE = "nothing judged yet: read another setting of this coil, or another coil"


@dataclass(frozen=True)
class Row:
    """One reading as it was typed, or as a recording gave it.

    Attributes
    ----------
    setting, what, value : str
        As a table of readings has them.
    source : str
        Name of the recording; empty for the meter.
    """

    setting: str
    what: str
    value: str
    source: str = ""


def what_text(frequency_hz: float) -> str:
    """Return what is read, as a table of readings names it; 0 is the meter."""
    return show(frequency_hz, "frequency", 3) if frequency_hz else METER


def plan_record(wiring: Wiring, bands: Sequence[Band]) -> list[dict[str, Any]]:
    """Return what to read, setting by setting, with bands in words."""
    return [
        {**setting_record(wiring, setting), "points": [_point_record(band) for band in of]}
        for setting, of in groupby(bands, key=lambda band: setting_text(wiring, band.point.setting))
    ]


def setting_record(wiring: Wiring, setting: str) -> dict[str, Any]:
    """Return a setting in its pieces, for sentences about it."""
    position, *controls = setting.split(" ")
    named = [one.partition("=") for one in controls]
    return {
        "setting": setting,
        "position": position,
        "label": wiring.labels.get(position, ""),
        "controls": [{"name": name, "value": value} for name, _, value in named],
    }


def _point_record(band: Band) -> dict[str, str]:
    return {
        "what": what_text(band.point.frequency_hz),
        "title": band.point.what(),
        "expected": ohm_text(band.typical_ohm),
        "band": band_text(band),
    }


def band_text(band: Band) -> str:
    """Return the ends of a band in words."""
    low, high = ohm_text(band.low_ohm), ohm_text(band.high_ohm)
    return low if low == high else f"{low} to {high}"


def rows_of(readings: JackReadings) -> tuple[tuple[Row, ...], str]:
    """Return all that was read, and why some recordings say nothing yet."""
    meter = [Row(setting, METER, value) for setting, value in readings.fields.get("meter", {}).items()]
    again = readings.fields.get("impedance", {})
    found = [
        Row(setting, what, value, one["name"])
        for setting, one in again.items()
        if setting not in readings.recordings
        for what, value in one["values"].items()
    ]
    waiting = ""
    for setting, kept in readings.recordings.items():
        try:
            found += _recorded(setting, kept, readings)
        except InputError as error:
            waiting = " ".join(str(one) for one in error.problems)
    return (*meter, *found), waiting


def curve_json(curve: Curve) -> dict[str, list[float]]:
    """Return a curve as JSON keeps it."""
    return {
        "frequencies_hz": curve.frequencies_hz.tolist(),
        "real": curve.ohm.real.tolist(),
        "imag": curve.ohm.imag.tolist(),
    }


def judge_rows(
    wiring: Wiring,
    bands: Sequence[Band],
    rows: Sequence[Row],
    excited: Sequence[dict[str, Any]] = (),
) -> dict[str, Any]:
    """Return each reading with its side of the band, and the verdict on all.

    Parameters
    ----------
    excited : sequence of dict
        Readings of an exciter or a blade that were judged, by `judge_excited_rows`.

    Notes
    -----
    A reading that cannot be understood carries its problem. One that the plan does not hold is kept as
    it is, and counts for nothing.
    """
    by_place = {_place_of(wiring, band): band for band in bands}
    filled = [row for row in rows if row.value.strip()]
    judged = [_judged(wiring, by_place.get((row.setting, row.what)), row) for row in filled]
    judged += excited
    counted = [one for one in judged if one["side"] in SIDES]
    further = sum(is_excited(one["what"]) for one in counted)
    read, outside = len(counted), sum(one["side"] != SIDES[0] for one in counted)
    meter_alone = all(one["what"] == METER for one in counted)
    impedance = any(not is_excited(one["what"]) and one["what"] != METER for one in counted)
    expected = further + sum(impedance or not band.point.frequency_hz for band in bands)
    given = [one for one in judged if one["side"] in (*SIDES, *UNSURE)]
    text = ALONE if given and not read else verdict_text(outside, read, expected, meter_alone=meter_alone)
    return {
        "readings": judged,
        "verdict": {"text": text, "read": read, "planned": expected, "outside": outside},
        "text": readings_table((one["setting"], one["what"], one["value"]) for one in given),
    }


def _place_of(wiring: Wiring, band: Band) -> tuple[str, str]:
    """Return what tells a reading from all others in a table of readings."""
    return setting_text(wiring, band.point.setting), what_text(band.point.frequency_hz)


def _judged(wiring: Wiring, band: Band | None, row: Row) -> dict[str, Any]:
    said = {"setting": row.setting, "what": row.what, "value": row.value, "source": row.source}
    if band is None:
        return {**said, "expected": "", "band": "", "side": UNPLANNED, "read": "", "ohm": None, "words": ""}
    bounds = {"expected": ohm_text(band.typical_ohm), "band": band_text(band)}
    try:
        reading = read_row(wiring, (row.setting, row.what, row.value.strip()), "reading", comma=True)
        assert reading is not None  # it has a value
    except InputError as error:
        words = "; ".join(f"allowed: {one.allowed}" for one in error.problems)
        return {**said, **bounds, "side": PROBLEM, "read": "", "ohm": None, "words": words}
    return {**said, **bounds, **_side(band, reading)}


def _side(band: Band, reading: Reading) -> dict[str, Any]:
    ohm = reading.ohm
    words = meaning_text(band, ohm)
    return {"side": band.judge(ohm), "read": ohm_text(ohm), "ohm": or_open(ohm), "words": words}


def _recorded(setting: str, kept: Kept, readings: JackReadings) -> list[Row]:
    """Return |Z| of a recording or a table."""
    where = f"{kept.name} at {setting}"
    curve = _calibrated(kept, readings, where) if "signal" in kept.content else _curve_of(kept.content)
    return [
        Row(setting, what_text(hz), "open" if ohm > 0.9 * OPEN_OHM else show(ohm, "resistance", 5), kept.name)
        for hz, ohm in impedances_of(curve, where)
    ]


def _curve_of(kept: Mapping[str, Any]) -> Curve:
    ohm = np.array(kept["real"]) + 1j * np.array(kept["imag"])
    return Curve(np.array(kept["frequencies_hz"]), ohm, np.zeros(len(ohm)))


def _calibrated(kept: Kept, readings: JackReadings, where: str) -> Curve:
    """Return the impedance of a recording by those of the rig."""
    missing = [NAMES[step] for step in CALIBRATION if step not in readings.rig]
    if missing:
        raise InputError(
            "recordings", f"none yet of {', '.join(missing)}", "open, short and known, at the plug"
        )
    text = str(readings.fields.get("known") or "").strip()
    if not text:
        raise InputError(NAMES["known"], "nothing", "its resistance as read, such as 99.87 kΩ")
    known_ohm = parse(text.replace(",", "."), "resistance", NAMES["known"])
    opened, shorted, known = (transfer_of(readings.rig[step].content, NAMES[step]) for step in CALIBRATION)
    return calibrate(transfer_of(kept.content, where), opened, shorted, known, known_ohm)
