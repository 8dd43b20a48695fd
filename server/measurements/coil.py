"""Files of readings become a coil; a coil becomes the values of a part."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from dsp.errors import InputError, nearest, some
from dsp.measuring.coil_fit import CoilFit, fit_coil
from dsp.measuring.curve import Curve, calibrate
from dsp.measuring.housing_fit import HousingFit, fit_housing
from dsp.measuring.impedance_text import read_columns, read_touchstone, turned
from dsp.measuring.meters import BridgeReading, Peak, coil_of_bridge, coil_of_peaks
from dsp.measuring.transfer import Transfer, measure_transfer
from dsp.parts.coil import Coil
from dsp.units import show
from server.files.audio_in import probe, read
from server.files.yaml_text import read_text
from server.wirings.own_coils import OwnCoil
from server.wirings.text import WiringText, written

TABLES = (".csv", ".txt", ".tsv")
TOUCHSTONE = (".s1p", ".z1p", ".y1p")
ROOM_C = (-20.0, 60.0)
MOST_SECONDS = 120.0
"""Of a recording: enough for any tone, and its spectra fit in memory."""


@dataclass(frozen=True)
class Calibration:
    """The recordings of a rig without coil."""

    opened: Path
    shorted: Path
    known: Path
    known_ohm: float


def read_curve(
    path: Path, calibration: Calibration | None, *, turn: bool = False
) -> tuple[Curve, tuple[str, ...]]:
    """Read an impedance curve from a recording or a table.

    What its file leaves in doubt comes beside it.

    Raises
    ------
    InputError
        For a file that cannot be read or used, or a recording without the rig's other recordings.
    """
    suffix = path.suffix.lower()
    if suffix in TABLES + TOUCHSTONE:
        found = (read_touchstone if suffix in TOUCHSTONE else read_columns)(read_text(path), str(path))
        return (turned(found.curve) if turn else found.curve), found.notes
    if calibration is None:
        raise InputError(
            str(path),
            "a recording without the rig's own",
            "--open, --short and --known RECORDING=OHMS beside it",
            "without them cable and inputs count as the coil's: its capacitance reads double",
        )
    others = (
        read_transfer(calibration.opened),
        read_transfer(calibration.shorted, shorted=True),
        read_transfer(calibration.known),
    )
    return calibrate(read_transfer(path), *others, calibration.known_ohm), ()


def read_transfer(path: Path, *, shorted: bool = False) -> Transfer:
    """Measure a two-channel recording.

    Raises
    ------
    InputError
        As `measure_transfer`, for a recording too long, or a file that is no recording.
    """
    recording = probe(path)
    if recording.seconds > MOST_SECONDS:
        raise InputError(str(path), f"{recording.seconds:.0f} s", f"at most {MOST_SECONDS:.0f} s")
    return measure_transfer(
        read(path, rate_hz=recording.rate_hz), recording.rate_hz, str(path), shorted=shorted
    )


def fit_files(
    paths: Sequence[Path],
    calibration: Calibration | None,
    *,
    dc_ohm: float | None,
    celsius: float,
    turn: bool = False,
) -> tuple[CoilFit, tuple[str, ...]]:
    """Fit a coil to one reading at ``celsius`` °C.

    Raises
    ------
    InputError
        As `read_curve` and `fit_coil`.
    """
    (path,) = paths
    curve, notes = read_curve(path, calibration, turn=turn)
    known = {} if calibration is None else {"known_ohm": calibration.known_ohm}
    return fit_coil(curve, str(path), dc_ohm=dc_ohm, celsius=celsius, **known), notes


def fit_housing_files(
    paths: Sequence[Path],
    calibration: Calibration | None,
    *,
    dc_ohm: tuple[float, float] | None,
    celsius: float,
    turn: bool = False,
) -> tuple[HousingFit, tuple[str, ...]]:
    """Fit two coils and their coupling to three readings.

    The first coil, the second, and both in series, at ``celsius`` °C. What a file leaves in doubt comes
    beside it, with the file's name.

    Raises
    ------
    InputError
        As `read_curve`.
    """
    read = [read_curve(path, calibration, turn=turn) for path in paths]
    first, second, series = (curve for curve, _ in read)
    notes = tuple(f"{path.name}: {note}" for path, (_, own) in zip(paths, read, strict=True) for note in own)
    known = {} if calibration is None else {"known_ohm": calibration.known_ohm}
    return fit_housing((first, second, series), dc_ohm=dc_ohm, celsius=celsius, **known), notes


@dataclass(frozen=True)
class ReadCoil:
    """A coil that was read, by whatever way.

    Attributes
    ----------
    record : mapping of str to Any
        Values in plain units, intervals, order and notes; its form is fixed.
    method : str
        In words.
    fit : CoilFit or None
        With curve and model, where a curve was read.
    """

    coil: Coil
    record: Mapping[str, Any]
    method: str
    fit: CoilFit | None = None


BY_CURVE, BY_RIG = "impedance at the leads", "impedance at the leads, open-short-known"
BY_BRIDGE, BY_PEAKS = "a bridge's readings", "loaded peaks"


def read_fit(fit: CoilFit, notes: Sequence[str], *, at_rig: bool) -> ReadCoil:
    """Return the coil of a fitted curve.

    Parameters
    ----------
    notes : sequence of str
        What the curve's file leaves in doubt.
    at_rig : bool
        Whether the curve was calibrated here.
    """
    record = {
        **coil_record(fit.coil),
        "intervals": {name: list(ends) for name, ends in fit.intervals.items()},
        "order": fit.order,
        "chi2": fit.chi2,
        "response_error_db": fit.response_error_db,
        "notes": [*notes, *fit.notes],
    }
    return ReadCoil(fit.coil, record, BY_RIG if at_rig else BY_CURVE, fit)


def read_bridge(rows: Sequence[BridgeReading], dc_ohm: float, where: str) -> ReadCoil:
    """Return the coil of a bridge's readings; see `coil_of_bridge`."""
    note = "What the readings leave open follows usual coils: bring a curve where it matters."
    return _by_meters(coil_of_bridge(rows, dc_ohm, where), BY_BRIDGE, note)


