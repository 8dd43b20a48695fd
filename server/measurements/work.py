"""Fit what was measured at the bench, in a process of its own: half a second of computation."""

from __future__ import annotations

import contextlib
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date
from typing import Any

import numpy as np
from numpy.typing import NDArray

from dsp.errors import InputError
from dsp.measuring.coil_fit import coil_impedance, fit_coil, warmth
from dsp.measuring.curve import Curve, calibrate
from dsp.measuring.housing_fit import fit_housing, housing_impedances
from dsp.measuring.impedance_text import read_columns, read_touchstone, turned
from dsp.measuring.meters import BridgeReading, Peak
from dsp.units import parse
from server.measurements.coil import (
    BY_RIG,
    TOUCHSTONE,
    ReadCoil,
    coil_record,
    own_coil,
    parse_celsius,
    part_values,
    read_bridge,
    read_fit,
    read_peaks,
)  # fmt: skip
from server.measurements.recordings import transfer_of
from server.measurements.store import CALIBRATION, Kept, Measurement
from server.processes.helper import Helper
from server.refusals import Unavailable
from server.wirings.own_coils import OwnCoil

Floats = NDArray[np.float64]
Complex = NDArray[np.complex128]

LONGEST_S = 60.0
WORDS = {
    "open": "the open rig", "short": "the short", "known": "the known resistor", "coil": "the coil",
    "second": "the other coil", "series": "both coils in series",
}  # fmt: skip
"""What problems call each recording."""
PLAIN = ("rig", "table", "bridge", "peaks")
"""Where readings may come from; the first unless something else was chosen."""
SHOWN = 240
"""Points of a curve that a page draws."""
SHOWN_HZ = (20.0, 20_000.0)
"""Frequencies of a model that no curve was fitted to."""


class Fits:
    """Fits measurements, one after another."""

    def __init__(self) -> None:
        self._helper = Helper("the fit", niceness=0)

    def fit(self, measurement: Measurement, day: date) -> dict[str, Any]:
        """Return the fit of a measurement as it is kept and shown.

        Raises
        ------
        InputError
            If something is missing yet, or makes no coil.
        TooSlow, Unavailable
            As `Helper.call`.
        """
        found: dict[str, Any] = self._helper.call(fit_measurement, measurement, day, longest_s=LONGEST_S)
        return found

    def warm(self) -> None:
        """Start the process, so that the first fit does not wait for it."""
        with contextlib.suppress(Unavailable):
            self._helper.call(_ready)

    def close(self) -> None:
        """End the process."""
        self._helper.close()


def _ready() -> None:
    """Do nothing: whoever unpacks this has imported all that a fit needs."""


def fit_measurement(measurement: Measurement, day: date) -> dict[str, Any]:
    """Fit a measurement.

    Raises
    ------
    InputError
        As `Fits.fit`.
    """
    fields = measurement.fields
    source = fields.get("source", PLAIN[0])
    dc_ohm = _quantity(fields, "dc", "resistance", "the meter's reading")
    celsius = parse_celsius(fields.get("celsius") or "20", "temperature")
    if source in ("bridge", "peaks"):
        if dc_ohm is None:
            raise InputError("the meter's reading", "nothing", "the coil's resistance, such as 8.12 kΩ")
        rows = fields.get(source, [])
        read = (_bridge if source == "bridge" else _peaks)(rows, fields, dc_ohm)
        return _result(read, day)
    if source == PLAIN[0] and fields.get("second"):
        return _housing(measurement, dc_ohm, celsius, day)
    notes: tuple[str, ...] = ()
    known_ohm = _quantity(fields, "known", "resistance", "the known resistor")
    known = {}
    if source == "table":
        curve, notes = _table(measurement.table, turn=bool(fields.get("turn")))
        where = "the table"
    else:
        (curve,), where = _calibrated(measurement, ("coil",), known_ohm), WORDS["coil"]
        known = {"known_ohm": known_ohm or 0.0}
    fit = fit_coil(curve, where, dc_ohm=dc_ohm, celsius=celsius, **known)
    return _result(read_fit(fit, notes, at_rig=source == "rig"), day)


def own_of(name: str, result: Mapping[str, Any]) -> list[OwnCoil]:
    """Return the coils of a result as the own library keeps them."""
    told = (result["day"], result["method"])
    coils = [
        OwnCoil(
            name, *told, result["fields"], result["record"], None if "second" in result else result["curve"]
        )
    ]
    if second := result.get("second"):
        coils.append(OwnCoil(f"{name}_2", *told, second["fields"], second["record"]))
    return coils


