"""Single notes of real guitars from two of Debian's packages, and lines, dyads and chords mixed of them.

The packages are freepats (GPL-2 with an exception) and fluid-soundfont-gm (MIT). They are used as data
only; nothing of them is kept here. Both formats are read as far as single notes need.
"""

from __future__ import annotations

import os
import struct
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.ndimage import map_coordinates
from scipy.signal import resample_poly

from dsp.tracking.pitch import RATE_HZ, track_pitch

Floats = NDArray[np.float64]

PATCHES = Path("/usr/share/midi/freepats/Tone_000")
BANK = Path("/usr/share/sounds/sf2/FluidR3_GM.sf2")
IN_PATCHES = ("024_Nylon_Guitar", "025_Steel_Guitar", "026_Jazz_Guitar", "027_Clean_Electric_Guitar")
IN_BANK = ("Clean F", "Jazz Guitar", "Steel ", "Nylon ")
PATCH_HEADER, SAMPLE_HEADER = 239, 96
SHARP_ST = 3.2
"""Semitones by which a recorded note is moved at most."""
CHORDS = {
    "fifth and octave": (0, 7, 12), "major": (0, 4, 7), "minor": (0, 3, 7), "fourth": (0, 5, 7),
    "seventh": (0, 4, 7, 10), "ninth": (0, 4, 7, 14), "open major": (0, 7, 12, 16, 19, 24),
    "open minor": (0, 7, 12, 15, 19, 24),
}  # fmt: skip
HARMONIC = (12, 19, 24)
"""Intervals, in semitones, whose upper note has all its partials among the lower's."""


@dataclass(frozen=True)
class Item:
    """Something played: its kind is single, line, dyad, chord or octave."""

    name: str
    kind: str
    samples: Floats


def sets_of_notes() -> dict[str, list[tuple[float, Floats]]]:
    """Return pitch and samples of every note at the tracking rate, by guitar."""
    for path in (PATCHES, BANK):
        if not path.exists():
            if os.environ.get("CI") == "true":
                pytest.fail(f"{path} is missing; CI must install freepats and fluid-soundfont-gm")
            pytest.skip(f"{path} is missing")
    found = {name: list(_patch(PATCHES / f"{name}.pat")) for name in IN_PATCHES}
    bank = list(_bank(BANK))
    found |= {
        f"bank: {key}": [x for name, x in bank if name.startswith(key) and "Drum" not in name]
        for key in IN_BANK
    }
    return {
        name: sorted(((_pitch(x), x) for x in notes), key=lambda n: n[0]) for name, notes in found.items()
    }


