"""Responses of many instruments of one wiring at once: the same joints, other values.

The network of a position is the same for all. So the values of a part become one array over copies
and frequencies, and the solver runs once over both.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import inf
from typing import Any

import numpy as np

from dsp.circuit.pots import Key, PotTerms, fold_pots, solve_settings
from dsp.circuit.reduction import MOST_BYTES, Complex, Floats, Reduction, reduce_position
from dsp.parts.coil import Eddy
from dsp.parts.kinds import variable_of
from dsp.parts.pot import JOINT_OHM, KNOB_TOP
from dsp.wiring.model import Setting, Wiring
from dsp.wiring.network import Network, build_network, open_segments

MOST_SHARE = 0.97
"""Of a coil's inductance in eddy losses together: some stays lossless."""
GAP_OHM = 1e12
"""A gap in a track of one copy where another copy has none."""


@dataclass(frozen=True)
class Copies:
    """Values of the parts of several instruments.

    Attributes
    ----------
    count : int
        Number of instruments.
    factors : mapping of (str, str) to ndarray, shape (count,)
        By part and attribute; of ``eddy`` on every share. A pot's ``resistance_ohm`` is that of all
        its stretches.
    turns : mapping of str to ndarray, shape (count,)
        By pot: added to its knob, 0 to 10, while the knob is at neither end.
    coefficients : mapping of int to ndarray, shape (count,)
        By number of the coupling: added to its coefficient.
    cable : ndarray, shape (count,), or None
        Factor of the cable's capacitance.
    """

    count: int
    factors: Mapping[tuple[str, str], Floats] = field(default_factory=dict)
    turns: Mapping[str, Floats] = field(default_factory=dict)
    coefficients: Mapping[int, Floats] = field(default_factory=dict)
    cable: Floats | None = None

    def some(self, chosen: slice) -> Copies:
        """Return some of the copies."""
        return Copies(
            len(range(*chosen.indices(self.count))),
            {key: row[chosen] for key, row in self.factors.items()},
            {key: row[chosen] for key, row in self.turns.items()},
            {key: row[chosen] for key, row in self.coefficients.items()},
            None if self.cable is None else self.cable[chosen],
        )


