"""Sets nearly as good as the best, and a map of all candidates."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from dsp.errors import InputError
from dsp.sounds.areas import MOST_WHOLE, allowed_candidates
from dsp.sounds.candidates import Candidates
from dsp.sounds.choose import LEAST_GAIN_DB, Choice, choose_quickly, choose_sets
from dsp.sounds.rules import SetRules

Floats = NDArray[np.float64]

NEARLY = 0.9
"""An alternative set needs at least this share of the best's smallest distance."""


def find_alternatives(
    found: Candidates, rules: SetRules, best: Choice, *, stop: Callable[[], bool] | None = None
) -> Iterator[Choice]:
    """Yield sets nearly as good that omit one of the best's positions.

    If the best is not proved, omitting a position may give a better set. That set is yielded too;
    `take_better` makes it the best.

    Parameters
    ----------
    stop : callable, optional
        Return True to end the search.

    Yields
    ------
    Choice
        At most one for each position that is not pinned, without repeats.
    """
    seen = {best.chosen}
    for left_out in best.chosen:
        if left_out in rules.pinned:
            continue
        if stop is not None and stop():
            return
        try:
            other = choose_quickly(found, replace(rules, without=(*rules.without, left_out)), stop=stop)
        except InputError:  # no set without this position keeps the rules
            continue
        if other.distance_db >= NEARLY * best.distance_db and other.chosen not in seen:
            seen.add(other.chosen)
            yield other


def find_best(found: Candidates, rules: SetRules, *, stop: Callable[[], bool] | None = None) -> Choice:
    """Return the best set, of equally wide ones one with the least hum.

    Parameters
    ----------
    stop : callable, optional
        Return True to end the search; the best set so far is then the answer.
    """
    *_, best = choose_sets(found, rules, stop=stop)
    return prefer_quiet(found, rules, best, stop=stop)


def prefer_quiet(
    found: Candidates, rules: SetRules, best: Choice, *, stop: Callable[[], bool] | None = None
) -> Choice:
    """Return, of sets as wide as the best, one with the least hum.

    That is one with most hum-cancelling positions. Where more than `MOST_WHOLE` are allowed, the
    best stays. Pinned sounds often set the distance, and many
    sets are then equally wide.

    Parameters
    ----------
    stop : callable, optional
        Return True to end the search.
    """
    if len(allowed_candidates(found, rules)) > MOST_WHOLE:
        return best
    quiet = sum(bool(found.hum_db[i] <= rules.quiet_db) for i in best.chosen)
    for more in range(quiet + 1, rules.count + 1):
        try:
            *_, other = choose_sets(found, replace(rules, quiet=more), stop=stop)
        except InputError:  # no set has so many
            break
        if other.distance_db < best.distance_db - LEAST_GAIN_DB or (stop is not None and stop()):
            break
        best = replace(other, bound_db=max(best.bound_db, other.distance_db))
    return best


def take_better(best: Choice, others: Sequence[Choice]) -> tuple[Choice, list[Choice]]:
    """Return the best of all sets, and the others.

    The new best keeps the known bound: an alternative's own bound holds for its part alone.
    """
    first = max([best, *others], key=lambda one: one.distance_db)
    if first.distance_db <= best.distance_db + LEAST_GAIN_DB:  # equal ones differ in their last digits
        return best, list(others)
    rest = [
        one for one in [best, *others] if one is not first and one.distance_db >= NEARLY * first.distance_db
    ]
    return replace(first, bound_db=max(best.bound_db, first.distance_db)), rest


def map_on_plane(found: Candidates) -> Floats:
    """Return points on a plane for all candidates, similar ones close.

    Returns
    -------
    ndarray, shape (n, 2), dB
        The first two principal components of the timbres, the first rising with brightness.
    """
    centred = found.timbre - found.timbre.mean(axis=0)
    _, _, axes = np.linalg.svd(centred, full_matrices=False)
    plane = centred @ axes[:2].T / np.sqrt(found.timbre.shape[1])
    if plane.shape[1] < 2:
        plane = np.pad(plane, ((0, 0), (0, 2 - plane.shape[1])))
    if np.sum(plane[:, 0] * (found.brightness_hz - found.brightness_hz.mean())) < 0.0:
        plane[:, 0] = -plane[:, 0]
    return np.asarray(plane)
