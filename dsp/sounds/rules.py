"""The rules that a set of positions must keep."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dsp.circuit.hum_limits import CANCELLING_DB
from dsp.errors import InputError
from dsp.sounds.candidates import Candidates
from dsp.sounds.conditions import ANY_DB, CLEAN, DARK, NEAR, WIRED
from dsp.sounds.order import order_positions

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class SetRules:
    """Rules that a set of positions must keep.

    Attributes
    ----------
    pinned : tuple of int
        Candidates that must be in the set.
    quiet : int
        Least number of hum-cancelling positions.
    quiet_db : float
        Largest residual that counts as hum-cancelling.
    level_window_db : float
        Largest level difference between a position and the loudest candidate.
    opposed : bool
        Whether coils may be out of phase with one another.
    thinnest : float
        Smallest allowed share of the energy below 250 Hz.
    without : tuple of int
        Candidates that must not be in the set.
    weights : sequence of (int, float)
        Candidates with the factors of their distances, 1 by default. A factor above 1 favours a sound.
    in_phase : int
        Least number of positions with all coils in phase.
    usual : tuple of int, optional
        Candidates to which the set keeps. All by default.
    spread_db : float
        Largest level difference between two positions: none is farther below the loudest of the set.
    step_db : float
        Largest level difference between neighbours along the selector.
    levels : str
        Of `dsp.sounds.conditions.LEVELS`: where the levels that these limits mean are compared.
    order : str
        Order along the selector; see `dsp.sounds.order.order_positions`.
    places : tuple of (int, int)
        Positions, from 1, with pinned candidates that stand there by hand.
    in_order : bool
        Whether positions of a switch must keep the order, where its throws would allow another.
    """

    count: int
    pinned: tuple[int, ...] = ()
    quiet: int = 0
    quiet_db: float = CANCELLING_DB
    level_window_db: float = 18.0
    opposed: bool = True
    thinnest: float = 0.0
    without: tuple[int, ...] = ()
    weights: tuple[tuple[int, float], ...] = ()
    in_phase: int = 0
    usual: tuple[int, ...] | None = None
    spread_db: float = ANY_DB
    step_db: float = ANY_DB
    levels: str = WIRED
    order: str = DARK
    places: tuple[tuple[int, int], ...] = ()
    in_order: bool = False


def levels_of(found: Candidates, rules: SetRules) -> Floats:
    """Return the levels that the limits mean, dB, shape (n,)."""
    return found.clean_level_db if rules.levels == CLEAN else found.level_db


def set_in_order(found: Candidates, rules: SetRules, chosen: Sequence[int]) -> tuple[int, ...]:
    """Return the positions of a set in the order of its rules."""
    return order_positions(found, chosen, rules.order, rules.places)


def check_rules(found: Candidates, rules: SetRules) -> None:
    """Refuse rules that contradict one another.

    Raises
    ------
    InputError
        Also if they ask for more than there is.
    """
    if not 1 <= rules.count <= len(found):
        raise InputError("positions", str(rules.count), f"1 to {len(found)}, the sounds there are")
    if len(set(rules.pinned)) != len(rules.pinned) or len(rules.pinned) > rules.count:
        got = f"{len(rules.pinned)} pinned for {rules.count} positions"
        raise InputError("pinned", got, "each once, and no more than there are positions")
    both = set(rules.pinned) & set(rules.without)
    if both:
        raise InputError(
            "pinned", f"'{found.expression_text(min(both))}' pinned and left out", "one of the two"
        )
    for most, word in ((rules.quiet, "hum-cancelling"), (rules.in_phase, "in phase")):
        if most > rules.count:
            raise InputError(word, str(most), f"at most the {rules.count} positions")
    _check_places(found, rules)


def _check_places(found: Candidates, rules: SetRules) -> None:
    at = [place for place, _ in rules.places]
    sounds = [sound for _, sound in rules.places]
    if any(not 1 <= place <= rules.count for place in at):
        got = next(str(place) for place in at if not 1 <= place <= rules.count)
        raise InputError("place", got, f"a position, 1 to {rules.count}")
    if len(set(at)) < len(at) or len(set(sounds)) < len(sounds):
        raise InputError("place", "a position or a sound twice", "each once")
    if rules.in_order and rules.order == NEAR:
        raise InputError(
            "order", f"{NEAR}, kept on the switch", "neck, dark or thick: near depends on the set"
        )
    loose = next((sound for sound in sounds if sound not in rules.pinned), None)
    if loose is not None:
        raise InputError("place", f"'{found.expression_text(loose)}'", "a pinned sound")
