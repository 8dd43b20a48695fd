"""Require what a wiring must state before a string can be moved to the places of its coils."""

from __future__ import annotations

from collections.abc import Sequence

from dsp.errors import InputError, Problem
from dsp.parts.instrument import Instrument
from dsp.takes.model import Take
from dsp.tracking.source import SourceWiring
from dsp.wiring.model import Wiring


def require_places(wiring: Wiring, take: Take, source: SourceWiring | None) -> Instrument:
    """Return the instrument of a wiring that states everything places need.

    Raises
    ------
    InputError
        If the wiring has no scale or strings, or a coil of it or of the source has no place.
    """
    need = f"for {take.file}, whose pitch is tracked"
    problems = [
        Problem(
            f"{one.file}:{one.lines.get(name, 1)}: {name}",
            "no place (at)",
            f"at: the distance of its centre from the bridge, {need}",
        )
        for one in (wiring, *([source.wiring] if source else []))
        for name, coil in one.coils.items()
        if coil.at_m is None and not coil.dummy
    ]
    if wiring.instrument is None or not wiring.instrument.strings:
        got = "no instrument" if wiring.instrument is None else "an instrument without strings"
        allowed = f"instrument: {{scale: …, strings: [{{note: …, gauge: …}}, …]}}, {need}"
        problems.append(Problem(f"{wiring.file}:1: instrument", got, allowed))
    if problems:
        raise InputError.of(problems)
    assert wiring.instrument is not None
    return wiring.instrument


def string_indices(instrument: Instrument, numbers: Sequence[int], where: str) -> list[int]:
    """Convert string numbers, 1 the highest, to indices, 0 the lowest.

    Parameters
    ----------
    where : str
        Place of the numbers, for errors.

    Raises
    ------
    InputError
        For a string that the instrument does not have.

    Examples
    --------
    >>> from dsp.parts.instrument import GuitarString, Instrument
    >>> three = Instrument(0.648, tuple(GuitarString(hz, 0.3e-3) for hz in (196.0, 246.9, 329.6)))
    >>> string_indices(three, [1, 3], "take.yaml:5")
    [2, 0]
    """
    count = len(instrument.strings)
    for number in numbers:
        if not 1 <= number <= count:
            raise InputError(where, f"string {number}", f"1 (the highest) to {count} on this instrument")
    return [count - number for number in numbers]
