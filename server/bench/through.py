"""How loud a take is through a way to hear it: clean from spectra, what bends by running the chain.

A way that bends makes loud settings less loud than a filter would, by how much no spectrum tells. So the
take is run through it once for each setting, and until that is done its level is guessed from the settings
that have been run.
"""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from dsp.chain.divider import input_share
from dsp.chain.run import Chain, respond_small
from dsp.chain.ways import DIRECT, Way
from dsp.circuit.reduction import Complex
from dsp.filters.bank import Bank
from dsp.filters.run import Runner
from dsp.parts.load import Load
from dsp.sound.live_level import TakeSpectra, match_gain_db
from dsp.sound.loudness import LoudnessMeter
from server.files.recent import Recent

Samples = NDArray[np.floating]

MEASURED_S, STRETCH_S, LEAD_S = 24.0, 3.0, 0.5
"""A longer take is measured on as many stretches as fill this time, spread evenly, each run in before."""
AT_ONCE_S = 1.0
MOST_MEASURED, MOST_KNOWN = 1024, 64
FAINT_DB = 30.0
"""Below the softest setting that was run by this much a way is taken to bend nothing."""


@dataclass(frozen=True)
class Through:
    """A way to hear a guitar.

    Attributes
    ----------
    lowered_db : float
        What its drive gives way by.
    """

    way: Way = DIRECT
    lowered_db: float = 0.0

    @property
    def bends(self) -> bool:
        """Whether its loudness is not that of a filter."""
        return bool(self.way.oversampling)


@dataclass(frozen=True)
class Measured:
    """What running a take through a way tells of a setting.

    Attributes
    ----------
    match_gain_db : float
        Brings it to the common loudness; infinite for silence.
    excess_db : float
        By how much the drive should give way.
    """

    match_gain_db: float
    excess_db: float


class ThroughLevels:
    """Measures takes through ways that bend, and keeps what it found."""

    def __init__(self) -> None:
        self._measured: Recent[Measured] = Recent(MOST_MEASURED)
        self._known: Recent[list[tuple[float, float]]] = Recent(MOST_MEASURED)

    def ready(self, key: Hashable) -> Measured | None:
        """Return what was measured of a setting, or None."""
        return self._measured.get(key)

    def measure(self, key: Hashable, bank: Bank, stems: Samples, through: Through) -> Measured:
        """Run a take through a setting and a way, unless that has been done.

        Parameters
        ----------
        key : hashable
            Of setting, take and way.
        bank : Bank
            Filters of the setting; see `valve_bank`.
        stems : ndarray, shape (n_coils, n_samples), volt
        """
        return self._measured.get_or_make(key, lambda: _run(bank, stems, through))

    def learn(self, family: Hashable, small_db: float, measured: Measured) -> None:
        """Remember how much a way bends a setting.

        Parameters
        ----------
        family : hashable
            Settings that say something of one another: those of a take in a way.
        small_db : float
            The matching gain, if nothing were bent.
        """
        if np.isfinite(small_db) and np.isfinite(measured.match_gain_db):
            known = self._known.get_or_make(family, list)
            point = (small_db, measured.match_gain_db - small_db)
            if point not in known:
                known.append(point)
                del known[:-MOST_KNOWN]

    def guess_gain_db(self, family: Hashable, small_db: float) -> float:
        """Guess the matching gain of a setting from those that were run.

        Parameters
        ----------
        small_db : float
            The matching gain, if nothing were bent.
        """
        known = sorted(self._known.get(family) or [])
        if not known or not np.isfinite(small_db):
            return small_db
        gains, bent = map(list, zip(*known, strict=True))
        return small_db + float(np.interp(small_db, [*gains, gains[-1] + FAINT_DB], [*bent, 0.0]))


def _run(bank: Bank, stems: Samples, through: Through) -> Measured:
    powers: list[float] = []
    excess_db = 0.0
    chain = _chain(through.way, bank.rate_hz, through.lowered_db)
    runner = Runner(bank)
    lead, at_once = round(LEAD_S * bank.rate_hz), round(AT_ONCE_S * bank.rate_hz)
    for first, last in stretches(stems.shape[1], bank.rate_hz):
        volts, heard = runner.initial_state(), chain.initial_state()
        meter = LoudnessMeter(bank.rate_hz)
        before = max(first - lead, 0)
        for start in range(before, last, at_once):
            part = stems[:, start : min(start + at_once, last)].astype(float)
            samples, volts = runner.run(part, volts)
            samples, heard = chain.run(samples, heard)
            meter.add(samples[max(first - start, 0) :])
        powers += meter.block_powers()
        excess_db = max(excess_db, chain.excess_db(heard))
    return Measured(match_gain_db(np.array(powers)), excess_db)


def stretches(n_samples: int, rate_hz: float) -> list[tuple[int, int]]:
    """Return the stretches of a take that are measured: first and last sample.

    Examples
    --------
    >>> stretches(1000, 100.0)
    [(0, 1000)]
    >>> stretches(10_000, 100.0)[:2]
    [(0, 300), (1386, 1686)]
    """
    length, most = round(STRETCH_S * rate_hz), round(MEASURED_S * rate_hz)
    if n_samples <= most:
        return [(0, n_samples)]
    count = most // length
    starts = [round(k * (n_samples - length) / (count - 1)) for k in range(count)]
    return [(start, start + length) for start in starts]


def valve_bank(bank: Bank, load: Load, through: Through) -> Bank:
    """Return the filters up to where a way begins: the valve, or the jack.

    Parameters
    ----------
    load : Load
        Of the wiring: an input may take a share of the voltage away.
    """
    share = input_share(load) if through.way.amplified else 1.0
    if share == 1.0:
        return bank
    return replace(bank, numerators=share * bank.numerators, taps=share * bank.taps)


def small_gain_db(spectra: TakeSpectra, bank: Bank, through: Through) -> float:
    """Return the matching gain of a setting if a way bends nothing.

    In direct and clean it is the matching gain.
    """
    if not through.way.amplified:
        return spectra.match_gain_db(bank)
    behind = _response(through.way, tuple(spectra.centres_hz))
    return spectra.match_gain_db(bank, behind) + through.lowered_db


@lru_cache(maxsize=8)
def _response(way: Way, hz: tuple[float, ...]) -> Complex:
    return respond_small(way, np.array(hz))


@lru_cache(maxsize=8)
def _chain(way: Way, rate_hz: float, lowered_db: float) -> Chain:
    """Return the filters of a way; they hold no state."""
    return Chain(way, rate_hz, lowered_db=lowered_db)
