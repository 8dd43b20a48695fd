"""An impedance over frequency, and how it follows from four recordings at one rig."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dsp.errors import InputError
from dsp.measuring.transfer import Transfer

Floats = NDArray[np.float64]
Complex = NDArray[np.complex128]

SAME_HZ = 1.1
"""Lines of two recordings that are one line: a player may drift while the rig is changed."""
SAME_SHARE = 2e-4
CLOSE = 1e-3
"""Smallest distance of two calibrations' ratios, relative to the larger, that tells them apart."""


@dataclass(frozen=True)
class Curve:
    """Impedance over frequency.

    Attributes
    ----------
    frequencies_hz : ndarray, shape (n,)
        Rising.
    ohm : ndarray of complex, shape (n,)
    sd : ndarray, shape (n,)
        Relative standard deviation of the real and of the imaginary part.
    """

    frequencies_hz: Floats
    ohm: Complex
    sd: Floats


def calibrate(
    reading: Transfer, opened: Transfer, shorted: Transfer, known: Transfer, known_ohm: float
) -> Curve:
    """Impedance from recordings of the coil, nothing, a short and a resistor.

    Exact for every linear rig: its series resistor, gains, input resistances, cable and crosstalk
    drop out. Only the known resistor must be true.

    Parameters
    ----------
    reading, opened, shorted, known : Transfer
        Of the same signal, one after another at one rig.
    known_ohm : float
        The resistor in ohms.

    Raises
    ------
    InputError
        If the recordings hold different signals, or two calibrations agree where they must differ.

    References
    ----------
    Open-short-load compensation, a textbook method: a ratio of two voltages is a bilinear function of
    the impedance, which three known impedances determine.
    """
    hz, (t, to, ts, tk) = _matched(reading, opened, shorted, known)
    _check_apart(to, ts, f"{opened.where} and {shorted.where}", "an open and a shorted rig")
    _check_apart(to, tk, f"{opened.where} and {known.where}", "an open rig and the known resistor")
    _check_apart(tk, ts, f"{known.where} and {shorted.where}", "the known resistor and a shorted rig")
    ohm = (
        known_ohm
        * (t.ratio - ts.ratio)
        * (to.ratio - tk.ratio)
        / ((to.ratio - t.ratio) * (tk.ratio - ts.ratio))
    )
    parts = (
        (t.sd, 1 / (t.ratio - ts.ratio) + 1 / (to.ratio - t.ratio)),
        (ts.sd, 1 / (tk.ratio - ts.ratio) - 1 / (t.ratio - ts.ratio)),
        (to.sd, 1 / (to.ratio - tk.ratio) - 1 / (to.ratio - t.ratio)),
        (tk.sd, -1 / (to.ratio - tk.ratio) - 1 / (tk.ratio - ts.ratio)),
    )
    sd = np.sqrt(sum((np.abs(slope) * one) ** 2 for one, slope in parts))
    return Curve(hz, ohm, sd)


def _matched(reading: Transfer, *others: Transfer) -> tuple[Floats, tuple[Transfer, ...]]:
    """Bring recordings to the frequencies that all of them have."""
    for other in others:
        if other.signal != reading.signal:
            kinds = {"lines": "a sum of sines", "bands": "noise or a sweep"}
            raise InputError(
                other.where, kinds[other.signal], f"the signal of {reading.where}: {kinds[reading.signal]}"
            )
    hz = reading.frequencies_hz
    nearest = [np.abs(np.subtract.outer(hz, other.frequencies_hz)).argmin(axis=1) for other in others]
    same = np.ones(len(hz), bool)
    for other, index in zip(others, nearest, strict=True):
        same &= np.abs(other.frequencies_hz[index] - hz) <= SAME_HZ + SAME_SHARE * hz
    if same.sum() < len(hz) / 2:
        raise InputError(
            ", ".join(other.where for other in others),
            f"{same.sum()} of the {len(hz)} frequencies of {reading.where}",
            "the same signal in all four recordings",
        )
    taken = [(reading, np.flatnonzero(same))]
    taken += [(other, index[same]) for other, index in zip(others, nearest, strict=True)]
    picked = tuple(
        Transfer(one.where, one.signal, hz[same], one.ratio[i], one.sd[i], one.level_dbfs, one.hum_dbfs)
        for one, i in taken
    )
    return hz[same], picked


def _check_apart(one: Transfer, other: Transfer, where: str, allowed: str) -> None:
    size = np.maximum(np.abs(one.ratio), np.abs(other.ratio))
    if np.median(np.abs(one.ratio - other.ratio) / size) < CLOSE:
        raise InputError(where, "the same reading twice", allowed, "are two of the files exchanged?")
