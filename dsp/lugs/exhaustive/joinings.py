"""Every way to join the ends of some coils, hot and ground.

A joining divides the ends into joints. Permanent joints are one, and each position of a switch makes
a coarser one of it: a closed contact merges two joints. Ends are numbered: hot, ground, then both
leads of each coil. Each end is labelled by the first end of its joint.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import lru_cache
from math import factorial
from operator import mul

import numpy as np
from numpy.typing import NDArray

from dsp.errors import InputError

Labels = NDArray[np.uint8]
Indices = NDArray[np.int64]
Words = NDArray[np.uint64]

HOT, COLD = 0, 1
MOST_ENDS = 10
"""Hot, ground and four coils have 94,828 joinings; five coils would have 3.5 million."""
WORD = 64


class Joinings:
    """All joinings of some ends in which hot and ground are apart.

    Attributes
    ----------
    labels : ndarray of int, shape (n, n_ends)
        Label of each end.
    counts : ndarray of int, shape (n,)
        Number of joints.

    Examples
    --------
    One coil, its leads hot, ground, free, or joined to one another:

    >>> Joinings(4).labels.shape
    (10, 4)
    """

    def __init__(self, n_ends: int) -> None:
        if not 2 <= n_ends <= MOST_ENDS:
            raise InputError("ends", str(n_ends), f"2 to {MOST_ENDS}: hot, ground and up to four coils")
        labels = np.array([[HOT, COLD]], np.uint8)
        for end in range(2, n_ends):
            labels = np.concatenate(
                [_with(labels[labels[:, first] == first], first) for first in range(end)]
                + [_with(labels, end)]
            )
        self.labels = labels
        self.counts = np.asarray((labels == np.arange(n_ends)).sum(axis=1))
        self._radix = np.array([factorial(end) for end in range(n_ends)], np.int64)
        self._whole_radix = self._radix.tolist()
        self._place = np.full(factorial(n_ends), -1, np.int32)
        self._place[self._code(labels)] = np.arange(len(labels))

    def __len__(self) -> int:
        return len(self.labels)

    def _code(self, labels: Labels) -> Indices:
        return np.asarray(labels.astype(np.int64) @ self._radix)

    def find(self, labels: Labels) -> Indices:
        """Return the numbers of joinings, shape (n,); -1 if hot is on ground.

        Parameters
        ----------
        labels : ndarray of int, shape (n, n_ends)
            Each end labelled by the first end of its joint.
        """
        return np.asarray(self._place[self._code(labels)])

    def number(self, labels: Sequence[int]) -> int:
        """Return the number of one joining; see `find`."""
        return int(self._place[sum(map(mul, labels, self._whole_radix))])

    def contacts(self) -> list[tuple[Indices, Indices]]:
        """Return, per pair of labels, what one contact makes of joinings."""
        found = []
        for second in range(2, self.labels.shape[1]):
            for first in range(second):
                apart = (self.labels[:, first] == first) & (self.labels[:, second] == second)
                rows = np.flatnonzero(apart)
                merged = self.labels[rows]
                found.append((rows, self.find(np.where(merged == second, np.uint8(first), merged))))
        return found

    def reach(
        self, sounds: NDArray[np.int64], n_sounds: int, most: int, step: Callable[[int], None]
    ) -> list[Words]:
        """Return the sounds that up to so many contacts can make of each joining.

        Parameters
        ----------
        sounds : ndarray of int, shape (n,)
            Sound of each joining, -1 for none.
        most : int
            Largest number of contacts.
        step : callable
            Called with the number of joinings worked on; it may raise to end the work.

        Returns
        -------
        list of ndarray of int, shape (n, n_words)
            Sets of bits, for 0, 1, … contacts.
        """
        words = np.zeros((len(self), -(-n_sounds // WORD)), np.uint64)
        rows = np.flatnonzero(sounds >= 0)
        bit = sounds[rows].astype(np.uint64)
        words[rows, bit // WORD] = np.uint64(1) << (bit % np.uint64(WORD))
        found, contacts = [words], self.contacts()
        for _ in range(most):
            more = found[-1].copy()
            for rows, to in contacts:
                step(len(rows))
                more[rows] |= found[-1][to]
            found.append(more)
        return found


def bits_of(words: Words) -> int:
    """Return a set of bits, shape (n_words,), as one integer."""
    return int.from_bytes(words.astype("<u8").tobytes(), "little")


def _with(labels: Labels, label: int) -> Labels:
    return np.concatenate([labels, np.full((len(labels), 1), label, np.uint8)], axis=1)


@lru_cache(maxsize=2)
def joinings(n_ends: int) -> Joinings:
    """Return the joinings of so many ends; the last two are kept."""
    return Joinings(n_ends)
