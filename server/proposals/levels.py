"""The gain with which the customer's page plays the clips of a take."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from dsp.sound.live_level import TARGET_LUFS, monitor_gain_db
from dsp.sound.peak import CEILING_DBTP

APART_LU = 0.2
"""Files of one take that are closer count as equally loud: nobody hears it, and gates cost as much."""


@dataclass(frozen=True)
class TakeLevel:
    """How loud the page plays the clips of a take.

    Attributes
    ----------
    gain_db : float
        With it the loudest clip plays at the common loudness; 0 if all are silent.
    room_db : float
        The most by which every clip may be turned up without a guard of its peaks.
    """

    gain_db: float
    room_db: float


@dataclass(frozen=True)
class SetLevel:
    """How the clips of a take are levelled, none above its file's level.

    Attributes
    ----------
    wired_db : float
        Gain to the true differences of the loudest clip, as it is stored: above 0 where a sound that
        came later is louder than all before.
    softest_lufs : float or None
        Loudness that every file has at least; None where all have the same.
    """

    wired_db: float
    softest_lufs: float | None

    def gains(self, clip: sqlite3.Row) -> dict[str, float]:
        """Return the gains of a clip: to true differences, to equal loudness."""
        if clip["loudness_lufs"] is None:
            return {"wired_gain_db": 0.0, "even_gain_db": 0.0}
        down_db = 0.0 if self.softest_lufs is None else min(self.softest_lufs - clip["loudness_lufs"], 0.0)
        return {
            "wired_gain_db": round(clip["wired_gain_db"] - self.wired_db, 3),
            "even_gain_db": round(down_db, 3),
        }

    def gains_beside(self, clip: sqlite3.Row, other: sqlite3.Row) -> dict[str, float]:
        """Return the gains of one of the farthest two: its sound's, from volts.

        Above 0 where its guitar is louder than the drawing; `take_level` leaves room for its peaks.

        Parameters
        ----------
        clip : Row
            Of the sound.
        other : Row
            Of one of the two, with the same take in the same way.
        """
        if other["loudness_lufs"] is None:
            return {"wired_gain_db": 0.0, "even_gain_db": 0.0}
        wired_db = other["wired_gain_db"] - self.wired_db
        if clip["loudness_lufs"] is None:  # tolerances alone make it sound: at its true level
            return {"wired_gain_db": round(wired_db, 3), "even_gain_db": round(wired_db, 3)}
        even_db = self.gains(clip)["even_gain_db"] + other["wired_gain_db"] - clip["wired_gain_db"]
        return {"wired_gain_db": round(wired_db, 3), "even_gain_db": round(even_db, 3)}


def set_level(clips: Iterable[sqlite3.Row]) -> SetLevel:
    """Return how the finished clips of one take are brought to their levels."""
    loud = [one for one in clips if one["loudness_lufs"] is not None]
    lufs = [one["loudness_lufs"] for one in loud]
    differ = bool(loud) and max(lufs) - min(lufs) > APART_LU
    return SetLevel(max((one["wired_gain_db"] for one in loud), default=0.0), min(lufs) if differ else None)


def set_levels(clips: Sequence[sqlite3.Row]) -> dict[str, SetLevel]:
    """Return the levels of each take's clips, all heard in one way, by take."""
    takes = dict.fromkeys(clip["take_id"] for clip in clips)
    return {take: set_level(one for one in clips if one["take_id"] == take) for take in takes}


def take_level(clips: Iterable[sqlite3.Row], beside: Iterable[float] = ()) -> TakeLevel:
    """Return the level of the finished clips of one take.

    Parameters
    ----------
    beside : iterable of float
        True peaks of what may be heard besides, with its gains, dBTP.
    """
    rows = list(clips)
    loud = [row["loudness_lufs"] for row in rows if row["loudness_lufs"] is not None]
    peaks = [json.loads(row["record"])["true_peak_dbtp"] for row in rows]
    gain_db = monitor_gain_db(TARGET_LUFS - lufs for lufs in loud) if loud else 0.0
    highest = max((peak for peak in [*peaks, *beside] if peak is not None), default=CEILING_DBTP)
    room_db = CEILING_DBTP - highest
    return TakeLevel(round(gain_db, 3), round(room_db, 3))
