"""The values next to a value: preferred numbers, even steps, thousandths of an inch, semitones."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping

from dsp.documents.field import Field
from dsp.errors import InputError
from dsp.parts.instrument import pitch_hz
from dsp.units import parse, show
from dsp.units.preferred import step

SERIES: Mapping[str, str] = {"capacitance": "E12", "resistance": "E24", "inductance": "E24"}
"""Per dimension, the preferred values (IEC 60063) that stepping goes through."""
EVEN_STEPS: Mapping[str, float] = {"length": 1e-3, "share": 0.01, "level": 0.5}
"""Per dimension without preferred values, the step: 1 mm, 1 %, half a decibel."""
NOTES = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")
INCH_M, MILLIMETRE_M = 0.0254, 1e-3
Steps = dict[str, str | None]
WAYS: Mapping[str, int] = {"down": -1, "up": 1}


def steps_of(field: Field, value: str) -> Steps | None:
    """The values next below and above, as they would be written.

    Parameters
    ----------
    field : Field
    value : str
        As written.

    Returns
    -------
    dict or None
        Keys ``down`` and ``up``, each None where the field's bounds end; None where there is
        nothing to step through.
    """
    own = OWN.get(field.name)
    if own is not None and value:
        try:
            return {word: own(field, value, way) for word, way in WAYS.items()}
        except InputError:
            return None
    if field.form != "quantity" or field.dimension not in {*SERIES, *EVEN_STEPS} or not value:
        return None
    try:
        now = parse(value, field.dimension)
        return {word: _stepped(field, now, way) for word, way in WAYS.items()}
    except InputError:  # nought has no neighbour in a series
        return None


def _stepped(field: Field, now: float, way: int) -> str | None:
    if field.dimension in SERIES:
        to = step(now, SERIES[field.dimension], way)
    else:
        size = EVEN_STEPS[field.dimension]
        to = (math.floor(now / size + 1e-6) + 1 if way > 0 else math.ceil(now / size - 1e-6) - 1) * size
    return show(to, field.dimension, 6) if field.lowest <= to <= field.highest else None


def _note(field: Field, value: str, way: int) -> str | None:
    """The note a semitone away, between C0 and B8."""
    number = round(12.0 * math.log2(pitch_hz(value) / pitch_hz("A4"))) + 57 + way
    return f"{NOTES[number % 12]}{number // 12}" if 0 <= number < 12 * 9 else None


def _gauge(field: Field, value: str, way: int) -> str | None:
    """A thousandth of an inch on, as strings are sold; a hundredth of a millimetre for who writes those."""
    now, metric = parse(value, field.dimension), value.rstrip().endswith("mm")
    size = MILLIMETRE_M / 100.0 if metric else INCH_M / 1000.0
    to = (round(now / size) + way) * size
    if not field.lowest <= to <= field.highest:
        return None
    return f"{to / MILLIMETRE_M:.2f} mm" if metric else f"{to / INCH_M:.3f} in"


def _coefficient(field: Field, value: str, way: int) -> str | None:
    to = round(parse(value, field.dimension) + 0.01 * way, 2)
    return f"{to:g}" if field.lowest < to < field.highest else None


OWN: Mapping[str, Callable[[Field, str, int], str | None]] = {
    "note": _note, "gauge": _gauge, "coefficient": _coefficient,
}  # fmt: skip
"""Fields whose steps are no series and not even ones of their dimension, by name."""
