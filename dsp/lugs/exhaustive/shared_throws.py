"""Switches whose positions share throws: every way to solder the lugs.

A blade with in-between positions is one. The search takes one position after another, and only those
ways to solder its lugs that make a sound. As soon as all lugs of another position are soldered, its sound
is known too. Each sound must be far enough from the others.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from dsp.lugs.chart import equal_poles, poles_of
from dsp.lugs.exhaustive.chains import Chains
from dsp.lugs.exhaustive.joinings import HOT, Joinings, Words, bits_of
from dsp.lugs.exhaustive.sets import NOISE_DB, Apart
from dsp.lugs.exhaustive.wired import Wired
from dsp.parts.switch import Switch

MOST_LUGS = 4
"""Most lugs of a position whose every soldering is listed: four on nine joints have 6,561."""
Groups = tuple[tuple[int, ...], ...]
Pattern = tuple[int, int, Groups, bool]
Table = NDArray[np.uint8]


@dataclass(frozen=True)
class Step:
    """One position of the search.

    Attributes
    ----------
    lugs : tuple of int
        All its lugs; those soldered before come first.
    n_known : int
        How many these are.
    then : tuple of int
        Other positions whose lugs are all soldered now.
    pattern : Pattern
        How many lugs are soldered before, and all; the lugs that the position joins, by their places
        in ``lugs``; and whether of ways that tie the same joints one is enough, since they do the
        same in every other position too.
    """

    position: int
    lugs: tuple[int, ...]
    n_known: int
    then: tuple[int, ...]
    pattern: Pattern


def find_steps(switch: Switch) -> tuple[tuple[int, ...], list[Step]] | None:
    """Return the lugs of every step, and the steps, or None.

    None if a position joins too many lugs at once, or a lug has no common that it always goes with.

    Examples
    --------
    >>> from dsp.parts.switch import bridging
    >>> commons, steps = find_steps(bridging(2, 5))
    >>> commons, [(step.position, step.then) for step in steps]
    ((0, 4), [(0, ()), (2, (1,)), (4, (3,))])
    """
    groups = _groups(switch)
    own = [{lug for group in one for lug in group} for one in groups]
    every = [set(group) for one in groups for group in one]
    if any(min(group) not in other for group in every for other in every if group & other):
        return None
    done = {p for p, lugs in enumerate(own) if not lugs}
    known: set[int] = set()
    order: list[tuple[int, tuple[int, ...]]] = []
    while len(done) < len(groups):
        open_ = [p for p in range(len(groups)) if p not in done and len(own[p]) <= MOST_LUGS]
        if not open_:
            return None
        position = min(open_, key=lambda p: len(own[p] - known))
        known |= own[position]
        then = tuple(p for p in range(len(groups)) if p not in done and p != position and own[p] <= known)
        done |= {position, *then}
        order.append((position, then))
    if not order:
        return None
    commons = set.intersection(*(own[position] for position, _ in order))
    known, steps = set(commons), []
    for position, then in order:
        before, new = sorted(own[position] & known - commons), sorted(own[position] - known)
        lugs = (*sorted(commons), *before, *new)
        with_new = [p for p in range(len(groups)) if p != position and own[p] & own[position] - commons]
        alike = all(_covers(groups[p], groups[position]) for p in with_new)
        n_known = len(commons) + len(before)
        joined = tuple(tuple(lugs.index(lug) for lug in group) for group in groups[position])
        steps.append(Step(position, lugs, n_known, then, (n_known, len(lugs), joined, alike)))
        known |= own[position]
    return tuple(sorted(commons)), steps


def is_chain(steps: Sequence[Step], switch: Switch) -> bool:
    """Return whether two positions lie between three others and join both."""
    groups = _groups(switch)
    if len(steps) != 3 or len(groups) != 5:
        return False
    size = {sum(len(group) - 1 for group in groups[step.position]) for step in steps}
    between = [p for step in steps for p in step.then]
    covered = [
        {k for k, step in enumerate(steps) if _covers(groups[p], groups[step.position])} for p in between
    ]
    twice = all(sum(len(group) - 1 for group in groups[p]) == 2 * max(size) for p in between)
    return (
        len(size) == 1
        and twice
        and len(covered) == 2
        and all(map(len, covered))
        and (sorted(map(len, covered)) == [2, 2] and len(covered[0] & covered[1]) == 1)
    )


def _covers(groups: Groups, others: Groups) -> bool:
    """Return whether groups of lugs join all that others join."""
    return all(any(set(other) <= set(group) for group in groups) for other in others)


def _groups(switch: Switch) -> list[Groups]:
    place = {lug: i for i, lug in enumerate(switch.lugs)}
    return [
        tuple(tuple(place[lug] for lug in group) for group in groups) for groups in switch.contacts.values()
    ]


class SharedThrows:
    """Best charts of one joining after the other on such a switch.

    Parameters
    ----------
    sound : ndarray of int, shape (n,)
        Sound of each joining, -1 for none.
    turned : ndarray of bool, shape (n,)
    reach : sequence of ndarray
        From `Joinings.reach`, up to as many contacts as a position closes.

    Raises
    ------
    ValueError
        If `find_steps` knows no steps for the switch.
    """

    def __init__(
        self,
        every: Joinings,
        sound: NDArray[np.int64],
        turned: NDArray[np.bool_],
        reach: Sequence[Words],
        apart: Apart,
        switch: Switch,
        spare_joints: int,
    ) -> None:
        found = find_steps(switch)
        if found is None:
            raise ValueError("a switch with few lugs in a position is needed")
        self.every, self.apart, self.n_spares, self.reach = every, apart, spare_joints, reach[-1]
        self.commons, self.steps = commons, steps = found
        self.sounds = np.append(sound, -1)  # the last for no joining
        self.sound: list[int] = self.sounds.tolist()
        self.turned: list[bool] = [*turned.tolist(), False]
        self.n_ends = every.labels.shape[1]
        self.groups = _groups(switch)
        self.n_lugs = len(switch.lugs)
        self.equal = _equal_commons(switch, commons)
        self.silent = tuple(p for p, groups in enumerate(self.groups) if not groups)
        self.nested = not self.silent and all(
            any(_covers(self.groups[p], self.groups[step.position]) for step in steps)
            for one in steps
            for p in one.then
        )
        self.whole = apart.count == len(self.groups)
        self._chains: Chains | None = None
        if self.whole and is_chain(steps, switch):
            n_contacts = sum(len(group) - 1 for group in self.groups[steps[0].position])
            self._chains = Chains(every, sound, reach, apart, n_contacts)

    def may_hold(self, number: int, least_db: float) -> bool:
        """Return whether a joining may have a chart with at least this distance."""
        return self._chains is None or self._chains.has_one(number, least_db)

    def improve(self, number: int, above_db: float) -> Wired | None:
        """Return the best chart of one joining, if its distance is above a limit."""
        descent = _Descent(self, number, above_db)
        if all(descent.keep(p) for p in self.silent):
            descent.solder_commons()
        return descent.best


def _equal_commons(switch: Switch, commons: Sequence[int]) -> tuple[tuple[int, int], ...]:
    """Return pairs of commons whose poles act alike."""
    poles = poles_of(switch)
    if len(commons) != len(poles):
        return ()
    common = [next(one for one in commons if switch.lugs[one] in pole) for pole in poles]
    return tuple((common[a], common[b]) for alike in equal_poles(switch) for a, b in pairwise(alike))


Joints = tuple[int, ...]
Ways = dict[Joints, dict[int, list[tuple[Joints, int]]]]
"""By the joints of earlier lugs and by sound: joints of the new lugs, and the joining they make."""


class _Descent:
    """The search among the charts of one joining.

    Joints are counted: those of the leads first, then those of lugs alone, then a lug by itself.
    """

    def __init__(self, of: SharedThrows, number: int, above_db: float) -> None:
        self._of, self._number = of, number
        self._base = of.every.labels[number]
        self._firsts = np.flatnonzero(self._base == np.arange(of.n_ends))
        self._block: list[int] = np.searchsorted(self._firsts, self._base).tolist()
        self._alone = len(self._firsts) + of.n_spares
        self._at = [self._alone] * of.n_lugs
        self._kept: list[tuple[int, int]] = []
        self._rows: dict[tuple[tuple[int, ...], ...], int] = {}
        self.best: Wired | None = None
        self._limit(above_db)

    def _limit(self, above_db: float) -> None:
        self._above_db = above_db
        self._least_db = float(np.nextafter(above_db + 2.0 * NOISE_DB, np.inf))
        self._graph = self._of.apart.graph(self._least_db)

    def solder_commons(self) -> None:
        """Solder the lugs of all steps in every way, then the others."""
        of = self._of
        tables: dict[object, Ways] = {}
        for step in of.steps:
            if step.pattern not in tables:
                tables[step.pattern] = self._table(step)
        self._tables = [tables[step.pattern] for step in of.steps]
        n = len(of.commons)
        heard: list[dict[Joints, int]] = []
        for table in self._tables:
            some: dict[Joints, int] = defaultdict(int)
            for known, ways in table.items():
                for sound in ways:
                    some[known[:n]] |= 1 << sound
            heard.append(some)
        reached = bits_of(of.reach[self._number])
        for joints in sorted(set.intersection(*(set(some) for some in heard))):
            steps_hear = 0
            for some in heard:
                steps_hear |= some[joints]
            self._owed = owed = [(steps_hear, len(of.steps))] if of.whole else []
            if of.nested and self._is_finer_than_needed(tables.values(), joints):
                continue
            if of.apart.find(reached, self._least_db, owed) is None:
                continue
            for lug, joint in zip(of.commons, joints, strict=True):
                self._at[lug] = joint
            self._take(0, reached)

    def _is_finer_than_needed(self, tables: Collection[Ways], commons: Joints) -> bool:
        """Return whether all positions tie two joints, which may be one then."""
        rows = {
            row
            for table in tables
            for known, ways in table.items()
            if known[: len(commons)] == commons
            for some in ways.values()
            for _, row in some
        }
        labels = self._of.every.labels[list(rows)][:, self._firsts]
        tied = (labels[:, :, None] == labels[:, None, :]).all(axis=0)
        return int(tied.sum()) > len(self._firsts)

    def _table(self, step: Step) -> Ways:
        """Return the ways to solder a position's lugs that make a sound."""
        of, n_joints = self._of, len(self._firsts)
        equal = tuple((step.lugs.index(one), step.lugs.index(other)) for one, other in of.equal)
        ways, merged = _solderings(n_joints, of.n_spares, step.pattern, equal)
        labels = self._firsts[merged[:, self._block]].astype(np.uint8)
        rows = of.every.find(labels)
        heard = np.flatnonzero(of.sounds[rows] >= 0)
        found: Ways = defaultdict(lambda: defaultdict(list))
        for way, row in zip(ways[heard].tolist(), rows[heard].tolist(), strict=True):
            found[tuple(way[: step.n_known])][of.sound[row]].append((tuple(way[step.n_known :]), row))
        return found

    def _take(self, k: int, free: int) -> None:
        """Try every way to solder the new lugs of step k, then the next step.

        Parameters
        ----------
        free : int
            Bits of the sounds that the positions to come may have at most.
        """
        of, at = self._of, self._at
        if k == len(of.steps):
            self._finish()
            return
        step = of.steps[k]
        new = step.lugs[step.n_known :]
        for sound, ways in (
            self._tables[k].get(tuple(at[lug] for lug in step.lugs[: step.n_known]), {}).items()
        ):
            if not self._fits(sound, free):
                continue
            for joints, row in ways:
                for lug, joint in zip(new, joints, strict=True):
                    at[lug] = joint
                n_kept = len(self._kept)
                if self._keep(step.position, row) and all(self.keep(p) for p in step.then):
                    self._take(k + 1, self._free_beside(free, n_kept))
                del self._kept[n_kept:]
        for lug in new:
            at[lug] = self._alone

    def _fits(self, sound: int, free: int) -> bool:
        """Return whether a sound beside those kept may be part of a whole set."""
        of = self._of
        kept = [of.sound[row] for _, row in self._kept]
        if not of.whole:
            return all(self._graph[sound] >> one & 1 or one == sound for one in kept)
        if not free >> sound & 1:
            return False
        return of.apart.can_grow(free & self._graph[sound], [*kept, sound], self._least_db, self._owed)

    def _free_beside(self, free: int, start: int) -> int:
        for _, row in self._kept[start:]:
            free &= self._graph[self._of.sound[row]]
        return free

    def keep(self, position: int) -> bool:
        """Return whether a position's sound is allowed beside the others; keep it."""
        at = self._at
        groups = tuple([tuple([at[lug] for lug in group]) for group in self._of.groups[position]])
        row = self._rows.get(groups)
        if row is None:
            row = self._rows[groups] = self._merged(groups)
        return row >= 0 and self._keep(position, row)

    def _keep(self, position: int, row: int) -> bool:
        of, apart = self._of, self._of.apart
        apart.work.step()
        sound = of.sound[row]
        if sound < 0:
            return False
        near, heard = self._graph[sound], of.sound
        for _, other_row in self._kept:
            other = heard[other_row]
            if not near >> other & 1 and (
                of.whole or other != sound or of.turned[other_row] != of.turned[row]
            ):
                return False
        if apart.beside or apart.later or apart.places:
            others = [(at, heard[one]) for at, one in self._kept]
            if not apart.may_stand(sound, position, others):
                return False
        self._kept.append((position, row))
        different = {heard[one] for _, one in self._kept}
        left = len(of.groups) - len(self._kept)
        room = apart.count - len(different)
        if not 0 <= room <= left:
            return False
        if sum(one not in different for one in apart.pinned) > room:
            return False
        return all(most - sum(some >> one & 1 for one in different) <= room for some, most in apart.owed)

    def _merged(self, groups: Sequence[Sequence[int]]) -> int:
        """Return the joining that contacts make, -1 if hot is on ground."""
        root = list(range(self._alone))

        def top(one: int) -> int:
            while root[one] != one:
                one = root[one]
            return one

        for group in groups:
            tops = sorted({top(joint) for joint in group if joint < self._alone})
            for other in tops[1:]:
                root[other] = tops[0]
        if top(self._block[1]) == HOT:
            return -1
        ends = [int(self._firsts[top(block)]) for block in self._block]
        return self._of.every.number(ends)

    def _finish(self) -> None:
        of = self._of
        rows = [row for _, row in sorted(self._kept)]
        sounds = tuple(of.sound[row] for row in rows)
        distance_db = of.apart.smallest(tuple(dict.fromkeys(sounds)))
        if distance_db > self._above_db:
            labels = [*self._firsts.tolist(), *range(of.n_ends, of.n_ends + of.n_spares), None]
            joints = tuple(labels[joint] for joint in self._at)
            turned = tuple(of.turned[row] for row in rows)
            self.best = Wired(self._number, joints, sounds, turned, distance_db)
            self._limit(distance_db)


