"""The energy at the output for any resistance of one knob, from three responses.

A resistance R between two nodes changes every response as h(R) = h(0) + D R / (Z + R), with Z the
impedance that R sees (Thévenin). Energies are quadratic in h. So each sub-band needs five numbers,
and thousands of tracks then cost a few products.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from dsp.circuit.response import respond
from dsp.knobs.networks import NetworkVariant, replace_pot
from dsp.parts.kinds import VariablePart
from dsp.parts.pot import KNOB_TOP
from dsp.parts.taper import linear
from dsp.sound.timbre import Bands
from dsp.wiring.model import Setting, Wiring

Floats = NDArray[np.float64]
Complex = NDArray[np.complex128]
MIDDLE_SHARE = 0.05
"""Of the largest track: the resistance at which the third response is computed."""
AT_ONCE = 128
"""Resistances computed together, so that the arrays fit the processor's cache."""
NO_EFFECT = 1e-13
"""Below this part of the response, what a resistance changes is rounding."""


@dataclass(frozen=True)
class OhmEnergy:
    """Energy of the standard notes as a function of a resistance.

    Attributes
    ----------
    shorted, opened : ndarray, shape (n_coils, n_sub_bands)
        Responses without resistance, and without the connection.
    top, bottom : tuple of two ndarrays, shape (n_sub_bands,)
        Coefficients of R and R² above, of R and 1 below the fraction line.
    """

    bands: Bands
    shorted: Complex
    opened: Complex
    energy_shorted: Floats
    top: tuple[Floats, Floats]
    bottom: tuple[Floats, Floats]

    def __call__(self, ohm: Floats) -> Floats:
        """Return the energy by band.

        Parameters
        ----------
        ohm : ndarray, any shape
            Infinite for no connection.

        Returns
        -------
        ndarray, shape (*ohm.shape, n_bands), V² s
        """
        each, back = np.unique(np.asarray(ohm, float), return_inverse=True)
        found = np.empty((len(each), self.bands.n_bands))
        for start in range(0, len(each), AT_ONCE):
            found[start : start + AT_ONCE] = self._of(each[start : start + AT_ONCE, None])
        return found[back.reshape(np.shape(ohm))]

    def _of(self, ohm: Floats) -> Floats:
        (rise, square), (twice, size) = self.top, self.bottom
        whole = np.isinf(ohm)
        r = np.where(whole, 1.0, ohm)
        changed = r * (rise + square * r) / (size + r * (twice + r))
        if whole.any():
            changed = np.where(whole, square, changed)
        energy = np.maximum(self.energy_shorted + changed, 0.0)
        return np.asarray(energy.reshape(len(ohm), self.bands.n_bands, -1).sum(axis=2))


def compute_ohm_energy(
    tried: NetworkVariant, wiring: Wiring, setting: Setting, knob: str, largest_ohm: float,
    notes: Complex, bands: Bands,
) -> OhmEnergy:  # fmt: skip
    """Compute the energy of a network for any resistance of its knob.

    Parameters
    ----------
    largest_ohm : float
        Largest resistance in use, apart from an open track.
    notes : ndarray, shape (n_sub_bands, n_coils, n_coils), V² s
    """
    edited = tried.change.apply(wiring)
    pot = edited.pots[knob]
    edited = replace_pot(edited, knob, _bare(pot, largest_ohm))
    shares = (0.0, MIDDLE_SHARE, 1.0)
    values = [KNOB_TOP * (share if tried.rising else 1.0 - share) for share in shares]
    settings = [
        edited.setting(setting.position, {**setting.knobs, knob: value}, setting.switches) for value in values
    ]
    first, middle, last = respond(edited, settings, bands.centres_hz).coil
    low, high = largest_ohm * MIDDLE_SHARE, largest_ohm
    to_middle, to_last = middle - first, last - first
    effect = np.sum(np.abs(to_last) ** 2, axis=0)
    still = effect <= (NO_EFFECT**2) * np.sum(np.abs(last) ** 2 + np.abs(first) ** 2, axis=0)
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.sum(to_middle * to_last.conj(), axis=0) / effect
        seen = low * high * (1.0 - ratio) / (ratio * high - low)
        opening = to_last * (seen + high) / high
    seen = np.where(still, 1.0, seen)
    opening = np.where(still, 0.0, opening)
    fell = np.einsum("kf,fkl,lf->f", opening, notes, first.conj())
    square = np.einsum("kf,fkl,lf->f", opening, notes, opening.conj()).real
    before = np.einsum("kf,fkl,lf->f", first, notes, first.conj()).real
    rise = 2.0 * (fell.real * seen.real + fell.imag * seen.imag)
    return OhmEnergy(
        bands,
        first,
        first + opening,
        before,
        (rise, 2.0 * fell.real + square),
        (2.0 * seen.real, np.abs(seen) ** 2),
    )


def _bare(pot: VariablePart, ohm: float) -> VariablePart:
    """Return a pot with a straight track of another resistance and nothing at its ends."""
    return replace(pot, taper=linear(), resistance_ohm=ohm, end_resistance_ohm=0.0, no_load=False)
