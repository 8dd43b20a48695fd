"""Compute filters from one sensor's recording to the EMF of each coil, within limits.

A recording r of a string is r = sum over coils j of H_j e_j, with e_j the EMFs of the source's own
coils. The filters T_k lead from r to the EMF of each coil of another wiring. Where the source
senses a partial well, T_k is the coil's share of the partial over the source's share. In a notch of
the source's comb the ratio is damped, and least squares assign the rest of r to the source's own
coils: through its own wiring a recording returns unchanged, whatever the damping.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import pi

import numpy as np
from numpy.typing import NDArray

from dsp.parts.coil import Coil
from dsp.strings.sensing import coil_sensitivity
from dsp.tracking.places import Place, flat_sensor, partial_hz, partial_numbers, sensed

Floats = NDArray[np.float64]
Complex = NDArray[np.complex128]

MOST_BOOST_DB = 40.0
"""Largest raise of a source's weak response re its strongest. Clips are promised within 40 dB of their
peak, and a larger raise would lift the noise of converters and of rounding."""
SIDE = 0.1
"""Energy that the start and end of a note spread to the place of the next partial, re its own and per
(f0 x length): 0.07 for a note cut off square at both ends, a little more for a pick's noise. A weaker
partial is hidden by its neighbours' sides and is not raised out of its notch. See `clear_shares`, too."""
SOUNDS_S = 0.4
"""Length of a note in that figure."""
NEIGHBOURS = (-3, -2, -1, 1, 2, 3)
CANCELLED = 0.1
"""Share of the coils' sum without signs; coils that cancel to less say nothing about the string."""
SAME_PLACE_M = 1e-4
TYPICAL_PARTIALS = 12


@dataclass(frozen=True)
class Sensor:
    """The sensor of a recording, at the frequencies of its filters.

    Attributes
    ----------
    frequencies_hz : ndarray, shape (n_freqs,), Hz
        Above 0, rising.
    coils : tuple of Coil
        Coils of the known wiring; empty for a flat sensor.
    responses : ndarray, shape (n_coils, n_freqs)
        From each coil's EMF to the recording, V/V.
    at_m : float
        Distance of a flat sensor from the bridge.
    signal_left : ndarray, shape (n_freqs,), or None
        Share that is signal: 1 where the recording is clear of its noise, 0 where it is not.
    """

    frequencies_hz: Floats
    coils: tuple[Coil, ...] = ()
    responses: Complex | None = None
    at_m: float = 0.0
    signal_left: Floats | None = None

    @property
    def flat(self) -> bool:
        """Whether the recording has no wiring to divide out."""
        return self.responses is None

    def strength(self) -> Floats:
        """Response of the coils without signs, shape (n_freqs,), V per m/s."""
        if self.responses is None:
            return np.ones(len(self.frequencies_hz))
        gains = np.array([abs(coil_sensitivity(coil)) for coil in self.coils])
        found: Floats = gains @ np.abs(self.responses)
        return found

    def boost_db(self) -> Floats:
        """Raise of each frequency re the strongest, shape (n_freqs,), dB.

        Examples
        --------
        >>> from dsp.parts.coil import Coil
        >>> coil = Coil(resistance_ohm=8e3, inductance_h=3.0, capacitance_f=100e-12)
        >>> responses = np.array([[1.0, 0.1, 0.001]], complex)
        >>> Sensor(np.array([100.0, 1e3, 1e4]), (coil,), responses).boost_db().round(3).tolist()
        [0.0, 20.0, 40.0]
        """
        strength = self.strength()
        lacking = 20.0 * np.log10(np.max(strength) / np.maximum(strength, 1e-30))
        left = 1.0 if self.signal_left is None else self.signal_left
        found: Floats = np.minimum(lacking, MOST_BOOST_DB) * left
        return found

    def limit(self) -> Floats:
        """Factor that keeps the boost within its limit, shape (n_freqs,)."""
        strength = self.strength()
        found: Floats = 10.0 ** (self.boost_db() / 20.0) * strength / np.max(strength)
        return found


def electrical_ratio(
    sensor: Sensor, coils: Sequence[Coil], length_m: float | None = None, string: int | None = None
) -> Complex:
    """Filters from a recording to the EMF of each coil, without combs.

    Parameters
    ----------
    length_m : float or None
        Length of the strings of a line whose pitch is unclear for a while: each coil gets the
        mean strength at its place, so that the level does not jump. None (chords) leaves places
        out altogether.
    string : int or None
        Index of the string if known; its balance in each coil then counts.

    Returns
    -------
    ndarray, shape (n_coils, n_freqs), V per recorded unit
    """
    wanted = _strengths([*coils, *sensor.coils], length_m, string)
    if sensor.responses is None:
        source = 1.0 if length_m is None else _flat_strength(sensor.at_m, length_m)
        return np.repeat((wanted / source)[:, None], len(sensor.frequencies_hz), axis=1)
    given = _strengths(sensor.coils, length_m, string)[:, None] * sensor.responses
    together = np.sum(given, axis=0)
    floor = CANCELLED * np.sum(np.abs(given), axis=0)
    share = np.conj(together) / (np.square(np.abs(together)) + np.square(floor) + 1e-60)
    return limit_ratio(sensor, coils, wanted[:, None] * share)