@lru_cache(maxsize=64)
def _solderings(
    n_joints: int,
    n_spares: int,
    pattern: Pattern,
    equal: tuple[tuple[int, int], ...],
) -> tuple[Table, Table]:
    """Return every way to solder some lugs, and the joints it merges.

    Parameters
    ----------
    equal : tuple of (int, int)
        Lugs that can be exchanged with all of their poles.

    Returns
    -------
    ways : ndarray of int, shape (n_ways, n_lugs)
        Joint of each lug; the last number stands for a lug by itself.
    merged : ndarray of int, shape (n_ways, n_joints)
        For each joint, the first joint that it is tied to.
    """
    n_known, n_lugs, groups, alike = pattern
    alone = n_joints + n_spares
    ways = np.indices((alone + 1,) * n_lugs, np.uint8).reshape(n_lugs, -1).T
    fair = np.ones(len(ways), bool)
    for first, second in equal:
        fair &= ways[:, first] <= ways[:, second]
    for first_lug, *throws in (sorted(group) for group in groups):
        for throw in throws:  # free beside a soldered common: the same as on the common's own joint
            fair &= (ways[:, throw] != alone) | (ways[:, first_lug] == alone)
    ways = ways[fair]
    nodes = np.broadcast_to(np.arange(alone + n_lugs, dtype=np.uint8), (len(ways), alone + n_lugs)).copy()
    at = np.where(ways == alone, alone + np.arange(n_lugs, dtype=np.uint8), ways)
    line = np.arange(len(ways))
    for group in groups:
        for one, other in pairwise(group):
            here, there = nodes[line, at[:, one]], nodes[line, at[:, other]]
            low, high = np.minimum(here, there)[:, None], np.maximum(here, there)[:, None]
            nodes = np.where(nodes == high, low, nodes)
    if alike:
        key = np.concatenate([ways[:, :n_known], nodes[:, : alone + n_known]], axis=1)
        _, kept = np.unique(key, axis=0, return_index=True)
        ways, nodes = ways[np.sort(kept)], nodes[np.sort(kept)]
    return ways, nodes[:, :n_joints]
