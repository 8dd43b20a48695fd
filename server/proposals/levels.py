"""The gain with which the customer's page plays the clips of a take."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable
from dataclasses import dataclass

from dsp.sound.live_level import TARGET_LUFS, monitor_gain_db
from dsp.sound.peak import CEILING_DBTP


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


def take_level(clips: Iterable[sqlite3.Row]) -> TakeLevel:
    """Return the level of the finished clips of one take."""
    rows = list(clips)
    loud = [row["loudness_lufs"] for row in rows if row["loudness_lufs"] is not None]
    peaks = [json.loads(row["record"])["true_peak_dbtp"] for row in rows]
    gain_db = monitor_gain_db(TARGET_LUFS - lufs for lufs in loud) if loud else 0.0
    room_db = CEILING_DBTP - max((peak for peak in peaks if peak is not None), default=CEILING_DBTP)
    return TakeLevel(round(gain_db, 3), round(room_db, 3))