def place_ratio(sensor: Sensor, coils: Sequence[Coil], place: Place) -> Complex:
    """Filters from a string's recording to the EMF of each coil at its place.

    Parameters
    ----------
    coils : sequence of Coil
        Coils of the new wiring, each with a place.
    place : Place
        The sounding string.

    Returns
    -------
    ndarray, shape (n_coils, n_freqs), V per recorded unit
    """
    numbers = partial_numbers(place, sensor.frequencies_hz)
    if sensor.flat and sensor.at_m <= 0.0:
        wanted = np.array([sensed(coil, place, numbers) for coil in coils])
        found: Complex = wanted / flat_sensor(0.0, place, numbers)
        return found
    partials = np.arange(int(numbers[-1]) + 3, dtype=float)
    partials[0] = 1.0  # below the fundamental lie only its own sides
    given, reference = _given(sensor, place, partials)
    power = np.square(np.abs(given)) + 1e-30
    ratio = np.conj(given) / power * _own_shares(power, place)
    wanted = np.array([sensed(coil, place, partials) for coil in (*coils, *sensor.coils)])
    shares = _between(wanted * ratio, numbers) / reference
    return shares * sensor.limit() if sensor.flat else limit_ratio(sensor, coils, shares)


def _given(sensor: Sensor, place: Place, partials: Floats) -> tuple[Complex, Complex]:
    """Response of the source to each partial re a reference response, and that response."""
    freqs_hz = sensor.frequencies_hz
    if sensor.responses is None:
        return flat_sensor(sensor.at_m, place, partials), np.ones(len(freqs_hz), complex)
    reference = sensor.responses[np.argmax(np.max(np.abs(sensor.responses), axis=1))]
    tiny = 1e-9 * np.max(np.abs(reference))
    reference = np.where(np.abs(reference) < tiny, tiny, reference)
    at_hz = partial_hz(place, partials)
    relative = [np.interp(at_hz, freqs_hz, one) for one in sensor.responses / reference]
    shares = [sensed(coil, place, partials) for coil in sensor.coils]
    return np.sum(np.array(shares) * np.array(relative), axis=0), reference


def _own_shares(power: Floats, place: Place) -> Floats:
    """Share of each partial in what is heard at its place, by which its raise is reduced.

    The comb alone tells it for partials alike along the string, which those near a node of the pluck are
    not. The recording tells it for this note, but a beat halfway between two partials misleads it.
    Their geometric mean missed levels by less than either on lines that no test uses.
    """
    padded = np.pad(power, 3, mode="reflect")
    sums = [padded[3 + step : 3 + step + len(power)] / step**2 for step in NEIGHBOURS]
    expected: Floats = power / (power + np.sum(sums, axis=0) * (SIDE / (place.pitch_hz * SOUNDS_S)))
    measured = np.array([*place.clear[:1], *place.clear])[: len(power)]  # the first stands for its own sides
    expected[: len(measured)] = np.sqrt(expected[: len(measured)] * measured)
    return expected


def _between(values: Complex | Floats, numbers: Floats) -> Complex:
    """Fade values from whole partial to whole partial, shape (n_coils, n_freqs)."""
    below = np.minimum(numbers.astype(int), values.shape[1] - 2)
    share = 0.5 - 0.5 * np.cos(pi * (numbers - below))
    found: Complex = values[:, below] * (1.0 - share) + values[:, below + 1] * share
    return found


def limit_ratio(sensor: Sensor, coils: Sequence[Coil], shares: Complex) -> Complex:
    """Limit filters; through its own wiring the recording stays unchanged.

    Parameters
    ----------
    shares : ndarray, shape (n_coils + n_source, n_freqs)
        Shares of the coils, then of the source's own.
    """
    assert sensor.responses is not None
    through = np.sum(sensor.responses * shares[len(coils) :], axis=0)
    back = np.conj(sensor.responses) / (np.sum(np.square(np.abs(sensor.responses)), axis=0) + 1e-60)
    kept = same_places(coils, sensor.coils) @ (back * (1.0 - through))
    found: Complex = (shares[: len(coils)] + kept) * sensor.limit()
    return found


def same_places(coils: Sequence[Coil], source: Sequence[Coil]) -> Floats:
    """Factor from each source coil to the coil at its place, else 0.

    Returns
    -------
    ndarray, shape (n_coils, n_source)
    """
    found = np.zeros((len(coils), len(source)))
    for j, other in enumerate(source):  # one to one, so that two coils in one place stay apart
        if other.dummy:
            continue  # a dummy passes nothing on
        free = (k for k, one in enumerate(coils) if not found[k].any() and _same(one, other))
        if (k := next(free, None)) is not None:
            found[k, j] = coil_sensitivity(coils[k]) / coil_sensitivity(other)
    return found


def _same(one: Coil, other: Coil) -> bool:
    if one.at_m is None or other.at_m is None:
        return one == other
    apart = max(abs(one.at_m - other.at_m), abs(one.aperture_m - other.aperture_m))
    return apart < SAME_PLACE_M and one.string_balance_db == other.string_balance_db


def _strengths(coils: Sequence[Coil], length_m: float | None, string: int | None) -> Floats:
    """Signed sensitivities at the mean strength of their places, shape (n_coils,)."""
    gains = np.array([coil_sensitivity(coil, string) for coil in coils])
    if length_m is None:
        return gains
    shares: Floats = gains * [_flat_strength(coil.at_m or 0.0, length_m) for coil in coils]
    return shares


def _flat_strength(at_m: float, length_m: float) -> float:
    """RMS share of partials that fall by 6 dB per octave; 1 at the bridge itself."""
    if at_m <= 0.0:
        return 1.0
    n = np.arange(1, TYPICAL_PARTIALS + 1)
    squares = np.square(np.sin(pi * n * at_m / length_m))
    return float(np.sqrt(np.sum(squares / n**2) / np.sum(1.0 / n**2)))
