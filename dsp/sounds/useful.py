"""What a player would want of a set: the plain sounds, coils in phase, like levels; and what that costs.

The widest set alone is mostly out of phase, thin and far down in level, and nobody solders it. The
plain sounds are common practice: each pickup alone, and neighbouring pickups together in parallel.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace

from dsp.parts.coil import Coil
from dsp.sounds.candidates import Candidates
from dsp.sounds.choose import SetRules
from dsp.sounds.pins import find_pinned
from dsp.wiring.model import Wiring

HOUSING_M = 0.025
"""Two coils of opposite windings at most so far apart are one pickup (common practice: 18 to 20 mm)."""
LEVEL_WINDOW_DB = 14.0
"""Softest position of a useful set below the loudest sound. Our own choice: a parallel coil at a bridge
lies some 10 dB below all coils in series."""
ANY_LEVEL_DB = 200.0


def find_pickups(wiring: Wiring, names: Sequence[str]) -> list[tuple[str, ...]]:
    """Return the coils of each pickup, from the neck to the bridge.

    Coils are one pickup if they are coupled side by side, or stand close together with opposite
    windings. A dummy coil is no pickup. Pickups without a place keep the order of the names.
    """
    coils = wiring.coils
    coupled = {frozenset((one.first, one.second)) for one in wiring.couplings if one.coefficient > 0.0}
    found: list[tuple[str, ...]] = []
    for name in names:
        if coils[name].dummy:
            continue
        partner = next(
            (
                k
                for k, pickup in enumerate(found)
                if len(pickup) == 1
                and (frozenset((pickup[0], name)) in coupled or _is_pair(coils[pickup[0]], coils[name]))
            ),
            None,
        )
        if partner is None:
            found.append((name,))
        else:
            found[partner] = (*found[partner], name)
    if any(coils[name].at_m is None for pickup in found for name in pickup):
        return found
    return sorted(found, key=lambda pickup: -sum(coils[name].at_m or 0.0 for name in pickup) / len(pickup))


def _is_pair(one: Coil, other: Coil) -> bool:
    if one.at_m is None or other.at_m is None or one.winding == other.winding:
        return False
    return abs(one.at_m - other.at_m) <= HOUSING_M


def find_plain_sounds(wiring: Wiring, names: Sequence[str]) -> list[str]:
    """Return the expressions of the plain sounds, from the neck to the bridge.

    Each pickup alone, its coils in series, and neighbours together in parallel, all in phase. Where
    one of two neighbours has two coils, the coil plays that cancels the other's hum.
    """
    pickups = find_pickups(wiring, names)
    sounds = []
    for k, pickup in enumerate(pickups):
        sounds.append(_written(wiring, pickup, " + "))
        if k + 1 < len(pickups):
            sounds.append(_together(wiring, pickup, pickups[k + 1]))
    return sounds


def _together(wiring: Wiring, one: tuple[str, ...], other: tuple[str, ...]) -> str:
    if len(one) == len(other) == 1:
        return _written(wiring, (*one, *other), " | ")
    if len(one) == len(other):
        first = _written(wiring, one, " + ")
        second = _written(wiring, other, " + ", turned=_sign(wiring, one[0]) != _sign(wiring, other[0]))
        return f"({first}) | ({second})"
    single, pair = sorted((one, other), key=len)
    signs = {name: wiring.coils[name].winding * _sign(wiring, name) for name in (*single, *pair)}
    quiet = next((name for name in pair if signs[name] != signs[single[0]]), pair[0])
    return _written(wiring, (quiet, *single), " | ")


def _written(wiring: Wiring, names: Sequence[str], sign: str, *, turned: bool = False) -> str:
    """Return coils joined in phase with the first, all reversed if turned."""
    first = _sign(wiring, names[0])
    return sign.join("-" * ((_sign(wiring, name) != first) ^ turned) + name for name in names)


def _sign(wiring: Wiring, name: str) -> int:
    return wiring.coils[name].string_sign


def with_plain_sounds(
    wiring: Wiring, found: Candidates, count: int, pinned: Sequence[int], without: Collection[int]
) -> tuple[int, ...]:
    """Return the pinned candidates and as many plain sounds as fit.

    Parameters
    ----------
    count : int
        Positions of the set. Pickups alone come before pickups together.
    without : collection of int
        Candidates that are left out.
    """
    sounds = find_plain_sounds(wiring, [name for name in found.names if name in wiring.coils])
    plain = [find_pinned(found, one) for one in (*sounds[::2], *sounds[1::2])]
    left = [one for one in plain if one not in pinned and one not in without]
    return (*pinned, *left[: max(count - len(pinned), 0)])


def without_each(rules: SetRules) -> Mapping[str, SetRules]:
    """Return by name the rules without each condition, and without all.

    Examples
    --------
    >>> list(without_each(SetRules(5, quiet=2, opposed=False, level_window_db=200.0)))
    ['coils in phase', 'hum-cancelling, 2 at least', 'all of these']
    """
    drops: dict[str, dict[str, object]] = {}
    if not rules.opposed:
        drops["coils in phase"] = {"opposed": True}
    if rules.quiet:
        drops[f"hum-cancelling, {rules.quiet} at least"] = {"quiet": 0}
    if rules.pinned:
        drops["sounds kept"] = {"pinned": ()}
    if rules.without:
        drops["sounds left out"] = {"without": ()}
    if rules.level_window_db < ANY_LEVEL_DB:
        drops[f"level within {rules.level_window_db:g} dB"] = {"level_window_db": ANY_LEVEL_DB}
    if rules.thinnest > 0.0:
        drops[f"lows at least {100.0 * rules.thinnest:g} %"] = {"thinnest": 0.0}
    found = {name: replace(rules, **drop) for name, drop in drops.items()}  # type: ignore[arg-type]
    if len(drops) > 1:
        every = {key: value for drop in drops.values() for key, value in drop.items()}
        found["all of these"] = replace(rules, **every)  # type: ignore[arg-type]
    return found
