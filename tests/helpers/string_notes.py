"""Which real notes may set a constant of the strings, and which only judge: the one place of the split.

Written down before anything was fitted. The guitar is the clean electric one of Debian's freepats; its
notes were split by turns, so that either half has wound and plain strings, low and high. A study before
this work had seen all of them, the second half too. The other guitar, of Debian's fluid-soundfont-gm, was
measured only once the constants stood. Nothing of either package is kept here.
"""

from __future__ import annotations

import os
import struct
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from real_notes import BANK, PATCH_HEADER, PATCHES, SAMPLE_HEADER

Floats = NDArray[np.float64]

FIT_HZ = (82.4, 146.8, 246.9, 392.0, 659.2)
"""Notes that may set constants."""
HELD_HZ = (110.0, 196.0, 329.6, 466.1)
"""Notes kept aside: they judge."""
ASIDE = ("Clean F10", "Clean F20", "Clean F30", "Clean F40", "Clean F50", "Clean F60")
"""Open strings of another guitar, lowest first, kept aside until the constants stood."""
ASIDE_HZ = (82.4, 110.0, 146.8, 196.0, 246.9, 329.6)

PICKED_FIT, PICKED_HELD = slice(0, None, 2), slice(1, None, 2)
"""Notes of `PICKED_PATCH`, lowest first, that may set a constant of the pick's contact, and those that judge.
Both halves had been seen before, only as a level over all of them."""
PICKED_ASIDE = ("Jazz Guitar", "Clean F")
"""Beginnings of names in Debian's fluid-soundfont-gm: two more guitars that judge the contact."""

PATCH, PICKED_PATCH = "027_Clean_Electric_Guitar", "026_Jazz_Guitar"
LOOP_START = 12
"""Offset of the loop's start in a patch's header of a sample, bytes; its pitch is at 30, in millihertz."""


@dataclass(frozen=True)
class Recorded:
    """One real note from its onset, or its file's start, to the loop that the package made of its end."""

    hz: float
    samples: Floats
    rate_hz: int


def clean_notes() -> dict[float, Recorded]:
    """Return every note of the clean guitar by its nominal pitch."""
    return {note.hz: replace(note, samples=_from_onset(note.samples)) for note in _patch(PATCH)}


def picked_notes() -> list[Recorded]:
    """Return the notes of the guitar whose files begin before the pick lets go, lowest first."""
    return _patch(PICKED_PATCH)


def _patch(name: str) -> list[Recorded]:
    _require(PATCHES, "freepats")
    data = (PATCHES / f"{name}.pat").read_bytes()
    found, at = [], PATCH_HEADER
    for _ in range(data[198]):
        size, loop = struct.unpack_from("<II", data, at + 8)
        (rate_hz,) = struct.unpack_from("<H", data, at + 20)
        (root,) = struct.unpack_from("<I", data, at + 30)
        samples = np.frombuffer(data, "<i2", min(loop, size) // 2, at + SAMPLE_HEADER) / 32768.0
        found.append(Recorded(round(root / 1000.0, 1), samples, rate_hz))
        at += SAMPLE_HEADER + size
    return found


def aside_notes() -> dict[str, Recorded]:
    """Return the open strings of the other guitar by name."""
    return {
        name: Recorded(ASIDE_HZ[ASIDE.index(name)], _from_onset(samples), rate_hz)
        for name, samples, rate_hz in _bank_samples()
        if name in ASIDE
    }


def picked_aside(begins: str) -> list[Recorded]:
    """Return another guitar's notes, pitch unknown, from their files' start."""
    return [
        Recorded(0.0, samples, rate_hz)
        for name, samples, rate_hz in _bank_samples()
        if name.startswith(begins)
    ]


def _bank_samples() -> Iterator[tuple[str, Floats, int]]:
    """Yield name, samples up to the loop and rate of all that the bank holds."""
    _require(BANK, "fluid-soundfont-gm")
    data = BANK.read_bytes()
    start_of, length = _headers(data)
    first = _samples_at(data)
    for at in range(start_of, start_of + length - 46, 46):
        name = data[at : at + 20].split(b"\0")[0].decode("latin-1")
        start, _, loop, _, rate_hz = struct.unpack_from("<5I", data, at + 20)
        if loop > start:
            yield name, np.frombuffer(data, "<i2", loop - start, first + 2 * start) / 32768.0, rate_hz


def _require(path: Path, package: str) -> None:
    if not path.exists():
        if os.environ.get("CI") == "true":
            pytest.fail(f"Debian's {package} is missing; CI must install it")
        pytest.skip(f"Debian's {package} is missing")


def _from_onset(samples: Floats) -> Floats:
    samples = samples - np.mean(samples)
    onset = int(np.argmax(np.abs(samples) > 0.05 * np.max(np.abs(samples))))
    return np.asarray(samples[max(onset - 8, 0) :])


def _chunks(data: bytes) -> dict[bytes, tuple[int, int]]:
    chunks, at = {}, 12
    while at < len(data):
        size = struct.unpack_from("<I", data, at + 4)[0]
        inner, end = at + 12, at + 8 + size
        while data[at : at + 4] == b"LIST" and inner < end:
            length = struct.unpack_from("<I", data, inner + 4)[0]
            chunks[data[inner : inner + 4]] = (inner + 8, length)
            inner += 8 + length + (length & 1)
        at += 8 + size + (size & 1)
    return chunks


def _headers(data: bytes) -> tuple[int, int]:
    return _chunks(data)[b"shdr"]


def _samples_at(data: bytes) -> int:
    return _chunks(data)[b"smpl"][0]
