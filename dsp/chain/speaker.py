"""A 12-inch loudspeaker in its cabinet, heard from the front: sections of second order.

No measured curve is published as numbers. A textbook reads one driver as +12 dB per octave up to 130 Hz and
-24 dB per octave from 5 kHz (J. O. Smith, Physical Audio Signal Processing), and a magazine's simulation puts
the box's lower limit at 110 to 117 Hz. The peak between 2 and 4 kHz, 5 to 10 dB above the dip below it, is
from memory. `SECTIONS` are a rounded fit to 29 points of that shape (rms 0.08 dB, at most 0.25 dB off).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dsp.circuit.reduction import Complex, Floats
from dsp.errors import InputError
from dsp.filters.bank import Bank
from dsp.filters.design import choose_grid, fit_bank

GAIN_DB = -0.53


@dataclass(frozen=True)
class Section:
    """One section over s = j f / f0.

    Attributes
    ----------
    gain_db : float or None
        Of a peak at its middle; None for a high-pass or a low-pass.
    high : bool
        Whether a section without a gain passes what is above f0.
    """

    f0_hz: float
    q: float
    gain_db: float | None = None
    high: bool = False

    def response(self, frequencies_hz: Floats) -> Complex:
        """Return the response, shape (n_freqs,).

        A peak is (s^2 + s A/Q + 1) / (s^2 + s/(A Q) + 1), A^2 the gain.
        """
        s: Complex = 1j * np.asarray(frequencies_hz, float) / self.f0_hz
        if self.gain_db is None:
            low = 1.0 / (s * s + s / self.q + 1.0)
            return np.asarray(low * s * s if self.high else low)
        root = 10.0 ** (self.gain_db / 40.0)
        return np.asarray((s * s + s * root / self.q + 1.0) / (s * s + s / (root * self.q) + 1.0))

    def modes(self) -> Complex:
        """Return both natural frequencies, shape (2,), 1/s."""
        root = 1.0 if self.gain_db is None else 10.0 ** (self.gain_db / 40.0)
        return np.asarray(2.0 * np.pi * self.f0_hz * np.roots([1.0, 1.0 / (root * self.q), 1.0]), complex)


SECTIONS: tuple[Section, ...] = (
    Section(121.0, 1.06, high=True),
    Section(1149.0, 1.87, 0.7),
    Section(2715.0, 1.10, 8.8),
    Section(4450.0, 1.78, 6.7),
    Section(5738.0, 0.40),
    Section(5844.0, 0.80),
)

OPEN_HZ = 109.0
"""c / (2 pi d): below it an open back cancels the front. d = 0.5 m around the cabinet (our own choice)."""

AXES: dict[int, tuple[float, float]] = {30: (1100.0, -4.0), 45: (900.0, -8.0)}
"""Degrees off axis: middle of the shelf, Hz, and what is lost above it, dB.

From a piston whose radius shrinks as 1/f above 1.5 kHz, our own assumption. A rigid piston would lose 22 dB
at 3 kHz, which no cabinet does."""


def respond_speaker(frequencies_hz: Floats, *, open_back: bool = False, axis_deg: int = 0) -> Complex:
    """Compute the sound over the voltage, re 1 kHz or so, shape (n_freqs,).

    Parameters
    ----------
    open_back : bool
        Whether the cabinet is open behind: one more pole of a high-pass.
    axis_deg : int
        0, or one of `AXES`.

    Raises
    ------
    InputError
        If the axis is another.
    """
    shelf = _shelf(axis_deg)
    hz = np.asarray(frequencies_hz, float)
    found: Complex = np.full(hz.shape, 10.0 ** (GAIN_DB / 20.0), complex)
    for section in SECTIONS:
        found = found * section.response(hz)
    if open_back:
        s = 1j * hz / OPEN_HZ
        found = found * s / (1.0 + s)
    if shelf is not None:
        pole_hz, zero_hz = shelf
        found = found * (1.0 + 1j * hz / zero_hz) / (1.0 + 1j * hz / pole_hz)
    return found


def _shelf(axis_deg: int) -> tuple[float, float] | None:
    """Return pole and zero of what is lost off axis, Hz; None on it."""
    if not axis_deg:
        return None
    if axis_deg not in AXES:
        raise InputError("axis", f"{axis_deg} degrees", ", ".join(map(str, (0, *AXES))))
    middle_hz, lost_db = AXES[axis_deg]
    root = 10.0 ** (lost_db / 40.0)
    return middle_hz * root, middle_hz / root


def speaker_modes(*, open_back: bool = False, axis_deg: int = 0) -> Complex:
    """Return the loudspeaker's natural frequencies, shape (n_modes,), 1/s."""
    modes = [section.modes() for section in SECTIONS]
    if open_back:
        modes.append(np.array([-2.0 * np.pi * OPEN_HZ], complex))
    if shelf := _shelf(axis_deg):
        modes.append(np.array([-2.0 * np.pi * shelf[0]], complex))
    return np.concatenate(modes)


def design_speaker(rate_hz: float, *, open_back: bool = False, axis_deg: int = 0) -> Bank:
    """Design the loudspeaker's filters at a sampling rate; one input."""
    modes = speaker_modes(open_back=open_back, axis_deg=axis_deg)
    grid = choose_grid(modes, rate_hz)
    both = np.concatenate([grid.fit_hz, grid.check_hz])
    target = respond_speaker(both, open_back=open_back, axis_deg=axis_deg)
    return fit_bank(modes, grid, target[None, :], rate_hz)
