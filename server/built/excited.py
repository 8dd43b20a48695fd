"""What an exciter and a blade read at a finished guitar: what to read, judged as it stands in the fields."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Any

import numpy as np

from dsp.checking.exciter import EXCITER, TYPED_HZ, find_exciter_points
from dsp.checking.exciter_bands import (
    HELD_TO,
    NOT_JUDGED,
    DrawnTransfers,
    JudgedTransfer,
    bands_of,
    draw_transfers,
    find_pulses,
    judge_transfers,
)
from dsp.checking.points import Point, setting_text
from dsp.checking.readings_text import BLADE, LEVEL_TYPED, Reading, level_text, read_row
from dsp.errors import InputError
from dsp.units import show
from dsp.wiring.model import Wiring
from server.measurements.excited import NO_LOUD, band_of_ratios, expected_text, pulse_sign, ratio_text

PULSE_WORDS = {
    "turned": "Against the other coils: leads are exchanged, or a magnet is turned round.",
    HELD_TO: "The pulses of other coils are held to this.",
    NOT_JUDGED: "This coil is heard at no setting.",
}
LOUDEST_WORDS = {
    "turned": "Against the other coils: its leads are exchanged, or those of another.",
    HELD_TO: "Another setting of this coil, or another coil, tells whether it is right.",
}
"""What is said of a pulse, and of a coil's loudest setting, by side."""


@dataclass(frozen=True)
class ExcitedSound:
    """What sound instruments of a version read under an exciter and a blade."""

    drawn: DrawnTransfers
    blades: tuple[Point, ...]
    signs: tuple[str, ...]


def find_sound(wiring: Wiring) -> ExcitedSound:
    """Draw sound instruments at every point of an exciter."""
    points = find_exciter_points(wiring)
    blades = tuple(one for one in points if one.kind == "blade")
    pulses = find_pulses(wiring, blades)
    drawn = draw_transfers(wiring, [one for one in points if one.kind == "exciter"])
    return ExcitedSound(drawn, blades, tuple(pulse_sign(one) for one in pulses))


def what_excited(coil: str, frequency_hz: float) -> str:
    """Return what an exciter reads over a coil, as a table names it."""
    return f"{EXCITER} {coil} at {show(frequency_hz, 'frequency', 3)}"


def excited_values(transfers: Sequence[tuple[float, float]], coil: str) -> dict[str, str]:
    """Return what a recording reads, by what a table calls it.

    Parameters
    ----------
    transfers : sequence of (float, float)
        Frequency and transfer, as `read_exciter` returns them.
    """
    return {what_excited(coil, hz): level_text(transfer, hz) for hz, transfer in transfers}


def excited_plan(wiring: Wiring, sound: ExcitedSound) -> list[dict[str, Any]]:
    """Return what to read, coil by coil, with bands in words."""
    bands = bands_of(sound.drawn)
    found = []
    for coil, of in groupby(bands, key=lambda band: band.point.coil):
        rows: dict[str, list[dict[str, str]]] = {}
        for band in of:
            rows.setdefault(setting_text(wiring, band.point.setting), []).append(
                {
                    "what": what_excited(coil, band.point.frequency_hz),
                    "expected": expected_text(band),
                    "band": band_of_ratios(band),
                }
            )
        pulses = [
            {"setting": setting_text(wiring, one.setting), "what": f"{BLADE} {coil}", "expected": sign}
            for one, sign in zip(sound.blades, sound.signs, strict=True)
            if one.coil == coil
        ]
        readings = [{"setting": setting, "points": points} for setting, points in rows.items()]
        found.append(
            {"coil": coil, "typed": what_excited(coil, TYPED_HZ), "settings": readings, "blade": pulses}
        )
    return found


def is_excited(what: str) -> bool:
    """Return whether a reading is one of an exciter or a blade."""
    return what.split(" ")[0] in (EXCITER, BLADE)


def judge_excited_rows(
    wiring: Wiring, sound: ExcitedSound, rows: Sequence[tuple[str, str, str]], *, sides_kept: bool
) -> list[dict[str, Any]]:
    """Return each reading with its side, as `judge_rows` does.

    Parameters
    ----------
    rows : sequence of (str, str, str)
        Setting, what and value as they stand in the fields.
    """
    planned = [*sound.drawn.points, *sound.blades]
    said: list[dict[str, Any]] = []
    read: list[tuple[int, Reading]] = []
    for row in rows:
        one = dict(zip(("setting", "what", "value"), row, strict=True))
        said.append({**one, "source": "", "expected": "", "band": "", "read": "", "ohm": None, "words": ""})
        try:
            reading = read_row(wiring, row, "reading", comma=True)
        except InputError as error:
            allowed = "; ".join(f"allowed: {problem.allowed}" for problem in error.problems)
            said[-1] |= {"side": "problem", "words": allowed}
            continue
        if reading is None or reading.point not in planned:
            said[-1] |= {"side": "unplanned"}
            continue
        if reading.text:
            said[-1] |= {"side": "problem", "words": f"allowed: {LEVEL_TYPED}"}
            continue
        read.append((len(said) - 1, reading))
    points = [one.point for _, one in read]
    transfers = np.array([one.transfer for _, one in read])
    judged = judge_transfers(wiring, points, transfers, sides_kept=sides_kept, sound=sound.drawn)
    for (i, _), each in zip(read, judged, strict=True):
        said[i] |= dict(_words_of(wiring, sound, each))
    return said


def _words_of(wiring: Wiring, sound: ExcitedSound, one: JudgedTransfer) -> Iterator[tuple[str, str]]:
    """Yield what is said of a judged reading."""
    yield "side", one.side
    if one.band is None:
        yield "expected", sound.signs[sound.blades.index(one.point)]
        yield "words", PULSE_WORDS.get(one.side, "")
        return
    yield "expected", expected_text(one.band)
    yield "band", band_of_ratios(one.band)
    if one.side == NOT_JUDGED:
        yield "words", f"{NO_LOUD.capitalize()}."
    elif one.band.is_reference:
        yield "read", "the others are held to this" * (one.side != HELD_TO)
        yield "words", LOUDEST_WORDS.get(one.side, "")
    else:
        yield "read", f"{ratio_text(one.ratio)} against {setting_text(wiring, one.band.reference.setting)}"
        yield "words", "The other way round than at its loudest." * (one.side == "turned")


def values_of(excited: Mapping[str, Mapping[str, str]]) -> list[tuple[str, str, str]]:
    """Return fields as rows of setting, what and value.

    They are kept by what, then by setting.
    """
    return [(setting, what, value) for what, of in excited.items() for setting, value in of.items() if value]
