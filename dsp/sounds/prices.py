"""What each condition of a set costs: the range without it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace

from dsp.errors import InputError
from dsp.sounds.choose import Choice
from dsp.sounds.conditions import ANY_DB, LEVELS, WIRED
from dsp.sounds.rules import SetRules

WIDE_DB = 200.0
"""A window so wide leaves no sound out."""
ALL_OF_THESE = "all of these"


@dataclass(frozen=True)
class Price:
    """What the range would be without a condition.

    Attributes
    ----------
    choice : Choice or None
        The best set without it; None if none was found in the time.
    sounds : tuple of int
        That set along the selector.
    costs_db : float or None
        How much larger its smallest distance is.
    proved : bool
        Whether both sets are proved best, so that the price is exact.
    """

    condition: str
    choice: Choice | None
    sounds: tuple[int, ...]
    costs_db: float | None
    proved: bool


def without_each(rules: SetRules) -> Mapping[str, SetRules]:
    """Return by name the rules without each condition, and without all.

    Examples
    --------
    >>> list(without_each(SetRules(5, quiet=2, opposed=False, level_window_db=200.0)))
    ['coils in phase', 'hum-cancelling, 2 at least', 'all of these']
    """
    where = "" if rules.levels == WIRED else f", {LEVELS[rules.levels]}"
    drops: dict[str, dict[str, object]] = {}
    if not rules.opposed:
        drops["coils in phase"] = {"opposed": True}
    if rules.in_phase:
        drops[f"in phase, {rules.in_phase} at least"] = {"in_phase": 0}
    if rules.quiet:
        drops[f"hum-cancelling, {rules.quiet} at least"] = {"quiet": 0}
    if rules.pinned:
        drops["sounds kept"] = {"pinned": (), "places": ()}
    if rules.without:
        drops["sounds left out"] = {"without": ()}
    if rules.usual is not None:
        drops["usual connections"] = {"usual": None}
    if rules.level_window_db < WIDE_DB:
        drops[f"level within {rules.level_window_db:g} dB{where}"] = {"level_window_db": WIDE_DB}
    if rules.spread_db < WIDE_DB:
        drops[f"levels {rules.spread_db:g} dB apart at most{where}"] = {"spread_db": ANY_DB}
    if rules.step_db < WIDE_DB:
        drops[f"neighbours {rules.step_db:g} dB apart at most{where}"] = {"step_db": ANY_DB}
    if rules.in_order:
        drops["order kept on the switch"] = {"in_order": False}
    if rules.thinnest > 0.0:
        drops[f"lows at least {100.0 * rules.thinnest:g} %"] = {"thinnest": 0.0}
    found = {name: replace(rules, **drop) for name, drop in drops.items()}  # type: ignore[arg-type]
    if len(drops) > 1:
        every = {key: value for drop in drops.values() for key, value in drop.items()}
        found[ALL_OF_THESE] = replace(rules, **every)  # type: ignore[arg-type]
    return found


def find_prices(
    rules: SetRules, best: Choice, search: Callable[[SetRules], tuple[Choice, tuple[int, ...]]]
) -> Iterator[Price]:
    """Yield the price of each condition, and of all together.

    Parameters
    ----------
    best : Choice
        The set that keeps all rules.
    search : callable
        Returns the best set for other rules, and its sounds along the selector.
    """
    for name, asked in without_each(rules).items():
        try:
            choice, sounds = search(asked)
        except InputError:  # a set exists, since the rules are fewer, but it was not found in the time
            yield Price(name, None, (), None, False)
            continue
        costs_db = max(choice.distance_db - best.distance_db, 0.0)
        yield Price(name, choice, sounds, costs_db, best.proved and choice.proved)
