"""The reading of an ohmmeter at the jack, the cable unplugged."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from dsp.parts.jack import OUT
from dsp.wiring.model import Setting, Wiring
from dsp.wiring.network import GROUND, Network, build_network, set_pots
from dsp.wiring.union import Merge

OPEN_OHM = float("inf")
"""Reading where no direct current can flow."""


def jack_reading_ohm(wiring: Wiring, setting: Setting) -> float:
    """Compute the DC resistance between output and sleeve, nothing plugged in.

    Returns
    -------
    float
        Ohm; infinite where no direct current flows.

    Examples
    --------
    >>> from dsp.parts.kinds import new_part
    >>> from dsp.wiring.model import Joint
    >>> coil = new_part("coil", resistance=6e3, inductance=2.4, capacitance=110e-12)
    >>> ends = [(("neck", "start"), ("output", "tip")), (("neck", "finish"), ("output", "sleeve"))]
    >>> parts = {"neck": coil, "output": new_part("jack")}
    >>> wiring = Wiring("one coil", "", parts, tuple(map(Joint, ends)))
    >>> jack_reading_ohm(wiring, wiring.setting("1"))
    6000.0
    """
    bare = replace(setting, switches={**setting.switches, wiring.jack: OUT})
    return reading_of(set_pots(build_network(wiring, bare), bare))


def reading_of(network: Network) -> float:
    """Compute `jack_reading_ohm` of a network whose pots are set."""
    paths = [
        (branch.a, branch.b, ohm)
        for kind, branches in network.elements
        for branch, ohm in zip(branches, kind.dc_ohms(branches[0].part), strict=True)
        if ohm is not None
    ]
    joined = Merge(range(network.n_nodes))
    pieces = Merge(range(network.n_nodes))
    for a, b, ohm in paths:
        pieces.join((a, b))
        if ohm == 0.0:
            joined.join((a, b))
    if joined.same(GROUND, network.output):
        return 0.0
    if not pieces.same(GROUND, network.output):
        return OPEN_OHM
    rows: dict[int, int] = {}
    for node in range(network.n_nodes):
        if pieces.same(node, GROUND) and not joined.same(node, GROUND):
            rows.setdefault(joined.root(node), len(rows))
    matrix = np.zeros((len(rows), len(rows)))
    for a, b, ohm in paths:
        ends = [row for node in (a, b) if (row := rows.get(joined.root(node))) is not None]
        if ohm == 0.0 or joined.same(a, b):
            continue
        for i in ends:
            matrix[i, i] += 1.0 / ohm
        if len(ends) == 2:
            matrix[ends[0], ends[1]] -= 1.0 / ohm
            matrix[ends[1], ends[0]] -= 1.0 / ohm
    ampere = np.zeros(len(rows))
    output = rows[joined.root(network.output)]
    ampere[output] = 1.0
    return float(np.linalg.solve(matrix, ampere)[output])
