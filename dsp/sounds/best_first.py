"""Yield sets of positions, the best first, without repeats or gaps."""

from __future__ import annotations

import heapq
from collections.abc import Callable, Iterator
from dataclasses import replace
from itertools import count

from dsp.errors import InputError
from dsp.sounds.candidates import Candidates
from dsp.sounds.choose import Choice, choose_sets
from dsp.sounds.rules import SetRules


def sets_by_distance(
    found: Candidates, rules: SetRules, *, stop: Callable[[], bool] | None = None
) -> Iterator[Choice]:
    """Yield every set that keeps the rules, by falling smallest distance.

    Each set found splits the remaining sets. The first part lacks its first position. The second
    has the first but lacks its second. The third has both but lacks its third, and so on. Each part
    has a best set, and the best of these comes next (E. Lawler, Management Science 18 (1972) 401,
    from memory).

    Parameters
    ----------
    stop : callable, optional
        Return True to end the search, after the first set at the earliest.

    Yields
    ------
    Choice
        The bound holds for the set's own part. An unproved set may come before a better one.

    Raises
    ------
    InputError
        If no set keeps the rules.
    """
    order = count()  # ties go to the older part: rules cannot be compared
    *_, first = choose_sets(found, rules, stop=stop)
    waiting = [(-first.distance_db, next(order), first, rules)]
    while waiting:
        _, _, best, kept = heapq.heappop(waiting)
        yield best
        pinned = list(kept.pinned)
        for member in best.chosen:
            if member in kept.pinned:
                continue
            if stop is not None and stop():
                return
            part = replace(kept, pinned=tuple(pinned), without=(*kept.without, member))
            try:
                *_, other = choose_sets(found, part, stop=stop)
            except InputError:  # this part has no set left
                pass
            else:
                heapq.heappush(waiting, (-other.distance_db, next(order), other, part))
            pinned.append(member)