def _housing(measurement: Measurement, dc_ohm: float | None, celsius: float, day: date) -> dict[str, Any]:
    """Fit both coils of a housing."""
    fields = measurement.fields
    known_ohm = _quantity(fields, "known", "resistance", "the known resistor")
    other_ohm = _quantity(fields, "dc_second", "resistance", "the other coil on the meter")
    if (dc_ohm is None) != (other_ohm is None):
        raise InputError("the meter", "one of two coils", "a reading of both coils, or of none")
    first, second, series = _calibrated(measurement, ("coil", "second", "series"), known_ohm)
    pair = None if dc_ohm is None or other_ohm is None else (dc_ohm, other_ohm)
    fit = fit_housing((first, second, series), dc_ohm=pair, celsius=celsius, known_ohm=known_ohm or 0.0)
    warm = [
        replace(coil, resistance_ohm=coil.resistance_ohm * warmth(celsius))
        for coil in (fit.first, fit.second)
    ]
    hz = series.frequencies_hz
    model = housing_impedances(warm[0], warm[1], fit.coefficient, hz)[2]
    method = f"{BY_RIG}, both coils"
    shared = {"intervals": {}, "order": fit.order, "notes": []}
    return {
        "day": day.isoformat(),
        "method": method,
        "comment": f"read {day.isoformat()}: {method}",
        "fields": part_values(fit.first),
        "record": {**coil_record(fit.first), **shared},
        "curve": _points(hz, series.ohm),
        "model": _points(hz, model),
        "second": {
            "part": fields["second"],
            "fields": part_values(fit.second),
            "record": {**coil_record(fit.second), **shared},
        },
        "coefficient": fit.coefficient,
        "interval": list(fit.interval),
    }


def _points(hz: Floats, ohm: Complex) -> dict[str, list[float]]:
    return {"frequencies_hz": hz.tolist(), "real": ohm.real.tolist(), "imag": ohm.imag.tolist()}


def _result(read: ReadCoil, day: date) -> dict[str, Any]:
    own = own_coil("measured", read, day)
    if read.fit is None:
        hz = np.geomspace(*SHOWN_HZ, SHOWN)
        model = coil_impedance(read.coil, hz)
    else:
        every = max(1, -(-len(read.fit.model_ohm) // SHOWN))
        hz, model = read.fit.curve.frequencies_hz[::every], read.fit.model_ohm[::every]
    return {
        "day": own.day,
        "method": own.method,
        "comment": own.told,
        "fields": part_values(read.coil),
        "record": dict(read.record),
        "curve": own.curve,
        "model": _points(hz, model),
    }


def _calibrated(measurement: Measurement, steps: Sequence[str], known_ohm: float | None) -> tuple[Curve, ...]:
    """Return the impedances of some recordings by those of the rig."""
    brought = {"coil": measurement.recording, "second": measurement.second, "series": measurement.series}
    missing = [WORDS[step] for step in CALIBRATION if step not in measurement.rig]
    missing += [WORDS[step] for step in steps if brought[step] is None]
    if missing:
        allowed = f"open, short, known and {' and '.join(WORDS[step] for step in steps)}"
        raise InputError("recordings", f"none yet of {', '.join(missing)}", allowed)
    if known_ohm is None:
        raise InputError("the known resistor", "nothing", "its resistance as read, such as 99.87 kΩ")
    opened, shorted, known = (transfer_of(measurement.rig[one].content, WORDS[one]) for one in CALIBRATION)
    kept = [(step, brought[step]) for step in steps]
    return tuple(
        calibrate(transfer_of(one.content, WORDS[step]), opened, shorted, known, known_ohm)
        for step, one in kept
        if one is not None
    )


def read_table(name: str, text: str, *, turn: bool) -> tuple[Curve, tuple[str, ...]]:
    """Read a table by the ending of its name: a Touchstone file, or columns.

    Raises
    ------
    InputError
        As the readers.
    """
    ending = name[name.rfind(".") :].lower()
    found = (read_touchstone if ending in TOUCHSTONE else read_columns)(text, name)
    return (turned(found.curve) if turn else found.curve), found.notes


def _table(table: Kept | None, *, turn: bool) -> tuple[Curve, tuple[str, ...]]:
    if table is None:
        raise InputError("the table", "no file yet", "CSV with a head, or a one-port Touchstone file")
    return read_table(table.name, table.content, turn=turn)


def _bridge(rows: Sequence[Mapping[str, str]], fields: Mapping[str, Any], dc_ohm: float) -> ReadCoil:
    found = []
    for row in _filled(rows):
        hz = _needed(row, "at", "frequency", "frequency of the bridge")
        henry = _needed(row, "ls", "inductance", f"Ls at {row['at']}")
        found.append(BridgeReading(hz, henry, _quantity(row, "rs", "resistance", f"Rs at {row['at']}")))
    return read_bridge(found, dc_ohm, "the bridge")


def _peaks(rows: Sequence[Mapping[str, str]], fields: Mapping[str, Any], dc_ohm: float) -> ReadCoil:
    height = str(fields.get("height") or "").removesuffix("dB").strip()
    height_db = parse(height, "number", "height of the first peak") if height else None
    found = []
    for i, row in enumerate(_filled(rows)):
        farad = _needed(row, "across", "capacitance", "capacitor across the coil")
        hz = _needed(row, "at", "frequency", f"peak with {row['across']}")
        found.append(Peak(farad, hz, height_db if i == 0 else None))
    return read_peaks(found, dc_ohm, "the peaks")


def _filled(rows: Sequence[Mapping[str, str]]) -> list[Mapping[str, str]]:
    return [row for row in rows if any(text.strip() for text in row.values())]


def _needed(row: Mapping[str, str], key: str, dimension: str, where: str) -> float:
    found = _quantity(row, key, dimension, where)
    if found is None:
        raise InputError(where, "nothing", "a value, or a row that is empty")
    return found


def _quantity(fields: Mapping[str, Any], key: str, dimension: str, where: str) -> float | None:
    text = str(fields.get(key) or "").strip()
    return parse(text, dimension, where) if text else None
