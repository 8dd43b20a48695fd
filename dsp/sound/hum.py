"""Hum of the mains that a room induces in coils, added to a take's stems.

A uniform field along the coils' axes, odd harmonics of the mains, always on: in pauses and in the take's
tail too. Each coil's EMF is N A dB/dt, signed by its winding alone, so what cancels cancels as soldered.
Two coils of a pair are never quite alike: those wound forward have 0.5 to 1.5 % more than stated, those
wound in reverse as much less, by a number drawn from the coil's name. A pair then leaves 30 to 40 dB less
than one coil.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from math import gcd, pi, sqrt
from typing import Any

import numpy as np
from numpy.typing import NDArray

from dsp.errors import InputError
from dsp.parts.coil import USUAL_HUM_M2
from dsp.wiring.model import Wiring

Floats = NDArray[np.float64]

MAINS_HZ = (50.0, 60.0)
HARMONICS: Mapping[int, float] = {1: 1.0, 3: 0.3, 5: 0.15, 7: 0.1, 9: 0.06, 11: 0.04, 13: 0.03}
"""Flux density of the odd harmonics, of the first's. From memory; no published table was found. Times their
frequency the first four are nearly level: what is heard is a buzz."""
UNLIKE = (0.005, 0.015)
"""Share by which a coil's turns times area are off, our own choice within what winding machines leave."""


@dataclass(frozen=True)
class Room:
    """How strong the field of a room is.

    Attributes
    ----------
    about : str
        For people.
    tesla : float
        Flux density of the first harmonic, rms.
    """

    about: str
    tesla: float


ROOMS: Mapping[str, Room] = {
    "quiet": Room("a quiet room", 0.1e-6),
    "stage": Room("a stage with lamps and cables", 1e-6),
    "amplifier": Room("beside the amplifier's transformer", 3e-6),
}
"""Rooms in words, the quietest first. 0.1 µT is the mean that surveys of homes print, with up to 0.2 µT away
from machines; a stage's 1 µT is from memory, as are 1 to 5 µT half a metre from a transformer."""


@dataclass(frozen=True)
class Hum:
    """A room and its mains.

    Attributes
    ----------
    room : str
        Of `ROOMS`.
    mains_hz : float
        Of `MAINS_HZ`.
    """

    room: str
    mains_hz: float = MAINS_HZ[0]

    @property
    def text(self) -> str:
        """The hum in words, for tags and lists."""
        room = ROOMS[self.room]
        return f"{room.about}, {1e6 * room.tesla:g} µT at {self.mains_hz:g} Hz"


HUM_ALLOWED = f"{', '.join(ROOMS)}, then perhaps a comma and {' or '.join(f'{hz:g} Hz' for hz in MAINS_HZ)}"


def read_hum(text: str) -> Hum:
    """Read a room, and its mains where they are given: ``stage, 60 Hz``.

    Raises
    ------
    InputError
        If there is no such room, or it has other mains.
    """
    room, comma, mains = (part.strip() for part in text.partition(","))
    by_text = {f"{hz:g}": hz for hz in MAINS_HZ}
    mains_hz = by_text.get(mains.lower().removesuffix("hz").strip()) if comma else MAINS_HZ[0]
    if room not in ROOMS or mains_hz is None:
        raise InputError("hum", f"'{text}'", HUM_ALLOWED)
    return Hum(room, mains_hz)


def pick_up_m2(wiring: Wiring) -> Floats:
    """Return each coil's signed turns times area, m², shape (n_coils,)."""
    found = []
    for name, coil in wiring.coils.items():
        least, most = UNLIKE
        drawn = int.from_bytes(hashlib.sha256(name.encode()).digest()[:4], "big") / 2.0**32
        off = coil.winding * (least + (most - least) * drawn)
        found.append(coil.winding * coil.hum_pick_up * USUAL_HUM_M2 * (1.0 + off))
    return np.array(found)


def hum_per_m2(hum: Hum, rate_hz: float, start: int, count: int) -> Floats:
    """Return the EMF in a loop of one turn and 1 m², shape (count,), volt.

    Parameters
    ----------
    start : int
        First sample.
    """
    seconds = np.arange(start, start + count) / rate_hz
    return _emf_per_m2(ROOMS[hum.room].tesla, hum.mains_hz, seconds)


def _emf_per_m2(tesla: float, mains_hz: float, seconds: Floats) -> Floats:
    total = np.zeros(len(seconds))
    for number, share in HARMONICS.items():
        pulse = 2.0 * pi * number * mains_hz
        total += pulse * sqrt(2.0) * share * tesla * np.sin(pulse * seconds)
    return total


def hum_record(rate_hz: int) -> dict[str, Any]:
    """Return every room's hum in plain numbers, for the page's player.

    Returns
    -------
    dict
        ``rooms`` with name, words and field (µT); ``mains`` with frequency, ``wave``, which repeats without
        a seam, and ``partials`` as pairs of frequency and rms: volt in one turn and 1 m² at 1 µT.
    """
    return {
        "rate_hz": rate_hz,
        "rooms": [
            {"name": name, "about": room.about, "microtesla": round(1e6 * room.tesla, 9)}
            for name, room in ROOMS.items()
        ],
        "mains": [_mains_record(mains_hz, rate_hz) for mains_hz in MAINS_HZ],
    }


def _mains_record(mains_hz: float, rate_hz: int) -> dict[str, Any]:
    seconds = np.arange(rate_hz // gcd(rate_hz, round(mains_hz))) / rate_hz
    pairs = [(number * mains_hz, 2.0 * pi * number * mains_hz * share) for number, share in HARMONICS.items()]
    return {
        "hz": mains_hz,
        "wave": _emf_per_m2(1e-6, mains_hz, seconds).tolist(),
        "partials": [[hz, 1e-6 * rms] for hz, rms in pairs],
    }


def add_hum(blocks: Iterable[Floats], wiring: Wiring, hum: Hum, rate_hz: float) -> Iterator[Floats]:
    """Add a room's hum to the stems of a take.

    Parameters
    ----------
    blocks : iterable of ndarray, shape (n_coils, n), volt

    Yields
    ------
    ndarray, shape (n_coils, n), volt
    """
    areas, start = pick_up_m2(wiring), 0
    for block in blocks:
        count = block.shape[1]
        yield block + areas[:, None] * hum_per_m2(hum, rate_hz, start, count)
        start += count
