"""Joinings that a five-position blade with in-between positions may need.

Its in-between positions join all that both neighbours join. So three outer positions stand in a chain,
and the sound between two of them is that of their joinings put together, or of a still coarser one where
joints of lugs alone tie more. The joints that all positions tie may as well be soldered: the permanent
joining is then what the three have in common, and each of them is a few contacts away from it.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from dsp.lugs.exhaustive.joinings import Joinings, Words, bits_of
from dsp.lugs.exhaustive.sets import NOISE_DB, Apart


class Chains:
    """Chains of three outer positions with sounds between them.

    Parameters
    ----------
    reach : list of ndarray
        From `Joinings.reach`.
    n_contacts : int
        Contacts that an outer position closes; an in-between position closes twice as many.
    """

    def __init__(
        self, every: Joinings, sound: NDArray[np.int64], reach: Sequence[Words], apart: Apart, n_contacts: int
    ) -> None:
        self._every, self._reach, self._apart, self._n = every, reach, apart, n_contacts
        self._live = np.flatnonzero(sound >= 0)
        self._sound = sound[self._live]
        self._together = _together(every.labels)
        self._live_together = self._together[self._live]
        self._live_counts = every.counts[self._live]

    def has_one(self, number: int, limit_db: float) -> bool:
        """Return whether a joining may have a chart at a limit or above."""
        mine, n_joints = self._together[number], int(self._every.counts[number])
        near = (self._live_together & mine == mine) & (self._live_counts >= n_joints - self._n)
        places = np.flatnonzero(near)
        if len(places) < 3 or np.bitwise_and.reduce(self._live_together[places]) != mine:
            return False
        graph = self._apart.graph(limit_db)
        sounds: list[int] = self._sound[places].tolist()
        one, two = np.triu_indices(len(places), 1)
        keep = (
            self._apart.distances[self._sound[places[one]], self._sound[places[two]]] >= limit_db - NOISE_DB
        )
        one, two = one[keep], two[keep]
        self._apart.work.step(len(keep) + len(one))
        labels = self._every.labels[self._live[places]]
        both = self._every.find(_joined(labels[one], labels[two]))
        beside: dict[int, list[tuple[int, int]]] = {}
        for i, j, row in zip(one.tolist(), two.tolist(), both.tolist(), strict=True):
            if row < 0:
                continue
            left = 2 * self._n - (n_joints - int(self._every.counts[row]))
            between = bits_of(self._reach[left][row]) & graph[sounds[i]] & graph[sounds[j]]
            if between:
                beside.setdefault(i, []).append((j, between))
                beside.setdefault(j, []).append((i, between))
        together: list[int] = self._live_together[places].tolist()
        return any(
            together[k] & together[i] & together[j] == mine
            and graph[sounds[i]] >> sounds[j] & 1
            and self._fit([sounds[k], sounds[i], sounds[j]], first, second, graph)
            for k, others in beside.items()
            for n, (i, first) in enumerate(others)
            for j, second in others[:n]
        )

    def _fit(self, outer: list[int], first: int, second: int, graph: list[int]) -> bool:
        """Return whether two sounds between make three outer ones a whole set."""
        near = graph[outer[0]] & graph[outer[1]] & graph[outer[2]]
        first, second = first & near, second & near
        while first:
            low = first & -first
            first ^= low
            one = low.bit_length() - 1
            if self._apart.can_end(second & graph[one], [*outer, one]):
                return True
        return False


def _together(labels: NDArray[np.uint8]) -> NDArray[np.int64]:
    """Return which pairs of ends are joined, as bits, shape (n,)."""
    found = np.zeros(len(labels), np.int64)
    place = 0
    for end in range(1, labels.shape[1]):
        for other in range(end):
            found |= (labels[:, end] == labels[:, other]).astype(np.int64) << place
            place += 1
    return found


def _joined(first: NDArray[np.uint8], second: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Return the labels of pairs of joinings put together, shape (n, n_ends)."""
    labels, line = first.copy(), np.arange(len(first))
    for end in range(1, first.shape[1]):
        one, other = labels[line, second[:, end]], labels[:, end]
        low, high = np.minimum(one, other)[:, None], np.maximum(one, other)[:, None]
        labels = np.where(labels == high, low, labels)
    return labels
