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
    diagnose,
    would_be_harmless,
    would_change_nothing,
)
from dsp.checking.exciter import (
    EXCITER,
    ExciterRig,
    bring_to_level,
    find_exciter_points,
    signed_level,
)
from dsp.checking.options import NextReading
from dsp.checking.points import find_points, find_settings, level_of, setting_text
from dsp.checking.readings_text import BLADE, HEARD, Reading
from dsp.checking.symptoms import ear_settings
from dsp.wiring.model import Drawn, Joint, Wiring
from server.files.cache import digest, kept, sources_digest

ROOMS = ("dsp/checking", "dsp/circuit", "dsp/wiring", "dsp/parts", "dsp/sheet")
"""Whose text a book depends on."""
UNEXPLAINED = "no single fault explains these readings: check calibration and typing, or there are two faults"


def open_book(
    wiring: Wiring,
    readings: Sequence[Reading] = (),
    progress: Callable[[float], None] | None = None,
    rig: ExciterRig | None = None,
) -> Book:
    """Return the book of a wiring's faults for the usual readings and these.

    It is computed once, in seconds, and then found by its content.

    Parameters
    ----------
    rig : ExciterRig, optional
        At the jack while an exciter plays; the usual one unless given.
    """
    rig = rig or ExciterRig()
    points = [*find_points(find_settings(wiring)), *find_exciter_points(wiring)]
    points += [one.point for one in readings if one.what != HEARD and one.point not in points]
    heard = [one.setting for one in readings if one.what == HEARD]
    name = digest(sources_digest(ROOMS), _heard_of(wiring), tuple(points), ear_settings(wiring, heard), rig)

    def keep(make: Callable[[], NDArray[np.float64]]) -> NDArray[np.float64]:
        return np.asarray(kept("faults", name, lambda: make().astype(np.float32)), float)

    return make_book(wiring, points, keep, progress, heard, rig)


def _heard_of(wiring: Wiring) -> tuple[object, ...]:
    """Return what a wiring's readings depend on: no name, no line, no drawing."""
    joints = tuple(Joint(joint.terminals) for joint in wiring.joints)
    bare = replace(wiring, name="", file="", labels={}, lines={}, assumed={}, drawn=Drawn(), joints=joints)
    tables = {name: getattr(part, "contacts", None) for name, part in wiring.parts.items()}
    return bare, tables


def diagnose_readings(
    book: Book,
    readings: Sequence[Reading],
    *,
    sweeps: bool = True,
    exciter: bool = False,
    sides_kept: bool = True,
) -> Diagnosis:
    """Weigh the faults of a book by readings.

    Of two readings of one point the later counts.

    Parameters
    ----------
    sweeps, exciter : bool
        Whether the next reading may be one by the rig, and one by an exciter or a blade; the latter too
        once there is one. Else it is the meter's.
    sides_kept : bool
        Whether the exciter lay on every coil with the same side down.
    """
    last: list[Reading] = []
    for one in (one for one in readings if one.what != HEARD):
        same = [i for i, other in enumerate(last) if other.point == one.point]
        if same:
            last[same[0]] = one
        else:
            last.append(one)
    levels = level_of(np.array([one.ohm for one in last]))
    told = [i for i, one in enumerate(last) if one.what == EXCITER]
    if told:
        transfers = np.array([last[i].transfer for i in told])
        brought = bring_to_level(book.faults[0].wiring, [last[i].point for i in told], transfers, book.rig)
        levels[told] = signed_level(brought)
    for i, one in enumerate(last):
        if one.what == BLADE:
            levels[i] = one.transfer
    heard = [(one.text, one.setting) for one in readings if one.what == HEARD]
    return diagnose(
        book,
        [one.point for one in last],
        levels,
        heard,
        sweeps=sweeps,
        exciter=exciter or is_exciter_used(readings),
        sides_kept=sides_kept,
    )


def is_exciter_used(readings: Sequence[Reading]) -> bool:
    """Return whether an exciter or a blade is at hand: it was read with."""
    return any(one.what in (EXCITER, BLADE) for one in readings)


def diagnosis_record(
    wiring: Wiring, book: Book, found: Diagnosis, *, exciter: bool = False, sides_kept: bool = True
) -> dict[str, Any]:
    """Return a diagnosis as the command prints it.

    Parameters
    ----------
    exciter : bool
        Whether faults count as seen that an exciter or a blade alone shows.
    sides_kept : bool
        Whether those do that signs between coils alone show.
    """
    told = {"exciter": exciter, "sides_kept": sides_kept}
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
        "unseen": [fault.text for fault in would_change_nothing(book, **told)],
        "harmless": [fault.text for fault in would_be_harmless(book, **told)],
    }


def next_record(wiring: Wiring, upcoming: NextReading | None) -> dict[str, Any] | None:
    """Return the next reading as the command prints it."""
    if upcoming is None:
        return None
    return {
        "setting": setting_text(wiring, upcoming.setting),
        "what": upcoming.kind,
        "coils": list(upcoming.coils),
        "gain_nats": upcoming.gain,
    }
