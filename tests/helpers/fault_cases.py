"""Guitars with a drawn fault, read with the meter's and the rig's errors."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from dsp.checking.bands import read_with_noise
from dsp.checking.book import Book
from dsp.checking.diagnosis import would_change_nothing
from dsp.checking.directions import make_copies
from dsp.checking.faults import Fault
from dsp.checking.points import predict


@dataclass(frozen=True)
class Case:
    """One guitar: its fault, and what every point of the book reads."""

    fault: Fault
    levels: np.ndarray


def read_one(book: Book, fault: Fault, rng: np.random.Generator) -> Case:
    """Draw the parts of one guitar, compute it exactly and read it."""
    copies = make_copies(fault.wiring, book.directions, rng.standard_normal((1, len(book.directions))))
    seed = int(rng.integers(1 << 30))
    return Case(fault, read_with_noise(predict(fault.wiring, book.points, copies), book.points, seed)[0])


def sound_cases(book: Book, count: int, seed: int) -> Iterator[Case]:
    """Yield guitars without a fault."""
    rng = np.random.default_rng(seed)
    for _ in range(count):
        yield read_one(book, book.faults[0], rng)


def faulty_cases(book: Book, count: int, seed: int, *, seen: bool = False) -> Iterator[Case]:
    """Yield guitars with a fault drawn by its prior; with ``seen``, of those that change a reading."""
    rng = np.random.default_rng(seed)
    unseen = {fault.text for fault in would_change_nothing(book)} if seen else set()
    faults = [fault for fault in book.faults[1:] if fault.text not in unseen]
    prior = np.array([fault.prior for fault in faults])
    for _ in range(count):
        yield read_one(book, faults[rng.choice(len(faults), p=prior / prior.sum())], rng)
