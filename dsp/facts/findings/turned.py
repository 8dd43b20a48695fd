"""What turning a knob does to every coil in a network, tried for all knobs at once."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from dsp.circuit.hum import HUM_HZ
from dsp.circuit.reduction import Complex, Floats
from dsp.circuit.response import respond
from dsp.facts.findings.states import LOOK_HZ, State, primary_states
from dsp.facts.findings.table import ALONE_DB
from dsp.wiring.model import Wiring
from dsp.wiring.network import GROUND, Network, build_network

NO_EFFECT = 1e-4
"""A knob that changes no response by more than this relative amount (0.001 dB) does nothing."""
TRIED_AT = (0.0, 2.5, 5.0, 7.5, 10.0)
HEARD = 0.03
"""A coil 30 dB below the loudest of a network is not heard in it."""
SILENCED = 0.03
"""A coil is silenced where its response falls 30 dB at every frequency: a pot's end has some ohms."""
KEPT = 0.5
"""A coil is kept where some frequency stays within 6 dB: a dark tone control keeps the low ones."""
UNEVEN = 1.4
"""A volume of all coils turns all down by the same factor. Factors 3 dB apart belong to one coil's."""
ALIKE = 10.0
"""A knob's ends are alike if between them it does more than this many times their difference."""
NOTHING = 1e-3
"""Share of a level that counts as none."""
MOST_TURNED = 64
"""Networks in which every knob is tried. In more, only knobs that did nothing so far are."""

Flags = NDArray[np.bool_]


@dataclass(frozen=True)
class Turn:
    """What turning a knob does in a network; the other knobs stand at 10.

    Attributes
    ----------
    moves : bool
        Some response changes, with the others at 10 or at 5.
    alike : bool
        It moves responses, but both its ends give the same ones.
    rheostat : bool
        Two of its lugs alone lead anywhere.
    heard : ndarray, shape (n_coils,)
        Coils heard with the knob at 10.
    silenced : ndarray, shape (n_coils,)
        Coils heard, but not with the knob at 0.
    kept : ndarray, shape (n_coils,)
        Coils heard with the knob at 10 and at 0.
    spared : ndarray, shape (n_coils,)
        Coils heard that the knob turns down clearly less than another, before it reaches 0.
    softer_db, louder_db : ndarray, shape (n_coils,)
        How far a heard coil's level falls below that at 10 along the travel, and how far it rises.
    rise_db : float
        What is heard at 10 over what is heard at 0, mean over frequency.
    """

    moves: bool
    alike: bool
    rheostat: bool
    heard: Flags
    silenced: Flags
    kept: Flags
    spared: Flags
    softer_db: Floats
    louder_db: Floats
    rise_db: float

    @property
    def silences_all(self) -> bool:
        """Whether nothing is heard with the knob at 0."""
        return bool(self.heard.any()) and not np.any(self.heard & ~self.silenced)


Turns = Mapping[str, Turn]


def turn_knobs(wiring: Wiring, states: list[State]) -> Iterator[tuple[State, Turns]]:
    """Yield each state with its knobs' turns.

    Equal networks are solved once. States with the other switches in their first position come first.

    Yields
    ------
    state : State
    turns : mapping of str to Turn
        Every knob, up to `MOST_TURNED` networks; then those that moved nothing in the position.
    """
    first = {id(state) for state in primary_states(wiring, states)}
    idle = {(knob, state.setting.position) for knob in wiring.knobs for state in states}
    known: dict[tuple[int, ...], dict[str, Turn]] = {}
    for state in sorted(states, key=lambda state: id(state) not in first):
        position = state.setting.position
        turns = known.setdefault(state.shape, {})
        wanted = [k for k in wiring.knobs if len(known) <= MOST_TURNED or (k, position) in idle]
        turns.update(_try_all(wiring, state, [knob for knob in wanted if knob not in turns]))
        idle -= {(knob, position) for knob, turn in turns.items() if turn.moves}
        yield state, turns


