"""The finished guitar under an exciter: what to read, judged, and what it tells that nothing else does."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby
from math import log10
from typing import Any

import numpy as np

from dsp.checking.exciter import (
    EXCITER,
    HEARD_FROM,
    NOISE_FLOOR,
    TYPED_HZ,
    ExciterRig,
    find_exciter_points,
)
from dsp.checking.exciter_bands import (
    HELD_TO,
    NOT_JUDGED,
    JudgedTransfer,
    RatioBand,
    find_pulses,
    find_ratio_bands,
    judge_transfers,
)
from dsp.checking.points import Point, setting_text
from dsp.checking.readings_text import BLADE, SILENT, Reading
from dsp.wiring.model import Wiring

LOUDEST = "loudest"
NO_LOUD = "no loud setting of this coil read yet"
VERDICTS = {"within": "pass", HELD_TO: "----", NOT_JUDGED: "----"}
"""At the head of a line; all others fail."""


def judge_excited(
    wiring: Wiring, readings: Sequence[Reading], rig: ExciterRig | None = None, *, sides_kept: bool = True
) -> tuple[JudgedTransfer, ...]:
    """Judge the readings under an exciter and a blade.

    Of two readings of one point the later counts.

    Parameters
    ----------
    sides_kept : bool
        As of `judge_transfers`.
    """
    points: list[Point] = []
    transfers: list[float] = []
    for one in (one for one in readings if one.coil):
        if one.point in points:
            transfers[points.index(one.point)] = one.transfer
        else:
            points.append(one.point)
            transfers.append(one.transfer)
    if not points:
        return ()
    return judge_transfers(wiring, points, np.array(transfers), rig, sides_kept=sides_kept)


def ratio_text(ratio: float) -> str:
    """Return a ratio with its sign in words: as decibels, or silent."""
    if abs(ratio) < NOISE_FLOOR:
        return SILENT
    return f"{20 * log10(abs(ratio)):+.1f} dB{', turned' if ratio < 0 else ''}"


def expected_text(band: RatioBand) -> str:
    """Return what is expected at one setting, in words."""
    if band.heard and band.is_reference:
        return f"{LOUDEST}, sign {'+' if band.transfer > 0 else '-'}"
    return ratio_text(band.typical)


def pulse_sign(pulse: float) -> str:
    """Return which way a blade's pulse goes, from -1 to 1, or silent."""
    return SILENT if abs(pulse) <= HEARD_FROM else "+" if pulse > 0.0 else "-"


def band_of_ratios(band: RatioBand) -> str:
    """Return the ends of a band in words, the louder last.

    Nothing where there is no ratio.
    """
    if band.is_reference or not band.heard:
        return ""
    low, high = sorted((band.low, band.high), key=abs)
    if band.low * band.high < 0.0:
        return f"below {20 * log10(abs(high)):+.1f} dB"
    return f"{ratio_text(low)} to {ratio_text(high)}"


def transfer_text(wiring: Wiring, one: JudgedTransfer) -> str:
    """Return a judged reading as a line."""
    verdict = VERDICTS.get(one.side, "FAIL")
    place = f"{verdict}  {setting_text(wiring, one.point.setting)}, {one.point.what()}"
    if one.side == NOT_JUDGED:
        return f"{place:<44} {NO_LOUD}"
    if one.band is None:
        said = {
            "turned": "against the other coils",
            HELD_TO: "another coil's pulse tells whether it is right",
        }
        return f"{place:<44} {said.get(one.side, 'as the other coils')}"
    told = "" if one.side in ("within", HELD_TO) else f", {one.side}"
    if one.band.is_reference:
        return f"{place:<44} the level that the others are held to{told}{_against(one)}"
    at = setting_text(wiring, one.band.reference.setting)
    return f"{place:<44} {ratio_text(one.ratio):>18} to {at}   {band_of_ratios(one.band)}{told}"


def _against(one: JudgedTransfer) -> str:
    return " against the other coils" if one.side == "turned" else ""


