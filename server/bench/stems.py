"""Takes made ready for the page: their stems in one piece, and the spectra that levels are matched by.

Both depend on a wiring through its coils and strings alone, and are kept by these: turning a
knob, or changing a capacitor, finds them ready.
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
from dsp.wiring.model import Wiring
from server.bench.hearing import RATE_HZ, Kept
from server.takes.performance import Performance
from server.takes.playing import PlayingProcess

LONGEST_S = 180.0
"""Of a take that is held whole in a page's memory; four coils at 48 kHz are then 138 MB."""
MOST_STEMS, MOST_SPECTRA = 6, 24
OVERVIEW = 400
"""Columns of an overview."""

Samples = NDArray[np.float32]


@dataclass(frozen=True)
class LiveStems:
    """The stems of a take, or of the stretch of it that is heard live.

    Attributes
    ----------
    coils : tuple of str
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
        """Peak of all coils per column, 0 to 1 of the largest."""
        parts = np.array_split(np.abs(self.samples).max(axis=0, initial=0.0), OVERVIEW)
        peaks = np.array([part.max(initial=0.0) for part in parts], float)
        top = peaks.max(initial=0.0)
        return [round(float(peak), 4) for peak in (peaks / top if top > 0.0 else peaks)]


class LiveTakes:
    """Makes stems and their spectra, and keeps those last used.

    Parameters
    ----------
    performance_of : callable
        Gives a take by its id; what an id stands for never changes.
    """

    def __init__(self, performance_of: Callable[[str], Performance]) -> None:
        self._performance_of = performance_of
        self._stems: Kept[LiveStems] = Kept(MOST_STEMS)
        self._spectra: Kept[TakeSpectra] = Kept(MOST_SPECTRA)
        self._playing = PlayingProcess()
        self._making: dict[Hashable, threading.Lock] = {}
        self._guard = threading.Lock()

    def stems(self, wiring: Wiring, take: str, *, from_s: float = 0.0) -> LiveStems:
        """The stems of a take for a wiring, from a time on, at most `LONGEST_S`.

        Raises
        ------
        InputError
            If there is no such take, it does not fit the wiring, or is over before the time.
        """
        key = (take, heard_by(wiring), from_s)
        found = self._stems.get(key)
        if found is not None:
            return found
        with self._lock_of(key):  # one thread plays a score; others that want it wait
            return self._stems.of(key, lambda: self._play(wiring, take, from_s))

    def spectra(self, wiring: Wiring, take: str) -> TakeSpectra:
        """The spectra of a take for a wiring; see `stems`."""
        key = (take, heard_by(wiring))
        found = self._spectra.get(key)
        if found is not None:
            return found
        stems = self.stems(wiring, take)
        with self._lock_of(("spectra", *key)):
            return self._spectra.of(key, lambda: take_spectra(stems.samples, RATE_HZ))

    def spectra_ready(self, wiring: Wiring, take: str) -> TakeSpectra | None:
        """The spectra if they need no computing, or None."""
        return self._spectra.get((take, heard_by(wiring)))

    def close(self) -> None:
        """End what is being played."""
        self._playing.close()

    def _lock_of(self, key: Hashable) -> threading.Lock:
        with self._guard:
            return self._making.setdefault(key, threading.Lock())

    def _play(self, wiring: Wiring, take: str, from_s: float) -> LiveStems:
        performance = self._performance_of(take)
        if not 0.0 <= from_s < max(performance.seconds, 1e-9):
            raise InputError("from_s", f"{from_s:g} s", f"0 to {performance.seconds:g} s")
        self._playing.prepare(performance, wiring, RATE_HZ)
        first, most = round(from_s * RATE_HZ), round(LONGEST_S * RATE_HZ)
        found: list[Samples] = []
        at = taken = 0
        for block in performance.stems(wiring, RATE_HZ):
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


def heard_by(wiring: Wiring) -> Hashable:
    """All of a wiring that its stems depend on."""
    coils = tuple(
        (name, coil.at_m, coil.aperture_m, coil.string_sign, coil.sensitivity, coil.string_balance_db)
        for name, coil in wiring.coils.items()
    )
    return (coils, repr(wiring.instrument))
