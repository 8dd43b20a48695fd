"""A simulated guitar whose strings are plucked alone in every position, with coils of drawn sensitivity."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from strummed import RATE_HZ, Guitar, Performance, build, record, strum_stems

from dsp.checking.directions import draw_steps, find_directions, make_copies, with_taps
from dsp.circuit.copies import respond_copies
from dsp.sound.timbre import SUB_BANDS, ear_bands
from dsp.verifying.coil_levels import CoilLevels, Plucks
from dsp.verifying.expected import CABLE
from dsp.verifying.sensitivity import Sensitivities
from dsp.verifying.strums import LEAD_S, Strums, ease, find_starts
from dsp.wiring.model import Setting, Wiring

Floats = NDArray[np.float64]
Complex = NDArray[np.complex128]
WINDOW_S = 1.3


def with_strings(wiring: Wiring, chosen: Sequence[int]) -> Wiring:
    """Return a wiring with some of its strings: plucks are rendered in little time."""
    assert wiring.instrument is not None
    strings = tuple(wiring.instrument.strings[k] for k in chosen)
    return replace(wiring, instrument=replace(wiring.instrument, strings=strings))


@dataclass(frozen=True)
class Truth:
    """Drawn gains on the wiring's own sensitivities.

    Attributes
    ----------
    gain_db : ndarray, shape (n_coils, n_strings)
    signs : ndarray, shape (n_coils,)
        -1 for a coil whose leads are turned.
    """

    gain_db: Floats
    signs: Floats

    @property
    def gains(self) -> Floats:
        """Signed factors, shape (n_coils, n_strings)."""
        return np.asarray(self.signs[:, None] * 10.0 ** (self.gain_db / 20.0))

    def against(self, reference: int) -> tuple[Floats, Floats]:
        """Return levels, shape (n_coils,), and balances, shape (n_coils, n_strings), dB."""
        apart = self.gain_db - self.gain_db[reference]
        level = apart.mean(axis=1)
        return level, apart - level[:, None]


def draw_truth(n_coils: int, n_strings: int, seed: int) -> Truth:
    """Draw sensitivities within 3 dB, balances of 1.5 dB, and turned leads."""
    chance = np.random.default_rng([seed, 61])
    level = chance.uniform(-3.0, 3.0, (n_coils, 1))
    signs = np.where(chance.random(n_coils) < 0.3, -1.0, 1.0)
    signs[0] = 1.0
    return Truth(level + chance.normal(0.0, 1.5, (n_coils, n_strings)), signs)


class Player:
    """Every string plucked alone by one player's hand, several recordings of each.

    Parameters
    ----------
    pool : int
        Recordings of each string, as many as settings or more.
    """

    def __init__(self, wiring: Wiring, settings: Sequence[Setting], pool: int, seed: int, *,
                 hand: str = "pick") -> None:  # fmt: skip
        self.wiring, self.settings = wiring, list(settings)
        assert wiring.instrument is not None
        n_strings = len(wiring.instrument.strings)
        self.played = [
            [self._pluck(string, n_strings, 1000 * seed + 50 * string + k, hand) for k in range(pool)]
            for string in range(n_strings)
        ]
        self.plucks = [Plucks(setting, string) for string in range(n_strings) for setting in self.settings]
        self._cross: list[list[Complex]] = []

    def _pluck(self, string: int, n_strings: int, seed: int, hand: str) -> Performance:
        frets = [0 if k == string else None for k in range(n_strings)]
        return strum_stems(self.wiring, seed, hand=hand, strums=3, frets=frets)

    def record_all(self, truth: Truth, seed: int) -> list[Floats]:
        """Build a guitar and record every string at every setting, as samples."""
        guitar = build(self.wiring, self.settings, seed, sensitivity_db=0.0)
        found = []
        for string, pool in enumerate(self.played):
            own = Guitar(guitar.coil * truth.gains[None, :, string, None])
            for at, k in enumerate(self._chosen(seed, string)):
                found.append(record(own, at, pool[k], 100 * seed + 10 * string + at))
        return found

    def measure_all(self, truth: Truth, response: Complex, seed: int) -> list[Strums]:
        """Return levels without making samples: the plucks' spectra through responses by sub-band.

        Parameters
        ----------
        response : ndarray, shape (n_settings, n_coils, n_sub_bands)
            Of one guitar of `draw_guitars`.
        """
        if not self._cross:
            self._cross = [[_cross(one) for one in pool] for pool in self.played]
        found = []
        for string, pool in enumerate(self._cross):
            own = response * truth.gains[None, :, string, None]
            for at, k in enumerate(self._chosen(seed, string)):
                each = np.einsum("kf,nfkl,lf->nf", own[at], pool[k], own[at].conj(), optimize=True).real
                energy = each.reshape(len(each), -1, SUB_BANDS).sum(axis=2)
                noise = np.full(energy.shape[1], 10.0 * np.log10(energy.max()) - 60.0)
                found.append(Strums(10.0 * np.log10(energy + 1e-30), noise, 60.0))
        return found

    def _chosen(self, seed: int, string: int) -> list[int]:
        chance = np.random.default_rng([seed, 5, string])
        return [int(k) for k in chance.permutation(len(self.played[string]))[: len(self.settings)]]


def _cross(played: Performance) -> Complex:
    """Cross-spectra of every pluck, shape (n_plucks, n_sub_bands, n_coils, n_coils)."""
    stems = np.fft.irfft(played.spectrum, played.n_samples, axis=1)
    n = round((WINDOW_S + LEAD_S) * RATE_HZ)
    bands = ear_bands()
    at = bands.sub_band(np.fft.rfftfreq(n, 1.0 / RATE_HZ))
    inside = at >= 0
    edges = np.searchsorted(at[inside], np.arange(len(bands.centres_hz)))
    found = []
    for start in _begins(stems, n):
        spectra = np.fft.rfft(stems[:, start : start + n] * ease(n), axis=1)[:, inside]
        both = spectra[:, None] * spectra[None].conj()
        found.append(np.add.reduceat(both, edges, axis=2).transpose(2, 0, 1) / n)
    return np.array(found)


def _begins(stems: Floats, n: int) -> list[int]:
    """Return where windows of n samples begin that hold a pluck."""
    begins = find_starts(stems[0], "stem") - round(LEAD_S * RATE_HZ)
    return [int(one) for one in begins if one + n <= stems.shape[1]]


def draw_guitars(wiring: Wiring, settings: Sequence[Setting], count: int, seed: int) -> Complex:
    """Return responses of guitars of drawn parts, shape (count, n_settings, n_coils, n_sub_bands)."""
    wiring = with_taps(wiring)
    directions = find_directions(wiring, cable=CABLE)
    steps = draw_steps(count, len(directions), seed)
    copies = make_copies(wiring, directions, steps)
    coil, _ = respond_copies(wiring, settings, ear_bands().centres_hz, copies)
    return np.asarray(coil.transpose(1, 0, 2, 3))


def naive_error(levels: CoilLevels, strums: Sequence[Strums], truth: Truth) -> tuple[float, float]:
    """Return the error of a finder that takes what it hears for the coils alone, and half its interval, dB.

    Of the twelve-string: its first position hears the first coil alone, its third the second. The plucks' own
    scatter makes the interval.
    """
    plain, _ = levels.levels(np.ones((2, len(levels.strings))))
    apart, variance = [], []
    for first in range(0, len(strums), 3):
        heard = [strums[first], strums[first + 2]]
        used = np.all([one.levels_db.mean(axis=0) > one.noise_db + 6.0 for one in heard], axis=0)
        one, other = (each.levels_db[:, used].mean(axis=1) for each in heard)
        points = levels.points[[first, first + 2]]
        said = (plain[points[1]] - plain[points[0]])[used].mean()
        apart.append(other.mean() - one.mean() - said)
        variance.append(one.var(ddof=1) / len(one) + other.var(ddof=1) / len(other))
    true, _ = truth.against(0)
    return float(np.mean(apart) - true[1]), float(1.96 * np.sqrt(np.sum(variance)) / len(apart))


@dataclass
class Tally:
    """How often what was found is right.

    Attributes
    ----------
    levels, balances : list of tuple of float
        Error and half of the interval, dB, of what was told.
    untold : int
        Levels and balances that were not told.
    polarities : list of tuple of bool
        Told, and told rightly.
    """

    levels: list[tuple[float, float]]
    balances: list[tuple[float, float]]
    untold: int
    polarities: list[tuple[bool, bool]]

    @classmethod
    def empty(cls) -> Tally:
        """Return a tally of nothing."""
        return cls([], [], 0, [])

    def add(self, wiring: Wiring, truth: Truth, found: Sensitivities) -> None:
        """Count what was found of one guitar."""
        names = list(wiring.coils)
        level, balance = truth.against(names.index(found.reference))
        for one in found.coils:
            k = names.index(one.coil)
            for told, true, kept in [
                (one.level, level[k], self.levels),
                *((b, true, self.balances) for b, true in zip(one.balance, balance[k], strict=True)),
            ]:
                if told.told:
                    kept.append((told.db - true, told.within_db))
                else:
                    self.untold += 1
        for pair in found.polarities:
            same = truth.signs[names.index(pair.first)] * truth.signs[names.index(pair.second)] > 0
            self.polarities.append((pair.told, pair.told and (pair.as_wired > 0.5) == bool(same)))

    @staticmethod
    def share(rows: Sequence[tuple[float, float]]) -> float:
        """Return the share within their intervals."""
        return float(np.mean([abs(error) <= within for error, within in rows]))

    def text(self) -> str:
        """Return the figures in a line."""
        parts = []
        for name, rows in (("level", self.levels), ("balance", self.balances)):
            if not rows:
                continue
            error, within = np.abs(np.array(rows)).T
            parts.append(
                f"{name} {100 * self.share(rows):.0f} % of {len(rows)} within,"
                f" error {np.median(error):.1f} dB (95 %: {np.quantile(error, 0.95):.1f}),"
                f" interval {np.median(within):.1f} dB"
            )
        told = [right for was_told, right in self.polarities if was_told]
        parts.append(f"polarity told {len(told)} of {len(self.polarities)}, right {sum(told)}")
        return "; ".join([*parts, f"untold {self.untold}"])
