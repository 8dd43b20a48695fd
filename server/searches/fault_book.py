"""The book of a wiring's faults, kept by content."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from dsp.checking.book import Book, make_book
from dsp.checking.diagnosis import (
    Diagnosis,
    NextReading,
    diagnose,
    would_be_harmless,
    would_change_nothing,
)
from dsp.checking.points import Point, find_points, find_settings, level_of, setting_text
from dsp.checking.readings_text import HEARD, METER, RECORDING, Reading
from dsp.checking.symptoms import ear_settings
from dsp.wiring.model import Drawn, Joint, Wiring
from server.files.cache import digest, kept, sources_digest

ROOMS = ("dsp/checking", "dsp/circuit", "dsp/wiring", "dsp/parts", "dsp/sheet")
"""Whose text a book depends on."""
UNEXPLAINED = "no single fault explains these readings: check calibration and typing, or there are two faults"


def open_book(
    wiring: Wiring, readings: Sequence[Reading] = (), progress: Callable[[float], None] | None = None
) -> Book:
    """Return the book of a wiring's faults for the usual readings and these.

    It is computed once, in seconds, and then found by its content.
    """
    points = [*find_points(find_settings(wiring))]
    points += [one.point for one in readings if one.what != HEARD and one.point not in points]
    heard = [one.setting for one in readings if one.what == HEARD]
    name = digest(sources_digest(ROOMS), _heard_of(wiring), tuple(points), ear_settings(wiring, heard))

    def keep(make: Callable[[], NDArray[np.float64]]) -> NDArray[np.float64]:
        return np.asarray(kept("faults", name, lambda: make().astype(np.float32)), float)

    return make_book(wiring, points, keep, progress, heard)


def _heard_of(wiring: Wiring) -> tuple[object, ...]:
    """Return what a wiring's readings depend on: no name, no line, no drawing."""
    joints = tuple(Joint(joint.terminals) for joint in wiring.joints)
    bare = replace(wiring, name="", file="", labels={}, lines={}, assumed={}, drawn=Drawn(), joints=joints)
    tables = {name: getattr(part, "contacts", None) for name, part in wiring.parts.items()}
    return bare, tables


def diagnose_readings(book: Book, readings: Sequence[Reading], *, sweeps: bool = True) -> Diagnosis:
    """Weigh the faults of a book by readings.

    Of two readings of one point the later counts. Without ``sweeps`` the next reading is the meter's.
    """
    points: list[Point] = []
    ohms: list[float] = []
    for one in (one for one in readings if one.what != HEARD):
        if one.point in points:
            ohms[points.index(one.point)] = one.ohm
        else:
            points.append(one.point)
            ohms.append(one.ohm)
    heard = [(one.text, one.setting) for one in readings if one.what == HEARD]
    return diagnose(book, points, level_of(np.array(ohms)), heard, sweeps=sweeps)


def diagnosis_record(wiring: Wiring, book: Book, found: Diagnosis) -> dict[str, Any]:
    """Return a diagnosis as the command prints it."""
    return {
        "classes": [
            {
                "probability": one.probability,
                "sound": one.sound,
                "faults": [
                    {"kind": f.kind, "text": f.text, "terminals": [".".join(t) for t in f.terminals]}
                    for f in one.faults
                ],
            }
            for one in found.classes
            if one.probability >= 0.005
        ],
        "misfit": found.misfit,
        "unexplained": UNEXPLAINED if found.unexplained else None,
        "next": next_record(wiring, found.next_reading),
        "clear": found.clear,
        "unseen": [fault.text for fault in would_change_nothing(book)],
        "harmless": [fault.text for fault in would_be_harmless(book)],
    }


def next_record(wiring: Wiring, upcoming: NextReading | None) -> dict[str, Any] | None:
    """Return the next reading as the command prints it."""
    if upcoming is None:
        return None
    return {
        "setting": setting_text(wiring, upcoming.setting),
        "what": RECORDING if upcoming.sweep else METER,
        "gain_nats": upcoming.gain,
    }