def _try_all(wiring: Wiring, state: State, knobs: list[str]) -> dict[str, Turn]:
    """Try knobs with the others at 10, and those that do nothing there with the others at 5."""
    if not knobs:
        return {}
    network = build_network(wiring, state.setting)
    coil = _responses(wiring, state, knobs, 10.0)
    turns = {k: _judge(one, _is_rheostat(network, k)) for k, one in zip(knobs, coil, strict=True)}
    still = [knob for knob in knobs if not turns[knob].moves]
    for knob, one in zip(still, _responses(wiring, state, still, 5.0), strict=True):
        moves, alike = _ends(one)
        turns[knob] = replace(turns[knob], moves=moves, alike=alike)
    return turns


def _responses(wiring: Wiring, state: State, knobs: list[str], rest: float) -> Complex:
    """Return responses, shape (n_knobs, n_values, n_coils, n_freqs)."""
    settings = [
        replace(state.setting, knobs={**dict.fromkeys(wiring.knobs, rest), knob: value})
        for knob in knobs
        for value in TRIED_AT
    ]
    coil = respond(wiring, settings, LOOK_HZ).coil
    return coil.reshape(len(knobs), len(TRIED_AT), *coil.shape[1:])


def _judge(coil: Complex, rheostat: bool) -> Turn:
    """Judge a knob by its responses, shape (n_values, n_coils, n_freqs)."""
    size = np.abs(coil)
    loudest = size.max(axis=2, initial=0.0)
    heard = loudest[-1] > HEARD * loudest[-1].max(initial=0.0)
    silenced = heard & (loudest[0] <= SILENCED * loudest.max(axis=0, initial=0.0))
    kept = heard & np.any(size[0] > KEPT * size[-1], axis=1)
    spared, apart_db = _spared(size, heard), _apart_db(size, heard)
    return Turn(*_ends(coil), rheostat, heard, silenced, kept, spared, *apart_db, _rise_db(size))


def _apart_db(size: Floats, heard: Flags) -> tuple[Floats, Floats]:
    """Return how far each heard coil's level falls below that at 10, and rises above it, dB."""
    level = np.sqrt(np.mean(size**2, axis=2))
    share = np.where(heard, level / np.where(heard, level[-1], 1.0), 1.0)
    change_db = 20.0 * np.log10(np.maximum(share, NOTHING))
    return np.max(-change_db, axis=0), np.max(change_db, axis=0)


def _rise_db(size: Floats) -> float:
    """Return the level of all coils at 10 over that at 0, mean over frequency, dB.

    Where one coil rises by itself, as by a blend, it is that coil's rise.
    """
    low, high = size[0], size[-1]
    floor = NOTHING * max(float(low.max(initial=0.0)), float(high.max(initial=0.0)))
    if floor == 0.0:
        return 0.0

    def over(one: Floats, other: Floats) -> float:
        return float(np.mean(20.0 * np.log10(np.maximum(one, floor) / np.maximum(other, floor))))

    best = max(over(one, other) for one, other in zip(high, low, strict=True))
    total = over(high.sum(axis=0), low.sum(axis=0))
    return best if best > ALONE_DB else total


def _ends(coil: Complex) -> tuple[bool, bool]:
    """Return whether a knob changes a response, and whether its two ends do not."""
    change = float(np.max(np.abs(coil - coil[:1]), initial=0.0))
    moves = change > NO_EFFECT * float(np.max(np.abs(coil), initial=0.0))
    return moves, moves and ALIKE * float(np.max(np.abs(coil[-1] - coil[0]), initial=0.0)) <= change


def _spared(size: NDArray[np.float64], heard: Flags) -> Flags:
    """Return the coils turned down less than another midway, at low frequencies."""
    low = size[:, :, : len(HUM_HZ)].max(axis=2)
    if not heard.any():
        return heard
    left = low[1:-1] / np.where(heard, low[-1], 1.0)
    least = np.min(left, axis=1, where=heard, initial=np.inf)
    spared: Flags = heard & np.any(left > UNEVEN * least[:, None], axis=0)
    return spared


def _is_rheostat(network: Network, knob: str) -> bool:
    """Whether a pot's track leads from one node to one other, whatever its lugs."""
    mine = [segment for segment in network.segments if segment.pot == knob]
    others = {network.output, GROUND}
    others.update(node for branch in network.branches for node in (branch.a, branch.b))
    others.update(node for one in network.segments if one.pot != knob for node in (one.a, one.b))
    return len({node for segment in mine for node in (segment.a, segment.b)} & others) == 2