def transfer_record(wiring: Wiring, one: JudgedTransfer) -> dict[str, Any]:
    """Return a judged reading as the command prints it."""
    said = {
        "setting": setting_text(wiring, one.point.setting),
        "what": one.point.kind,
        "coil": one.point.coil,
        "frequency_hz": one.point.frequency_hz or None,
        "side": one.side,
        "passed": one.side == "within" if one.counts else None,
    }
    if one.band is None:
        return said
    return {**said, "ratio": one.ratio, **_band_record(wiring, one.band)}


def _band_record(wiring: Wiring, band: RatioBand) -> dict[str, Any]:
    return {
        "reference": setting_text(wiring, band.reference.setting),
        "typical_ratio": band.typical,
        "low_ratio": band.low,
        "high_ratio": band.high,
        "transfer": band.transfer,
        "heard": band.heard,
    }


@dataclass(frozen=True)
class ExciterPlan:
    """What to read under an exciter and a blade.

    Attributes
    ----------
    signs : tuple of str
        Of each blade's pulse, + or -, or silent; all of them may be the other way round.
    told : tuple of str
        Faults that these readings show, and neither the meter nor |Z| does.
    """

    bands: tuple[RatioBand, ...]
    blades: tuple[Point, ...]
    signs: tuple[str, ...]
    told: tuple[str, ...]

    def rows(self, wiring: Wiring) -> list[tuple[str, str]]:
        """Return setting and what of each reading, as a table has them.

        A recording holds all frequencies: there is one row for it.
        """
        excited = [(one.point, EXCITER) for one in self.bands if one.point.frequency_hz == TYPED_HZ]
        points = [*excited, *((one, BLADE) for one in self.blades)]
        return [(setting_text(wiring, one.setting), f"{what} {one.coil}") for one, what in points]

    def record(self, wiring: Wiring) -> dict[str, Any]:
        """Return the plan as the command prints it."""
        return {
            "readings": [
                {
                    "setting": setting_text(wiring, one.point.setting),
                    "coil": one.point.coil,
                    "frequency_hz": one.point.frequency_hz,
                    **_band_record(wiring, one),
                }
                for one in self.bands
            ],
            "blade": [
                {"setting": setting_text(wiring, one.setting), "coil": one.coil, "sign": sign}
                for one, sign in zip(self.blades, self.signs, strict=True)
            ],
            "told": list(self.told),
        }

    def lines(self, wiring: Wiring, *, sides_kept: bool = True) -> list[str]:
        """Return the plan in words, coil by coil."""
        found = [
            "Under an exciter (presolder rig --exciter), knobs at 10. It stays over one coil while the",
            "selector goes round; each level is held to that coil's loudest.",
        ]
        for coil, rows in groupby(self.bands, key=lambda band: band.point.coil):
            found += ["", f"exciter over {coil}"]
            for band in rows:
                at = setting_text(wiring, band.point.setting)
                place = f"  [ ] {at}, {band.point.frequency_hz:.0f} Hz"
                if band.heard and band.is_reference:
                    said = f"{expected_text(band)} against the other coils" if sides_kept else LOUDEST
                    found.append(f"{place:<30} {said}")
                else:
                    line = f"{place:<30} {ratio_text(band.typical):>18}   {band_of_ratios(band)}"
                    found.append(line.rstrip())
        if self.blades:
            found += ["", "Blade pulled away, signs against one another:"]
            for one, sign in zip(self.blades, self.signs, strict=True):
                found.append(f"  [ ] {one.coil} at {setting_text(wiring, one.setting):<16} {sign}")
        found += ["", "The exciter and the blade tell what neither the meter nor |Z| does:"]
        return [*found, *(f"  {one}" for one in self.told or ("nothing here",))]


def plan_excited(wiring: Wiring, told: Sequence[str], rig: ExciterRig | None = None) -> ExciterPlan:
    """Return what to read under an exciter and a blade.

    Parameters
    ----------
    told : sequence of str
        As of `ExciterPlan`.
    """
    points = find_exciter_points(wiring)
    bands = find_ratio_bands(wiring, [one for one in points if one.kind == "exciter"], rig)
    blades = tuple(one for one in points if one.kind == "blade")
    signs = tuple(pulse_sign(pulse) for pulse in find_pulses(wiring, blades, rig))
    return ExciterPlan(bands, blades, signs, tuple(told))
