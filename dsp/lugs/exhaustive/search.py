"""The widest range of a switch among all its charts, from the top down.

No set with a distance above the best on any switch exists. From there the limit falls in steps. At
each limit, only joinings whose reachable sounds hold a set so far apart can have a chart above it; each
of these is searched in full. The first limit with a chart above it ends the search: that chart, or a
better one found on the way, is the best.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from dsp.lugs.chart import poles_of
from dsp.lugs.exhaustive.free_throws import FreeThrows, find_poles
from dsp.lugs.exhaustive.heard import sounds_of_joinings
from dsp.lugs.exhaustive.joinings import MOST_ENDS, bits_of, joinings
from dsp.lugs.exhaustive.sets import NOISE_DB, Apart
from dsp.lugs.exhaustive.shared_throws import SharedThrows, find_steps
from dsp.lugs.exhaustive.wired import Wired
from dsp.lugs.rules import ChartRules
from dsp.lugs.targets import Targets
from dsp.parts.expression import Expression
from dsp.parts.switch import Switch
from dsp.sounds.clique import SearchStopped

STEP_DB = 0.25
"""From one limit to the next."""
MOST_FREE_POLES, MOST_SHARED_POLES = 4, 2


@dataclass(frozen=True)
class Progress:
    """How far a search is.

    Attributes
    ----------
    best : Wired or None
        The best chart so far.
    bound_db : float
        No chart has a larger distance.
    joinings : int
        Joinings searched in full so far.
    ended : bool
        Whether it is done; ``best`` is then proved, None if there is no chart.
    """

    best: Wired | None
    bound_db: float
    joinings: int
    ended: bool = False


def is_searchable(wanted: Targets, switch: Switch) -> bool:
    """Return whether every chart of a switch can be searched in seconds.

    It can for up to four parts without links, on switches with up to four poles whose throws serve
    one position each, or with up to two poles otherwise.
    """
    if wanted.links or 2 + len(wanted.leads) > MOST_ENDS:
        return False
    poles = find_poles(switch)
    if poles is not None:
        return len(poles) <= MOST_FREE_POLES
    return len(poles_of(switch)) <= MOST_SHARED_POLES and find_steps(switch) is not None


def search_charts(
    wanted: Targets,
    sounds: Sequence[Expression],
    apart: Apart,
    switch: Switch,
    rules: ChartRules,
    *,
    highest_db: float,
    arrange: Callable[[Sequence[int]], Sequence[int]] = tuple,
) -> Iterator[Progress]:
    """Yield ever better charts and lower bounds, the proved best last.

    Parameters
    ----------
    wanted : Targets
        For its parts.
    sounds : sequence of Expression
        The sounds that positions may have, as numbered in ``apart``.
    highest_db : float
        No set of these sounds has a larger distance.
    arrange : callable
        Orders the sounds of a set along a switch on which any order can be wired.

    Yields
    ------
    Progress
        Where the work of ``apart`` is stopped, the last has not ended.
    """
    progress = Progress(None, highest_db, 0)
    try:
        charts, groups = _prepare(wanted, sounds, apart, switch, rules, arrange)
        limit_db = highest_db
        while True:
            for state in _at_limit(limit_db, charts, groups, apart, progress):
                progress = state
                yield state
            if progress.best is not None or limit_db <= 0.0:
                bound_db = 0.0 if progress.best is None else progress.best.distance_db
                yield replace(progress, bound_db=bound_db, ended=True)
                return
            progress = replace(progress, bound_db=limit_db)
            limit_db = max(limit_db - STEP_DB, 0.0)
            yield progress
    except SearchStopped:
        yield progress


def _at_limit(
    limit_db: float, charts: _Charts, groups: _Reached, apart: Apart, progress: Progress
) -> Iterator[Progress]:
    """Yield better charts at a limit or above, then the final state."""
    for number in groups.joinings(limit_db):
        best = progress.best
        least_db = limit_db if best is None else max(best.distance_db, limit_db)
        if not charts.may_hold(number, least_db):
            continue
        better = charts.improve(number, least_db if best is not None else limit_db - 3.0 * NOISE_DB)
        progress = replace(progress, joinings=progress.joinings + 1)
        if better is not None:
            progress = replace(progress, best=better)
            yield progress
    yield progress


_Charts = FreeThrows | SharedThrows


def _prepare(
    wanted: Targets,
    sounds: Sequence[Expression],
    apart: Apart,
    switch: Switch,
    rules: ChartRules,
    arrange: Callable[[Sequence[int]], Sequence[int]],
) -> tuple[_Charts, _Reached]:
    every = joinings(2 + len(wanted.leads))
    sound, turned = sounds_of_joinings(every, wanted, sounds, rules)
    of_positions = [sum(len(group) - 1 for group in groups) for groups in switch.contacts.values()]
    least, most = min(of_positions), max(of_positions)
    reach = every.reach(sound, len(sounds), most, apart.work.step)
    n_few = of_positions.count(least) if apart.count == len(of_positions) else 0
    groups = _Reached(np.concatenate([reach[least], reach[most]], axis=1), apart, n_few)
    poles = find_poles(switch)
    if poles is not None:
        if apart.beside:

            def fits(members: Sequence[int]) -> bool:
                line = arrange(members)
                return all(apart.beside[one] >> other & 1 for one, other in pairwise(line))

            apart.fits = fits
        return FreeThrows(every, sound, turned, apart, switch, poles, rules.spare_joints, arrange), groups
    return SharedThrows(every, sound, turned, reach, apart, switch, rules.spare_joints), groups


class _Reached:
    """Joinings, grouped by the sounds that a position can make of them."""

    def __init__(self, words: NDArray[np.uint64], apart: Apart, n_few: int) -> None:
        different, which = np.unique(words, axis=0, return_inverse=True)
        order = np.argsort(which.ravel(), kind="stable")
        starts = np.searchsorted(which.ravel()[order], np.arange(len(different) + 1))
        n_words = words.shape[1] // 2
        self._apart, self._n_few = apart, n_few
        self._sets = []
        for k, row in enumerate(different):
            few, many = bits_of(row[:n_words]), bits_of(row[n_words:])
            if many.bit_count() >= apart.count and few.bit_count() >= n_few:
                self._sets.append((few, many, order[starts[k] : starts[k + 1]]))

    def joinings(self, limit_db: float) -> Iterator[int]:
        """Yield the joinings that may have a chart at a limit or above."""
        for few, many, rows in self._sets:
            self._apart.work.step()
            if self._apart.find(many, limit_db, [(few, self._n_few)]) is not None:
                yield from map(int, rows)
