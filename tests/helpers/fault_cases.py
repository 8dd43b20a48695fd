"""Guitars with a drawn fault, read with the meter's and the rig's errors."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from dsp.checking.bands import read_with_noise
from dsp.checking.book import Book
from dsp.checking.diagnosis import would_change_nothing
from dsp.checking.exciter import bring_to_level, predict_all, signed_level, transfer_of_level
from dsp.checking.faults import ADDED, Fault


@dataclass(frozen=True)
class Case:
    """One guitar: its fault, and what every point of the book reads."""

    fault: Fault
    levels: np.ndarray


def read_one(book: Book, fault: Fault, rng: np.random.Generator) -> Case:
    """Draw the parts of one guitar, compute it exactly and read it."""
    steps = rng.standard_normal((1, len(book.directions)))
    seed = int(rng.integers(1 << 30))
    levels = predict_all(fault.wiring, book.points, book.directions, steps, book.rig)
    read = read_with_noise(levels, book.points, seed)[0]
    return Case(fault, _by_exciter(book, levels[0], read, np.random.default_rng(seed + 1)))


def _by_exciter(book: Book, exact: np.ndarray, read: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Put what an exciter and a blade read in its place: of any strength, either way round."""
    told = [i for i, point in enumerate(book.points) if point.kind == "exciter"]
    pulses = [i for i, point in enumerate(book.points) if point.kind == "blade"]
    if told:
        transfer = transfer_of_level(exact[told])
        error = rng.standard_normal((2, len(told)))
        transfer = transfer + 0.015 * transfer * error[0] + 0.03 * np.abs(transfer).max() * error[1]
        strength = rng.choice((-1, 1)) * 10 ** rng.uniform(-3.0, -1.0)
        points = [book.points[i] for i in told]
        brought = bring_to_level(book.faults[0].wiring, points, strength * transfer, book.rig)
        read[told] = signed_level(brought)
    if pulses:
        heard = np.where(
            np.abs(exact[pulses]) > 0.3, np.sign(exact[pulses]), rng.choice((-1.0, 1.0), len(pulses))
        )
        read[pulses] = rng.choice((-1, 1)) * heard
    return read


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


OFF_LIST = {"cold": (1e3, 40e3), "leak": (20e3, 1e6), "value": (0.15, 6.0)}
"""Ohms of cold joints and leaks, factors of capacitors: ends of what is drawn, on a logarithmic scale."""


def off_list_cases(book: Book, count: int, seed: int) -> Iterator[Case]:
    """Yield guitars with a fault whose value is none of the book's, a third of each kind.

    Their `fault` is one of the book's at the same place.
    """
    rng = np.random.default_rng(seed)
    capacitor = ("capacitance_f",)
    by_kind = {
        kind: [
            one
            for one in book.faults
            if one.kind == kind
            and (kind != "value" or hasattr(one.wiring.parts[one.terminals[0][0]], *capacitor))
        ]
        for kind in OFF_LIST
    }
    for i in range(count):
        kind = list(OFF_LIST)[i % len(OFF_LIST)]
        fault = by_kind[kind][rng.integers(len(by_kind[kind]))]
        value = float(np.exp(rng.uniform(*np.log(OFF_LIST[kind]))))
        name = fault.terminals[0][0] if kind == "value" else ADDED
        own = book.faults[0].wiring.parts.get(name)
        changed = (
            replace(own, capacitance_f=own.capacitance_f * value)  # type: ignore[union-attr,type-var]
            if kind == "value"
            else replace(fault.wiring.parts[name], resistance_ohm=value)  # type: ignore[type-var]
        )
        parts = {**fault.wiring.parts, name: changed}
        case = read_one(book, replace(fault, wiring=replace(fault.wiring, parts=parts)), rng)
        yield Case(fault, case.levels)


def same_place(one: Fault, other: Fault) -> bool:
    """Whether two faults are one but for the value."""
    at = (one.terminals, other.terminals) if one.kind == "value" else (one.place, other.place)
    return one.kind == other.kind and at[0] == at[1]
