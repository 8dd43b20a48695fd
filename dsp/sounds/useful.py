"""What builders solder: pickups, the plain sounds that every player expects, usual connections.

Common practice: a pickup plays whole, its two coils in series, or with one coil, or with both in
parallel. Pickups play together in parallel. Where one coil of a pickup plays with another pickup, it
is the one whose hum the other cancels.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

import numpy as np

from dsp.parts.coil import Coil
from dsp.sounds.candidates import Candidates
from dsp.sounds.topology import COIL, PARALLEL, SERIES, Topology, canonical_form
from dsp.wiring.model import Wiring

HOUSING_M = 0.025
"""Two coils of opposite windings at most so far apart are one pickup (common practice: 18 to 20 mm)."""
LOUDER_HUM_DB = 3.0
"""A connection that hums so much more than the same one with another coil is not usual. Our own line."""

Pickup = tuple[int, ...]
"""Numbers of a pickup's elements in `Candidates.names`."""


def find_pickups(wiring: Wiring, names: Sequence[str]) -> list[tuple[str, ...]]:
    """Return the coils of each pickup, from the neck to the bridge.

    A dummy coil is no pickup. Coils are one pickup if they are coupled side by side, or stand close
    together with opposite windings. Pickups without a place keep the order of the names.
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


def _pickups_of(wiring: Wiring, found: Candidates) -> list[Pickup]:
    """Return the pickups among the elements of a search; a group of parts is one."""
    coils = find_pickups(wiring, [name for name in found.names if name in wiring.coils])
    pickups = [tuple(found.names.index(name) for name in pickup) for pickup in coils]
    groups = [(k,) for k, name in enumerate(found.names[: len(found.at_m)]) if name not in wiring.coils]
    if not groups:
        return pickups
    return sorted([*pickups, *groups], key=lambda pickup: -sum(found.at_m[k] for k in pickup) / len(pickup))


def find_plain_sounds(wiring: Wiring, found: Candidates) -> list[int]:
    """Return the plain sounds among candidates, from neck to bridge.

    Each pickup alone, its coils in series, and neighbours together in parallel, all in phase. Where
    one of two neighbours has two coils, the coil plays that cancels the other's hum. A sound that is
    not among the candidates is left out.
    """
    pickups, made = _pickups_of(wiring, found), _in_phase_by_form(found)
    sounds: list[int | None] = []
    for k, pickup in enumerate(pickups):
        sounds.append(_quietest(found, made, [[pickup]]))
        if k + 1 < len(pickups):
            sounds.append(_quietest(found, made, _together(pickup, pickups[k + 1])))
    return [one for one in sounds if one is not None]


def _together(one: Pickup, other: Pickup) -> list[list[Pickup]]:
    """Return the ways in which neighbours play together, each as what is in parallel."""
    if len(one) == len(other):
        return [[one, other]]
    single, pair = sorted((one, other), key=len)
    return [[(coil,), single] for coil in pair]


def _in_phase_by_form(found: Candidates) -> dict[object, int]:
    """Return the candidates whose coils are in phase by their canonical form."""
    in_phase = np.flatnonzero(~found.opposed)[::-1].tolist()
    return {canonical_form(found.networks[i]): i for i in in_phase}


def _quietest(found: Candidates, made: dict[object, int], ways: Sequence[Sequence[Pickup]]) -> int | None:
    there = [made[form] for form in map(_form, ways) if form in made]
    return min(there, key=lambda i: float(found.hum_db[i]), default=None)


def _form(pickups: Sequence[Pickup]) -> object:
    """Return the canonical form of pickups in parallel, each with its coils in series."""
    forms: list[object] = [
        pickup[0] if len(pickup) == 1 else (SERIES, frozenset(pickup)) for pickup in pickups
    ]
    return forms[0] if len(forms) == 1 else (PARALLEL, frozenset(forms))


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
    plain = find_plain_sounds(wiring, found)
    pickups = _pickups_of(wiring, found)
    alone = [one for one in plain if _is_alone(pickups, found.networks[one])]
    together = [one for one in plain if one not in alone]
    left = [one for one in (*alone, *together) if one not in pinned and one not in without]
    return (*pinned, *left[: max(count - len(pinned), 0)])


def _is_alone(pickups: Sequence[Pickup], network: Topology) -> bool:
    return any(set(network.coils) == set(pickup) for pickup in pickups)


def find_usual_sounds(wiring: Wiring, found: Candidates, *, in_series: bool = False) -> tuple[int, ...]:
    """Return the candidates with usual connections, in any phase.

    A pickup is whole, its coils in series or in parallel, or has one coil playing; pickups play
    together in parallel. Of connections that differ only in which coil plays, those that hum by
    `LOUDER_HUM_DB` more than the quietest are left out.

    Parameters
    ----------
    in_series : bool
        Whether pickups may also play together in series.
    """
    pickups = _pickups_of(wiring, found)
    usual: dict[tuple[object, ...], list[int]] = {}
    known: dict[int, tuple[str, ...] | None] = {}  # all phases of a network share it
    for i, network in enumerate(found.networks):
        if id(network) not in known:
            known[id(network)] = _how_connected(pickups, network)
        how = known[id(network)]
        if how is not None and (in_series or how[0] == PARALLEL):
            usual.setdefault((*how, bool(found.opposed[i])), []).append(i)
    kept = []
    for alike in usual.values():
        least_db = min(float(found.hum_db[i]) for i in alike)
        kept += [i for i in alike if found.hum_db[i] <= least_db + LOUDER_HUM_DB]
    return tuple(sorted(kept))


def _how_connected(pickups: Sequence[Pickup], network: Topology) -> tuple[str, ...] | None:
    """Return how pickups play together, then each, in a usual connection; None for an unusual one."""
    kind, masks = PARALLEL, [sum(1 << k for k in pickup) for pickup in pickups]
    if network.kind == SERIES and not any(network.mask | mask == mask for mask in masks):
        kind = SERIES
    members = network.members if network.kind == kind else (network,)
    if any(inner.members for one in members for inner in one.members):
        return None
    how, counted = [kind], 0
    for pickup, mask in zip(pickups, masks, strict=True):
        mine = [one for one in members if one.mask | mask == mask]
        playing = sum(one.mask.bit_count() for one in mine)
        if playing not in (0, 1, len(pickup)):
            return None
        counted += len(mine)
        inside = mine[0].kind if len(mine) == 1 else kind
        how.append(f"{playing} {COIL if playing < 2 else inside}")
    return tuple(how) if counted == len(members) else None
