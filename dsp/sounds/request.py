"""What is asked of a set of positions, and the rules that follow for some candidates."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import combinations
from typing import TypeVar

from dsp.errors import InputError
from dsp.sounds.candidates import Candidates
from dsp.sounds.choose import choose_sets
from dsp.sounds.conditions import ALL, ANY_DB, LEVELS, PROFILES, WIDEST, WIRED, least_of
from dsp.sounds.rules import SetRules
from dsp.sounds.useful import find_usual_sounds, with_plain_sounds
from dsp.wiring.model import Wiring

Value = TypeVar("Value")


@dataclass(frozen=True)
class SetRequest:
    """What is asked of a set. What is None follows from the profile.

    Attributes
    ----------
    quiet, in_phase : str
        Positions at least: a number, a share such as ``60 %``, or ``all``.
    pinned, without : tuple of int
        Candidates.
    places : tuple of (int, int)
        Positions, from 1, with candidates that stand there by hand. They are pinned.
    """

    count: int
    profile: str = WIDEST
    quiet: str = "0"
    in_phase: str | None = None
    window_db: float | None = None
    spread_db: float | None = None
    step_db: float | None = None
    levels: str = WIRED
    usual: bool | None = None
    plain: bool | None = None
    order: str | None = None
    in_order: bool = False
    thinnest: float = 0.0
    pinned: tuple[int, ...] = ()
    without: tuple[int, ...] = ()
    places: tuple[tuple[int, int], ...] = ()
    weights: tuple[tuple[int, float], ...] = ()


def rules_of(wiring: Wiring, found: Candidates, request: SetRequest) -> tuple[SetRules, list[str]]:
    """Return the rules of a request, and notes on what gave way.

    Where no set keeps the profile's own conditions, as few of them as possible give way. One that
    was asked for never does.

    Raises
    ------
    InputError
        If the request makes no sense.
    """
    rules = _strict(wiring, found, request)
    if request.profile == WIDEST or _has_set(found, rules):
        return rules, []
    changes = list(_yielding(wiring, found, request, rules))
    every = [some for many in range(1, len(changes) + 1) for some in combinations(changes, many)]
    for some in sorted(every, key=lambda some: sum(hard for _, _, hard in some)):  # stable: fewest first
        fewer = rules
        for change, _, _ in some:
            fewer = replace(fewer, **change)  # type: ignore[arg-type]
        if _has_set(found, fewer):
            return fewer, [_note(words) for _, words, _ in some]
    return rules, []  # the search says why


def _note(words: str) -> str:
    return f"No set {words}: searched without that condition."


def _own(given: Value | None, default: Value) -> Value:
    return default if given is None else given


def _strict(wiring: Wiring, found: Candidates, request: SetRequest) -> SetRules:
    profile = PROFILES[request.profile]

    count = request.count
    placed = tuple(sound for _, sound in request.places)
    pinned = (*request.pinned, *(sound for sound in placed if sound not in request.pinned))
    if _own(request.plain, profile.plain):
        pinned = with_plain_sounds(wiring, found, count, pinned, request.without)
    in_phase = _own(request.in_phase, profile.in_phase)
    usual = _own(request.usual, profile.usual) and len(found.at_m) == len(found.names)
    return SetRules(
        count,
        pinned=pinned,
        quiet=least_of(request.quiet, count, "hum-cancelling"),
        level_window_db=_own(request.window_db, profile.window_db),
        opposed=in_phase != ALL,
        thinnest=request.thinnest,
        without=request.without,
        weights=request.weights,
        in_phase=0 if in_phase == ALL else least_of(in_phase, count, "in phase"),
        usual=find_usual_sounds(wiring, found) if usual else None,
        spread_db=_own(request.spread_db, profile.spread_db),
        step_db=_own(request.step_db, profile.step_db),
        levels=request.levels,
        order=_own(request.order, profile.order),
        places=request.places,
        in_order=request.in_order,
    )


def _yielding(
    wiring: Wiring, found: Candidates, request: SetRequest, rules: SetRules
) -> Iterator[tuple[dict[str, object], str, bool]]:
    """Yield the changes by which the profile's own conditions give way, the first to go first.

    Each has words and whether a builder would rather give up any that has not.
    """
    where = "" if rules.levels == WIRED else f", {LEVELS[rules.levels]}"
    if request.usual is None and rules.usual is not None:
        usual = find_usual_sounds(wiring, found, in_series=True)
        yield {"usual": usual}, "keeps to pickups in parallel", False
    if request.step_db is None and rules.step_db < ANY_DB:
        yield {"step_db": ANY_DB}, f"has neighbours within {rules.step_db:g} dB of each other{where}", False
    if request.spread_db is None and rules.spread_db < ANY_DB:
        yield {"spread_db": ANY_DB}, f"has all levels within {rules.spread_db:g} dB{where}", False
    if request.usual is None and rules.usual is not None:
        yield {"usual": None}, "keeps to usual connections, pickups in series among them", True
    placed = tuple(one for _, one in rules.places if one not in request.pinned)
    if request.plain is None and set(rules.pinned) != {*request.pinned, *placed}:
        yield {"pinned": (*request.pinned, *placed)}, "keeps the plain sounds", True
    if request.in_phase is None and not rules.opposed:
        yield {"opposed": True}, "is in phase throughout", True


def _has_set(found: Candidates, rules: SetRules) -> bool:
    try:
        next(choose_sets(found, rules))
    except InputError:
        return False
    return True