def respond_copies(
    wiring: Wiring, settings: Sequence[Setting], frequencies_hz: Floats, copies: Copies
) -> tuple[Complex, Complex]:
    """Compute responses and output impedances of every copy.

    Parameters
    ----------
    frequencies_hz : ndarray, shape (n_freqs,)

    Returns
    -------
    coil : ndarray, shape (n_settings, count, n_coils, n_freqs)
    output_impedance_ohm : ndarray, shape (n_settings, count, n_freqs)
    """
    n = len(frequencies_hz)
    coil = np.zeros((len(settings), copies.count, len(wiring.coils), n), complex)
    impedance = np.zeros((len(settings), copies.count, n), complex)
    by_position: dict[tuple[object, ...], list[int]] = {}
    for i, setting in enumerate(settings):
        by_position.setdefault((setting.position, *sorted(setting.switches.items())), []).append(i)
    for rows in by_position.values():
        network = build_network(wiring, settings[rows[0]])
        size = network.n_nodes + len(network.coils)
        step = max(1, MOST_BYTES // (16 * size * size * n))
        for start in range(0, copies.count, step):
            chosen = slice(start, min(start + step, copies.count))
            _fill(
                network,
                frequencies_hz,
                settings,
                rows,
                copies.some(chosen),
                coil[:, chosen],
                impedance[:, chosen],
            )
    return coil, impedance


def _fill(
    network: Network,
    frequencies_hz: Floats,
    settings: Sequence[Setting],
    rows: Sequence[int],
    copies: Copies,
    coil: Complex,
    impedance: Complex,
) -> None:
    """Fill the rows of both arrays for settings of one position."""
    n = len(frequencies_hz)
    many = _with_values(network, copies, n)
    everywhere = np.tile(frequencies_hz, copies.count)
    reductions: dict[frozenset[Key], Reduction] = {}
    folds: dict[tuple[frozenset[Key], frozenset[Key]], PotTerms] = {}
    for i in rows:
        joined, opened, ohms = _track_ohms(network, settings[i], copies, n)
        if opened not in reductions:
            reductions[opened] = reduce_position(open_segments(many, opened), everywhere)
        reduction = reductions[opened]
        if (joined, opened) not in folds:
            folds[joined, opened] = fold_pots(reduction, joined)
        output, responses = solve_settings(reduction, folds[joined, opened], ohms)
        shape = copies.count, n
        if output is not None:
            impedance[i] = np.broadcast_to(output, (copies.count * n,)).reshape(shape)
        for k, response in enumerate(responses):
            if response is not None:
                coil[i, :, k] = np.broadcast_to(response, (copies.count * n,)).reshape(shape)


def _with_values(network: Network, copies: Copies, n_freqs: int) -> Network:
    """Return the network with arrays over copies and frequencies in place of numbers."""

    def spread(row: Floats) -> Floats:
        return np.repeat(row, n_freqs)

    changed: dict[str, dict[str, Any]] = {}
    parts = {branch.name: branch.part for branch in network.branches}
    for (name, attribute), factor in copies.factors.items():
        if name not in parts:
            continue
        own = getattr(parts[name], attribute)
        value: Any = scaled_eddy(own, spread(factor)) if attribute == "eddy" else own * spread(factor)
        changed.setdefault(name, {})[attribute] = value
    made = {name: replace(parts[name], **values) for name, values in changed.items()}  # type: ignore[type-var]
    branches = tuple(replace(b, part=made[b.name]) if b.name in made else b for b in network.branches)
    couplings = tuple(
        replace(one, coefficient=one.coefficient + spread(copies.coefficients[i]))  # type: ignore[arg-type]
        if i in copies.coefficients
        else one
        for i, one in enumerate(network.couplings)
    )
    load = network.load
    if copies.cable is not None:
        load = replace(load, cable_f_per_m=load.cable_f_per_m * spread(copies.cable))  # type: ignore[arg-type]
    return replace(network, branches=branches, couplings=couplings, load=load)


def scaled_eddy(eddy: Sequence[Eddy], factor: Floats) -> tuple[Eddy, ...]:
    """Return losses of other shares, `MOST_SHARE` together at most.

    Parameters
    ----------
    factor : ndarray, any shape
        On every share, which takes its shape.
    """
    most = MOST_SHARE / max(sum(one.share for one in eddy), 1e-12)
    shares = np.minimum(factor, most)
    return tuple(replace(one, share=one.share * shares) for one in eddy)  # type: ignore[arg-type]


def _track_ohms(
    network: Network, setting: Setting, copies: Copies, n_freqs: int
) -> tuple[frozenset[Key], frozenset[Key], dict[Key, Floats]]:
    """Segments that are joints in every copy, those without a track, resistances of the others."""
    found: dict[Key, Floats] = {}
    for knob, pots in network.knobs.items():
        value = setting.knob(knob)
        for name in pots:
            kind = variable_of(network.pots[name])
            assert kind is not None  # a knob turns it
            turn = copies.turns.get(name)
            if turn is None or value in (0.0, KNOB_TOP) or not turn.any():
                rows = np.array([kind.resistances(network.pots[name], value)])
            else:
                values = np.clip(value + turn, 0.01, KNOB_TOP - 0.01)
                places, back = np.unique(values, return_inverse=True)
                table = [kind.resistances(network.pots[name], float(place)) for place in places]
                rows = np.array(table)[back]
            factor = copies.factors.get((name, "resistance_ohm"), np.ones(1))
            for number, column in enumerate(rows.T):
                found[name, number] = column * factor
    joined = frozenset(key for key, row in found.items() if not row.any())
    opened = frozenset(key for key, row in found.items() if np.all(row == inf))
    left = {
        key: np.repeat(np.broadcast_to(np.clip(row, JOINT_OHM, GAP_OHM), (copies.count,)), n_freqs)
        for key, row in found.items()
        if key not in joined and key not in opened
    }
    return joined, opened, left
