"""Switches with a throw of its own for each position.

The positions are then free of one another.

Only the common lugs bind them. A pole whose common lies on a joint can tie that joint to any other one,
to a different one in each position. So a position can make a coarser joining if in each of its joints,
made of g joints, the poles there number at least g - 1. A joint of lugs alone with k commons on it
ties k joints anywhere to one another, which is worth k - 1 poles in one place.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from functools import lru_cache
from itertools import combinations_with_replacement

import numpy as np
from numpy.typing import NDArray

from dsp.lugs.exhaustive.joinings import Joinings
from dsp.lugs.exhaustive.sets import Apart
from dsp.lugs.exhaustive.wired import Wired
from dsp.parts.switch import Switch
from dsp.sounds.clique import bits

Spares = tuple[int, ...]


def find_poles(switch: Switch) -> list[tuple[str, tuple[str, ...]]] | None:
    """Return each pole's common lug and its throws, one a position, or None.

    None if a throw serves two positions or a position leaves a pole open.

    Examples
    --------
    >>> from dsp.parts.switch import bridging, shorthand
    >>> find_poles(shorthand(2, 2))
    [('A0', ('A1', 'A2')), ('B0', ('B1', 'B2'))]
    >>> find_poles(bridging(2, 5)) is None
    True
    """
    rows = list(switch.contacts.values())
    poles = []
    for first in rows[0]:
        for common in first:
            groups = [next((group for group in row if common in group), ()) for row in rows]
            throws = tuple(next((lug for lug in group if lug != common), "") for group in groups)
            if all(len(group) == 2 for group in groups) and len(set(throws)) == len(rows):
                poles.append((common, throws))
                break
        else:
            return None
    lugs = [lug for common, throws in poles for lug in (common, *throws)]
    whole = all(len(row) == len(poles) for row in rows) and len(set(lugs)) == len(lugs)
    return poles if poles and whole else None


class FreeThrows:
    """Best sets of one joining after the other on such a switch."""

    def __init__(
        self,
        every: Joinings,
        sound: NDArray[np.int64],
        turned: NDArray[np.bool_],
        apart: Apart,
        switch: Switch,
        poles: Sequence[tuple[str, tuple[str, ...]]],
        spare_joints: int,
        arrange: Callable[[Sequence[int]], Sequence[int]],
    ) -> None:
        self._arrange = arrange
        self._every, self._sound, self._turned, self._apart = every, sound, turned, apart
        self._switch, self._poles = switch, poles
        self._spares = [one for one in _spares(len(poles)) if len(one) <= spare_joints]
        self._heard = np.flatnonzero(sound >= 0)
        self._heard_labels = every.labels[self._heard]

    def may_hold(self, number: int, least_db: float) -> bool:
        """Return whether a joining may have a chart with at least this distance."""
        return True

    def improve(self, number: int, above_db: float) -> Wired | None:
        """Return the best chart of one joining, if its distance is above a limit."""
        base = self._every.labels[number]
        firsts = np.flatnonzero(base == np.arange(len(base)))
        coarser = (self._heard_labels == self._heard_labels[:, base]).all(axis=1)
        coarser &= self._every.counts[self._heard] >= len(firsts) - len(self._poles)
        rows = self._heard[coarser]
        labels = self._every.labels[rows][:, firsts]
        inside = labels[:, None, :] == firsts[None, :, None]  # of each joining, joint by joint
        sizes = inside.sum(axis=2)
        sounds = self._sound[rows]
        different = np.unique(sounds)
        which = (sounds[:, None] == different).astype(np.int32)
        best: Wired | None = None
        seen: set[int] = set()
        for spares in self._spares:
            many = _multisets(len(self._poles) - sum(spares), len(firsts))
            self._apart.work.step(len(many))
            lacking = np.maximum(sizes - 1 - np.einsum("ub,sgb->usg", many, inside), 0)
            makes = _can_lend(lacking, spares)
            for u in np.flatnonzero((makes.astype(np.int32) @ which > 0).sum(axis=1) >= self._apart.count):
                points = bits(makes[u] @ which > 0)
                if points in seen:
                    continue
                seen.add(points)
                mine = sum(1 << int(one) for k, one in enumerate(different) if points >> k & 1)
                found = self._apart.farthest(mine, above_db)
                if found is not None:
                    above_db = found[1]
                    order = self._arrange(found[0])
                    chosen = [int(rows[makes[u] & (sounds == one)][0]) for one in order]
                    best = self._wire(number, many[u], spares, chosen, above_db)
        return best

    def _wire(
        self,
        number: int,
        poles_at: NDArray[np.int64],
        spares: Spares,
        chosen: Sequence[int],
        distance_db: float,
    ) -> Wired:
        """Solder the lugs: the commons first, then each position's throws."""
        base = self._every.labels[number]
        firsts = [int(one) for one in np.flatnonzero(base == np.arange(len(base)))]
        commons = [label for label, many in zip(firsts, poles_at, strict=True) for _ in range(many)]
        commons += [len(base) + k for k, many in enumerate(spares) for _ in range(many)]
        joints: dict[str, int | None] = dict.fromkeys(self._switch.lugs)
        joints |= {common: label for (common, _), label in zip(self._poles, commons, strict=True)}
        n_positions = len(self._switch.positions)
        rows = [*chosen, *[chosen[-1]] * (n_positions - len(chosen))]  # what is left over repeats the last
        for k, row in enumerate(rows):
            ties = _ties(firsts, self._every.labels[row], commons, len(base))
            for (_, throws), label in zip(self._poles, ties, strict=True):
                joints[throws[k]] = label
        sounds = tuple(int(self._sound[row]) for row in rows)
        turned = tuple(bool(self._turned[row]) for row in rows)
        return Wired(number, tuple(joints[lug] for lug in self._switch.lugs), sounds, turned, distance_db)


