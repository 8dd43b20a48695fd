"""Findings that need a knob: idle ones, ends alike, and what a knob at 0 silences besides its own."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from dsp.circuit.reduction import Floats
from dsp.facts.findings.states import State, group_by_condition, line_of, positions_of
from dsp.facts.findings.table import ALONE_DB, Finding
from dsp.facts.findings.turned import Flags, Turn, Turns, turn_knobs
from dsp.parts.kinds import terminals_of
from dsp.wiring.model import Wiring

FLAT_DB = 0.1
"""A knob whose two ends differ by less takes nothing away at either."""
BACKWARDS_DB = 3.0
"""A knob that takes more than this away at 10, and nowhere less at 0, turns the wrong way. Our own line."""

Turned = list[tuple[State, Turns]]


def find_knob_faults(wiring: Wiring, states: list[State]) -> Iterator[Finding]:
    """Yield what turning the knobs one by one shows.

    A volume that silences all that it is the volume of is no fault.
    """
    turned = list(turn_knobs(wiring, states)) if wiring.knobs else []
    yield from _idle(wiring, states, turned)
    for knob in wiring.knobs:
        mine = [(state, turns) for state, turns in turned if knob in turns]
        alike = [state for state, turns in mine if turns[knob].alike]
        yield from _tell(wiring, states, alike, knob, "both ends of a knob alike", "at 0 and at 10")
        others = _others(mine, knob)
        yield from _too_many(wiring, states, mine, knob, others)
        yield from _killed(wiring, states, mine, knob, others)
        yield from _backwards(wiring, states, mine, knob)
        yield from _independence(wiring, states, mine, knob, others)


def _idle(wiring: Wiring, states: list[State], turned: Turned) -> Iterator[Finding]:
    """Yield knobs that change nothing in a position, other knobs at 10 or 5."""
    heard = positions_of(state for state in states if not state.silent)
    for knob in wiring.knobs:
        moved = positions_of(state for state, turns in turned if knob in turns and turns[knob].moves)
        where = tuple(position for position in heard if position not in moved)
        away = _without_own_coils(knob, where, turned)
        tracks = wiring.knobs[knob]
        lugs = tuple(f"{name}.{lug}" for name in tracks for lug in terminals_of(wiring.parts[name]))
        if idle := tuple(position for position in where if position not in away):
            yield Finding("knob without effect", lugs, idle, line_of(wiring, knob))
        if away:
            yield Finding("knob of other coils", (knob,), away, line_of(wiring, knob))


def _without_own_coils(knob: str, where: tuple[str, ...], turned: Turned) -> tuple[str, ...]:
    """Return the positions in which none of a knob's own coils is heard.

    Its own are those heard wherever it does anything: with a volume for each pickup, every volume
    rests in the other pickup's position.
    """
    mine = [(state, turns[knob]) for state, turns in turned if knob in turns]
    acting = [turn.heard for _, turn in mine if turn.moves]
    own = np.logical_and.reduce(acting) if acting else np.zeros(0, bool)
    if not own.any():
        return ()
    beside = positions_of(state for state, turn in mine if np.any(own & turn.heard))
    known = positions_of(state for state, _ in mine)
    return tuple(position for position in where if position in known and position not in beside)


def _others(mine: Turned, knob: str) -> Flags:
    """Return the coils that a knob is not the volume of, but silences somewhere.

    It silences all that is heard, but on its way down it spares a coil that another way leads out.
    Or it always silences one coil and, somewhere, also one that elsewhere has a volume of its own.
    """
    n_coils = len(mine[0][1][knob].heard) if mine else 0
    always, free, found = np.ones(n_coils, bool), np.zeros(n_coils, bool), np.zeros(n_coils, bool)
    for _, turns in mine:
        always &= turns[knob].silenced | ~turns[knob].heard
        for other, turn in turns.items():
            free |= (turn.silenced & turns[knob].kept) if other != knob else False
    for turn in (turns[knob] for _, turns in mine if turns[knob].silences_all):
        found |= turn.spared
        if np.any(always & turn.heard):
            found |= free & turn.heard
    return found


def _too_many(
    wiring: Wiring, states: list[State], mine: Turned, knob: str, others: Flags
) -> Iterator[Finding]:
    """Yield where a knob silences coils that it is not the volume of."""
    found: dict[tuple[str, ...], list[State]] = {}
    for state, turns in mine:
        if names := _silenced_too(wiring, turns[knob], others):
            found.setdefault(names, []).append(state)
    for names, hit in found.items():
        detail = f"at 0 it silences {' and '.join(names)} too"
        yield from _tell(wiring, states, hit, knob, "other coils silenced", detail)


def _silenced_too(wiring: Wiring, turn: Turn, others: Flags) -> tuple[str, ...]:
    hit = others & turn.heard if turn.silences_all else np.zeros_like(others)
    return tuple(name for name, one in zip(wiring.coils, hit, strict=True) if one)


def _killed(wiring: Wiring, states: list[State], mine: Turned, knob: str, others: Flags) -> Iterator[Finding]:
    """Yield where a variable resistor shorts the signal though it is no volume.

    It is none if another knob is the position's volume, or if elsewhere it keeps a coil that it
    silences here.
    """
    kept, hit = np.zeros_like(others), []
    for _, turns in mine:
        kept |= turns[knob].kept & turns[knob].moves
    for state, turns in mine:
        turn = turns[knob]
        if not (turn.silences_all and turn.rheostat) or _silenced_too(wiring, turn, others):
            continue
        if np.any(kept & turn.heard) or any(turns[k].silences_all for k in turns if k != knob):
            hit.append(state)
    yield from _tell(wiring, states, hit, knob, "position silenced by a knob", "at 0")


def _backwards(wiring: Wiring, states: list[State], mine: Turned, knob: str) -> Iterator[Finding]:
    """Yield a knob that takes something away at 10 wherever it does anything."""
    heard = [(state, turns[knob].rise_db) for state, turns in mine if turns[knob].heard.any()]
    acting = [(state, rise_db) for state, rise_db in heard if abs(rise_db) > FLAT_DB]
    if acting and all(rise_db < -BACKWARDS_DB for _, rise_db in acting):
        least = max(rise_db for _, rise_db in acting)
        words = f"{-least:.0f} dB less with it at 10 than at 0"
        yield from _tell(
            wiring, states, [state for state, _ in acting], knob, "knob the wrong way round", words
        )


def _independence(
    wiring: Wiring, states: list[State], mine: Turned, knob: str, told: Flags
) -> Iterator[Finding]:
    """Yield whether a volume of some coils makes others softer that are heard beside them.

    They may get louder: coils in parallel load one another, and less so behind part of a track.
    """
    always = np.ones(len(told), bool)
    for _, turns in mine:
        always &= turns[knob].silenced | ~turns[knob].heard
    hit: list[State] = []
    softer_db, louder_db = np.zeros(len(told)), np.zeros(len(told))
    for state, turns in mine:
        turn = turns[knob]
        beside = turn.heard & ~always
        if np.any(always & turn.heard) and np.any(beside) and not np.any(beside & turn.silenced & told):
            hit.append(state)
            softer_db = np.maximum(softer_db, np.where(beside, turn.softer_db, 0.0))
            louder_db = np.maximum(louder_db, np.where(beside, turn.louder_db, 0.0))
    softer, louder = _moved(wiring, softer_db, "softer"), _moved(wiring, louder_db, "louder")
    rule = "volume not independent" if softer else "volume independent"
    if hit:
        yield from _tell(wiring, states, hit, knob, rule, softer or louder)


def _moved(wiring: Wiring, change_db: Floats, way: str) -> str:
    """Return the coils that a knob moves one way, and how far; empty for none."""
    names = [name for name, one in zip(wiring.coils, change_db, strict=True) if one > ALONE_DB]
    return f"{' and '.join(names)} up to {change_db.max():.1f} dB {way}" if names else ""


def _tell(
    wiring: Wiring, states: list[State], hit: list[State], knob: str, rule: str, words: str
) -> Iterator[Finding]:
    for positions, when, _ in group_by_condition(hit, states):
        detail = ", ".join(part for part in (when, words) if part)
        yield Finding(rule, (knob,), positions, line_of(wiring, knob), detail)
