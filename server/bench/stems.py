"""Takes made ready for the page: their stems in one piece, and the spectra that match levels.

Both depend on a wiring through its coils and strings alone, which are the key of the cache:
after a knob is turned or a capacitor changed they are still ready.
"""

from __future__ import annotations

import hashlib
import threading
from collections.abc import Callable, Hashable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from dsp.errors import InputError
from dsp.sound.live_level import TakeSpectra, take_spectra
from dsp.takes.performance import Performance
from dsp.wiring.model import Wiring
from server.files.recent import Recent

Prepare = Callable[[Performance, Wiring, int], None]
"""Plays a score into the cache, at a rate, so that its stems are only read."""
MOST_STEMS, MOST_SPECTRA = 6, 24
OVERVIEW = 400
"""Columns of an overview."""

Samples = NDArray[np.float32]


@dataclass(frozen=True)
class LiveStems:
    """The stems of a take, or of the stretch of it that is played live.

    Attributes
    ----------
    samples : ndarray, shape (n_coils, n_samples), volt
    coil_places : str
        Whether and how the places of the coils are in the sound.
    seconds : float
        Of the whole take.
    """

    coils: tuple[str, ...]
    samples: Samples
    coil_places: str
    seconds: float

    @cached_property
    def digest(self) -> str:
        """SHA-256 of names and samples."""
        found = hashlib.sha256("\n".join(self.coils).encode())
        found.update(np.ascontiguousarray(self.samples).data)
        return found.hexdigest()

    def overview(self) -> list[float]:
        """Return the peak of all coils per column, from 0 to 1 of the largest."""
        parts = np.array_split(np.abs(self.samples).max(axis=0, initial=0.0), OVERVIEW)
        peaks = np.array([part.max(initial=0.0) for part in parts], float)
        top = peaks.max(initial=0.0)
        return [round(float(peak), 4) for peak in (peaks / top if top > 0.0 else peaks)]


class LiveTakes:
    """Makes stems and their spectra, and keeps those used last.

    Parameters
    ----------
    performance_of : callable
        Returns a take by its id; what an id stands for never changes.
    prepare : callable
        Called with performance, wiring and rate before stems are read.
    longest_s : float
        Most of a take that is held at once.
    """

    def __init__(
        self, performance_of: Callable[[str], Performance], prepare: Prepare, rate_hz: int, longest_s: float
    ) -> None:
        self._performance_of, self._prepare = performance_of, prepare
        self._rate_hz, self._longest_s = rate_hz, longest_s
        self._stems: Recent[LiveStems] = Recent(MOST_STEMS)
        self._spectra: Recent[TakeSpectra] = Recent(MOST_SPECTRA)
        self._making: dict[Hashable, threading.Lock] = {}
        self._guard = threading.Lock()

    def stems(self, wiring: Wiring, take: str, *, from_s: float = 0.0) -> LiveStems:
        """Return the stems of a take from a time on, at most ``longest_s``.

        Raises
        ------
        InputError
            If there is no such take, it does not fit the wiring, or it ends before the time.
        """
        key = (take, stem_inputs(wiring), from_s)
        found = self._stems.get(key)
        if found is not None:
            return found
        with self._lock_of(key):  # one thread plays a score; others that want it wait
            return self._stems.get_or_make(key, lambda: self._play(wiring, take, from_s))

    def spectra(self, wiring: Wiring, take: str) -> TakeSpectra:
        """Return the spectra of a take for a wiring; see `stems`."""
        key = (take, stem_inputs(wiring))
        found = self._spectra.get(key)
        if found is not None:
            return found
        stems = self.stems(wiring, take)
        with self._lock_of(("spectra", *key)):
            return self._spectra.get_or_make(key, lambda: take_spectra(stems.samples, self._rate_hz))

    def spectra_ready(self, wiring: Wiring, take: str) -> TakeSpectra | None:
        """Return the spectra if they need no computing, or None."""
        return self._spectra.get((take, stem_inputs(wiring)))

    def _lock_of(self, key: Hashable) -> threading.Lock:
        with self._guard:
            return self._making.setdefault(key, threading.Lock())

    def _play(self, wiring: Wiring, take: str, from_s: float) -> LiveStems:
        performance = self._performance_of(take)
        if not 0.0 <= from_s < max(performance.seconds, 1e-9):
            raise InputError("from_s", f"{from_s:g} s", f"0 to {performance.seconds:g} s")
        self._prepare(performance, wiring, self._rate_hz)
        first, most = round(from_s * self._rate_hz), round(self._longest_s * self._rate_hz)
        found: list[Samples] = []
        at = taken = 0
        for block in performance.stems(wiring, self._rate_hz):
            part = block[:, max(first - at, 0) :][:, : most - taken]
            at += block.shape[1]
            taken += part.shape[1]
            if part.shape[1]:
                found.append(np.nan_to_num(part, posinf=0.0, neginf=0.0).astype(np.float32))
            if taken >= most:
                break
        coils = tuple(wiring.coils)
        samples = np.concatenate(found, axis=1) if found else np.zeros((len(coils), 0), np.float32)
        samples.flags.writeable = False
        return LiveStems(coils, samples, performance.coil_places(wiring), performance.seconds)


def stem_inputs(wiring: Wiring) -> Hashable:
    """Return all of a wiring that its stems depend on."""
    coils = tuple(
        (name, coil.at_m, coil.aperture_m, coil.string_sign, coil.sensitivity, coil.string_balance_db)
        for name, coil in wiring.coils.items()
    )
    return (coils, repr(wiring.instrument))