def _patch(path: Path) -> Iterator[Floats]:
    data = path.read_bytes()
    at = PATCH_HEADER
    for _ in range(data[198]):
        size, rate_hz = struct.unpack_from("<I8xH", data, at + 8)
        samples = np.frombuffer(data, "<i2", size // 2, at + SAMPLE_HEADER) / 32768.0
        yield _from_onset(samples, rate_hz)
        at += SAMPLE_HEADER + size


def _bank(path: Path) -> Iterator[tuple[str, Floats]]:
    data = path.read_bytes()
    chunks, at = {}, 12
    while at < len(data):
        size = struct.unpack_from("<I", data, at + 4)[0]
        inner, end = at + 12, at + 8 + size
        while data[at : at + 4] == b"LIST" and inner < end:
            length = struct.unpack_from("<I", data, inner + 4)[0]
            chunks[data[inner : inner + 4]] = (inner + 8, length)
            inner += 8 + length + (length & 1)
        at += 8 + size + (size & 1)
    first, length = chunks[b"shdr"]
    for header in range(first, first + length - 46, 46):
        start, end, _, _, rate_hz = struct.unpack_from("<5I", data, header + 20)
        name = data[header : header + 20].split(b"\0")[0].decode("latin-1")
        if name.startswith(IN_BANK):
            samples = np.frombuffer(data, "<i2", end - start, chunks[b"smpl"][0] + 2 * start) / 32768.0
            yield name, _from_onset(samples, rate_hz)


def _from_onset(samples: Floats, rate_hz: int) -> Floats:
    rate_hz = round(rate_hz / 100) * 100
    shared = int(np.gcd(rate_hz, RATE_HZ))
    samples = resample_poly(samples - np.mean(samples), RATE_HZ // shared, rate_hz // shared)
    onset = int(np.argmax(np.abs(samples) > 0.05 * np.max(np.abs(samples))))
    return samples[max(onset - 80, 0) :] / np.sqrt(np.mean(np.square(samples[onset : onset + 4000])))


def _pitch(samples: Floats) -> float:
    track = track_pitch(samples[800:16_800], 60.0, 1400.0)
    return float(np.nanmedian(track.pitch_hz))


def items(notes: list[tuple[float, Floats]], name: str, count: int, seed: int) -> Iterator[Item]:
    """Yield the notes alone and ``count`` of each kind of mix, with noise and hum at -40 dB or less."""
    rng = np.random.default_rng(seed)
    low_hz, high_hz = notes[0][0], notes[-1][0]

    def at(hz: float) -> Floats:
        near_hz, samples = min(notes, key=lambda note: abs(np.log2(note[0] / hz)))
        return map_coordinates(samples, [np.arange(0.0, len(samples) - 1.0, hz / near_hz)], order=3)

    def near(hz: float) -> bool:
        return min(abs(12.0 * np.log2(note[0] / hz)) for note in notes) <= SHARP_ST

    def somewhere(up: float) -> float:
        return float(low_hz * 2.0 ** rng.uniform(0.0, max(np.log2(high_hz / low_hz) - up / 12.0, 0.1)))

    for hz, samples in notes:
        yield Item(f"{name} {hz:.0f}", "single", _dirty(samples, rng))
    for _ in range(count):
        yield Item(f"{name} line", "line", _dirty(_line(at, somewhere(12.0), (low_hz, high_hz), rng), rng))
        hz = float(np.clip(somewhere(0.0), low_hz, high_hz))
        for kind, curve in _curves(rng).items():
            yield Item(
                f"{name} {kind} {hz:.0f}", "line", _dirty(_moved(at(hz)[: 3 * RATE_HZ // 2], curve), rng)
            )
    made = 0
    while made < 4 * count:
        up = int(rng.choice([one for one in range(1, 23) if one not in HARMONIC]))
        hz, after_s = somewhere(up), float(rng.choice([0.0, 0.02, 0.1, 0.4]))
        if near(hz) and near(hz * 2.0 ** (up / 12.0)):
            made += 1
            upper = at(hz * 2.0 ** ((up + rng.uniform(-0.04, 0.04)) / 12.0)) * 10.0 ** (
                rng.uniform(-6.0, 6.0) / 20.0
            )
            yield Item(
                f"{name} {hz:.0f} and {up} up", "dyad", _dirty(_mixed([(0.0, at(hz)), (after_s, upper)]), rng)
            )
    for _ in range(2 * count):
        chord, hz, apart_s = (
            str(rng.choice(list(CHORDS))),
            somewhere(12.0),
            float(rng.choice([0.0, 0.015, 0.05])),
        )
        tuned = [
            (i, hz * 2.0 ** ((up + rng.uniform(-0.04, 0.04)) / 12.0)) for i, up in enumerate(CHORDS[chord])
        ]
        parts = [(i * apart_s, at(f) * 10.0 ** (rng.uniform(-4.0, 0.0) / 20.0)) for i, f in tuned if near(f)]
        if len(parts) > 2:
            yield Item(f"{name} {chord} {hz:.0f}", "chord", _dirty(_mixed(parts), rng))
    for up in HARMONIC[:2]:
        hz = somewhere(up)
        yield Item(
            f"{name} {hz:.0f} and {up} up",
            "octave",
            _dirty(_mixed([(0.0, at(hz)), (0.0, at(hz * 2.0 ** (up / 12.0)))]), rng),
        )


def _line(
    at: Callable[[float], Floats], hz: float, ends_hz: tuple[float, float], rng: np.random.Generator
) -> Floats:
    seconds, over_s = float(rng.choice([0.25, 0.4, 0.6])), float(rng.choice([0.0, 0.05, 0.1]))
    parts = []
    for i, up in enumerate(rng.integers(-5, 8, 8)):
        pitch_hz = float(np.clip(hz * 2.0 ** (up / 12.0), 0.85 * ends_hz[0], 1.18 * ends_hz[1]))
        note = _faded(at(pitch_hz)[: round((seconds + over_s) * RATE_HZ)])
        parts.append((i * seconds, note * rng.uniform(0.6, 1.0)))
    return _mixed(parts, 8.0)


def _curves(rng: np.random.Generator) -> dict[str, Callable[[Floats], Floats]]:
    depth, rate_hz, over_s = rng.uniform(0.15, 0.5), rng.uniform(4.0, 6.5), rng.uniform(0.1, 0.4)
    bent, slid = float(rng.choice([1, 2, 3])), float(rng.choice([5, 7, -5]))
    return {
        "vibrato": lambda t: depth * np.sin(2.0 * np.pi * rate_hz * t) * np.clip(t / 0.2, 0.0, 1.0),
        "bend": lambda t: bent * np.clip((t - 0.3) / over_s, 0.0, 1.0),
        "slide": lambda t: slid * np.clip((t - 0.3) / (0.75 * over_s), 0.0, 1.0),
    }


def _moved(samples: Floats, curve: Callable[[Floats], Floats]) -> Floats:
    at = np.cumsum(2.0 ** (curve(np.arange(len(samples)) / RATE_HZ) / 12.0))
    return map_coordinates(samples, [at[at < len(samples) - 1]], order=3)


def _mixed(parts: list[tuple[float, Floats]], seconds: float = 2.0) -> Floats:
    made = np.zeros(max(round(start_s * RATE_HZ) + len(one) for start_s, one in parts))
    for start_s, one in parts:
        made[round(start_s * RATE_HZ) :][: len(one)] += one
    return _faded(made[: round(seconds * RATE_HZ)])


def _faded(samples: Floats) -> Floats:
    over = min(320, len(samples))
    return np.concatenate([samples[:-over], samples[-over:] * np.linspace(1.0, 0.0, over)])


def _dirty(samples: Floats, rng: np.random.Generator) -> Floats:
    """Add noise and mains hum 40 to 60 dB below, and a pause at either end; scale to a peak of 1."""
    padded = np.pad(samples, 4000)
    loud, t = float(np.sqrt(np.mean(np.square(samples)))), np.arange(len(padded)) / RATE_HZ
    mains_hz = float(rng.choice([50.0, 60.0]))
    hum = sum(np.sin(2.0 * np.pi * mains_hz * n * t + n) / n for n in (1, 2, 3, 4))
    hum_db, noise_db = rng.uniform(-60.0, -40.0, 2)
    padded = padded + loud * 10.0 ** (hum_db / 20.0) * hum
    padded = padded + loud * 10.0 ** (noise_db / 20.0) * rng.standard_normal(len(padded))
    return padded / np.max(np.abs(padded))