def read_peaks(peaks: Sequence[Peak], dc_ohm: float, where: str) -> ReadCoil:
    """Return the coil of loaded peaks; see `coil_of_peaks`."""
    note = "Peaks leave the capacitance uncertain by a quarter: bring a curve where it matters."
    return _by_meters(coil_of_peaks(peaks, dc_ohm, where), BY_PEAKS, note)


def _by_meters(coil: Coil, method: str, note: str) -> ReadCoil:
    record = {**coil_record(coil), "intervals": {}, "order": len(coil.eddy), "notes": [note]}
    return ReadCoil(coil, record, method)


def parse_celsius(text: str, where: str) -> float:
    """Read a temperature in °C, such as ``22C``.

    Raises
    ------
    InputError
        If it is none, or none of a room.
    """
    number = text.strip().removesuffix("C").removesuffix("°").strip().replace(",", ".")
    try:
        celsius = float(number)
    except ValueError:
        celsius = float("nan")
    low, high = ROOM_C
    if not low <= celsius <= high:
        raise InputError(where, f"'{text[:40]}'", f"{low:g} to {high:g} °C, such as 22C")
    return celsius


def coil_record(coil: Coil) -> dict[str, Any]:
    """Values of a coil as the command prints them; the form is fixed."""
    return {
        "resistance_ohm": coil.resistance_ohm,
        "inductance_h": coil.inductance_h,
        "capacitance_f": coil.capacitance_f,
        "eddy": [{"share": section.share, "corner_hz": section.corner_hz} for section in coil.eddy],
    }


def part_values(coil: Coil) -> dict[str, object]:
    """Fields of a coil's part as a wiring file has them, to four digits."""
    return {
        "resistance": show(coil.resistance_ohm, "resistance", 4),
        "inductance": show(coil.inductance_h, "inductance", 4),
        "capacitance": show(coil.capacitance_f, "capacitance", 4),
        "eddy": [
            {"share": f"{100 * one.share:.3g} %", "corner": show(one.corner_hz, "frequency", 3)}
            for one in coil.eddy
        ],
    }


def own_coil(name: str, read: ReadCoil, day: date) -> OwnCoil:
    """Return a coil that was read, as the own library keeps it."""
    points = None
    if read.fit is not None:
        curve = read.fit.curve
        points = {
            "frequencies_hz": curve.frequencies_hz.tolist(),
            "real": curve.ohm.real.tolist(),
            "imag": curve.ohm.imag.tolist(),
        }
    return OwnCoil(name, day.isoformat(), read.method, part_values(read.coil), read.record, points)


def write_coils(
    file: Path, coils: Mapping[str, Coil], method: str, day: date, coefficient: float | None = None
) -> None:
    """Write values that were read into the coils of a wiring, comments kept.

    Each coil gets a comment with the day and the method. A ``coefficient`` becomes the coupling of two
    coils. What was read holds the loss of a cover, so a cover that the file states besides is taken out.

    Raises
    ------
    InputError
        If the file cannot be read or written, has no such coil, or is no wiring with these values.
    """
    text = WiringText.of(file)
    wiring = text.wiring()
    for name, coil in coils.items():
        part = wiring.parts.get(name)
        if not isinstance(part, Coil):
            known = [one for one, other in wiring.parts.items() if isinstance(other, Coil)]
            raise InputError(str(file), name, f"a coil: {some(known)}", nearest(name, known))
        for field, value in part_values(coil).items():
            text.set(["parts", name, field], written(value))
        if part.covered:
            text.change([(("parts", name, "cover"), None)])
        text.comment(["parts", name], f"read {day.isoformat()}: {method}")
    if coefficient is not None:
        first, second = coils
        pairs = [{pair.first, pair.second} for pair in wiring.couplings]
        if {first, second} in pairs:
            place = str(pairs.index({first, second}))
            text.set(["couplings", place, "coefficient"], f"{coefficient:.4f}")
        else:
            entry = f"{{coils: [{first}, {second}], coefficient: {coefficient:.4f}}}"
            text.set(["couplings", str(len(pairs))], entry)
    text.save(file)