def _can_lend(lacking: NDArray[np.int64], spares: Spares) -> NDArray[np.bool_]:
    """Return whether joints of lugs alone make up for what joints lack.

    One gives to one joint alone; of two with two commons each, both give one.
    """
    whole = lacking.sum(axis=2)
    if not spares:
        return np.asarray(whole == 0)
    if len(spares) == 1:
        return np.asarray(((lacking > 0).sum(axis=2) <= 1) & (whole <= spares[0] - 1))
    return np.asarray(whole <= len(spares))


def _spares(n_poles: int) -> Iterator[Spares]:
    """Yield numbers of commons on joints of lugs alone; one is of no use."""
    yield ()
    for k in range(2, n_poles + 1):
        yield (k,)
    if n_poles >= 4:
        yield (2, 2)


@lru_cache(maxsize=64)
def _multisets(n_poles: int, n_joints: int) -> NDArray[np.int64]:
    """Return every way to put commons on joints, shape (n_ways, n_joints)."""
    ways = list(combinations_with_replacement(range(n_joints), n_poles))
    table = np.zeros((len(ways), n_joints), np.int64)
    for row, way in zip(table, ways, strict=True):
        np.add.at(row, list(way), 1)
    return table


def _ties(
    firsts: Sequence[int], wanted: NDArray[np.uint8], commons: Sequence[int], n_ends: int
) -> list[int | None]:
    """Return the joint for each pole's throw that makes a joining.

    A pole without a task stays open.
    """
    group = {label: int(wanted[label]) for label in firsts}
    piece = {label: label for label in (*firsts, *commons)}
    ties: list[int | None] = [None] * len(commons)
    for own in (True, False):
        for k, common in enumerate(commons):
            if (common < n_ends) == own:
                tie = _still_apart(common, group, piece, own=own)
                if tie is not None:
                    ties[k] = tie
                    old, new = piece[tie], piece[common]
                    piece.update({label: new for label, at in piece.items() if at == old})
    return ties


def _still_apart(common: int, group: dict[int, int], piece: dict[int, int], *, own: bool) -> int | None:
    """Return a joint that must still be tied to a common's piece, or None.

    A joint of lugs alone that is nowhere yet may go to any group in two pieces.
    """
    at = piece[common]
    mine = {group[label] for label in group if piece[label] == at}
    if not own and not mine:
        pieces: dict[int, set[int]] = {}
        for label, one in group.items():
            pieces.setdefault(one, set()).add(piece[label])
        mine = {
            one for one in [next((g for g, some in pieces.items() if len(some) > 1), None)] if one is not None
        }
    return next((label for label in group if group[label] in mine and piece[label] != at), None)
