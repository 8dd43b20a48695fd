"""Findings you can hear: identical positions, coils out of phase, hum."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from dsp.circuit.hum import HUM_HZ, NO_HUM_DB, hum_residual_db
from dsp.circuit.hum_limits import CANCELLING_DB, FULLY_DB
from dsp.circuit.reduction import Complex, Floats
from dsp.circuit.response import hum_weights
from dsp.facts.findings.states import State, condition_of, group_by_condition, line_of, positions_of
from dsp.facts.findings.table import Finding
from dsp.wiring.model import Wiring

SAME = 1e-6
"""Responses closer than this, relative to the largest, are the same sound."""
VERDICTS = (
    ("hum-cancelling", -np.inf, FULLY_DB),
    ("mostly hum-cancelling", FULLY_DB, CANCELLING_DB),
    ("not hum-cancelling", CANCELLING_DB, np.inf),
)
"""Findings on hum, each with its range of residuals: above the first, up to the second, dB."""
HEARD = 0.1
"""A coil 20 dB below the loudest in a position does not count for its phase."""
AGAINST = 0.5
"""Two signals are in or out of phase when their cosine exceeds this: within 60 degrees of either.
A capacitor in series with one coil gives a value in between, which counts as neither."""


def find_identical_positions(wiring: Wiring, states: list[State]) -> Iterator[Finding]:
    """Yield positions whose responses agree, up to a common sign."""
    rows: dict[tuple[str, ...], list[State]] = {}
    for state in states:
        rows.setdefault(tuple(state.setting.switches.values()), []).append(state)
    found: dict[tuple[tuple[str, ...], str], list[State]] = {}
    for row in rows.values():
        for alike, rule in _alike([state for state in row if not state.silent]):
            found.setdefault((positions_of(alike), rule), []).extend(alike)
    line = line_of(wiring, wiring.selector)
    for (positions, rule), alike in found.items():
        yield Finding(rule, (), positions, line, condition_of(alike, states))


def _alike(left: list[State]) -> Iterator[tuple[list[State], str]]:
    """Yield states with one response, or one but for its sign, and the rule for it."""
    while left:
        first, *rest = left
        twins = [state for state in rest if _same(first.coil, state.coil)]
        turned = [state for state in rest if _same(first.coil, -state.coil)]
        if twins:
            yield [first, *twins], "positions identical"
        if turned:
            yield [first, *turned], "positions differ by polarity"
        left = [state for state in rest if state not in twins and state not in turned]


def _same(one: Complex, other: Complex) -> bool:
    scale = max(np.max(np.abs(one)), np.max(np.abs(other)))
    return bool(np.max(np.abs(one - other)) <= SAME * scale)


def find_out_of_phase(wiring: Wiring, states: list[State]) -> Iterator[Finding]:
    """Yield coils out of phase with the loudest coil for the string."""
    signs = np.array([coil.string_sign * coil.sensitivity for coil in wiring.coils.values()])
    sides: dict[tuple[tuple[str, ...], tuple[str, ...]], list[State]] = {}
    for state in states:
        with_it, against = _sides(tuple(wiring.coils), signs[:, None] * state.coil[:, : len(HUM_HZ)])
        if against:
            sides.setdefault((with_it, against), []).append(state)
    for (with_it, against), hit in sides.items():
        for positions, when, _ in group_by_condition(hit, states):
            words = f"{' and '.join(with_it)} against {' and '.join(against)}"
            detail = ", ".join(part for part in (when, words) if part)
            yield Finding("out of phase", (), positions, line_of(wiring, wiring.selector), detail)


def _sides(names: tuple[str, ...], signal: Complex) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return the coils in phase with the loudest, and those out of phase.

    The signals are those at low frequencies.
    """
    strength = np.sqrt(np.sum(np.abs(signal) ** 2, axis=1))
    loudest = int(np.argmax(strength))
    heard = strength > HEARD * strength[loudest]
    along = np.real(signal @ np.conj(signal[loudest]))
    size = strength * strength[loudest]
    with_it = tuple(n for n, h, a, s in zip(names, heard, along, size, strict=True) if h and a > AGAINST * s)
    against = tuple(n for n, h, a, s in zip(names, heard, along, size, strict=True) if h and a < -AGAINST * s)
    return with_it, against


def find_hum(wiring: Wiring, states: list[State]) -> Iterator[Finding]:
    """Yield how well hum cancels in each state, and how much remains."""
    weights: Floats = hum_weights(wiring)
    residual = {id(s): hum_residual_db(s.coil[:, : len(HUM_HZ)], weights) for s in states if not s.silent}
    for name, low, high in VERDICTS:
        hit = [s for s in states if not s.silent and low < residual[id(s)] <= high]
        for positions, when, among in group_by_condition(hit, states):
            left = _left([residual[id(state)] for state in among])
            detail = ", ".join(part for part in (when, left) if part)
            yield Finding(name, (), positions, line_of(wiring, wiring.selector), detail)


def _left(residuals_db: list[float]) -> str:
    """Return the range of remaining hum as text, lowest to highest."""
    ends = [min(residuals_db), max(residuals_db)]
    words = [f"{value:.1f}".replace("-0.0", "0.0") if value > NO_HUM_DB else "" for value in ends]
    if not words[1]:
        return "nothing left"
    span = words[1] if words[0] == words[1] else f"{words[0] or 'none'} to {words[1]}"
    return f"{span} dB left of the coils' hum"
