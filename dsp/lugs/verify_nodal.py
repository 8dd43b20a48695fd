"""Second verifier: solve the chart's and the sketch's circuits with random impedances.

Each coil is an EMF behind a random complex impedance. It has a random impedance across its leads
and random mutual impedances to coupled coils. Other parts are random impedances. The verifier
compares the response to every EMF at a random load, and the impedance seen there. For two random
draws these agree only if the networks are equivalent at the output. The verifier walks along joints
and contacts to collect terminals.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import count

import numpy as np
from numpy.typing import NDArray

from dsp.lugs.chart import COLD_END, HOT_END, SWITCH, Chart
from dsp.lugs.targets import Target, Targets
from dsp.parts.expression import Expression, Leaf
from dsp.parts.kind import Terminal

Complex = NDArray[np.complex128]
Ends = dict[str, tuple[int, int]]
"""The nodes of both leads of each part. Hot is node 1, ground is node 0."""

SAME = 1e-7
"""Relative tolerance. Impedances lie within a factor of ten, so equal networks agree to 1e-12.
Networks that differ by a part or a direction differ by more than 1e-4."""
DRAWS = 2


def find_wrong_positions(wanted: Targets, chart: Chart, *, seed: int = 1) -> tuple[str, ...]:
    """Return the positions whose circuit differs from that of their sound.

    Parameters
    ----------
    seed : int
        Seed of the random impedances.
    """
    rng = np.random.default_rng(seed)
    draws = [_Draw(wanted, rng) for _ in range(DRAWS)]
    targets = {target.name: target for target in wanted.targets}
    off = []
    for position in chart.switch.positions:
        target = targets.get(chart.sounds.get(position, ""))
        if target is None or not all(_equal(draw, wanted, chart, position, target) for draw in draws):
            off.append(position)
    return tuple(off)


def _equal(draw: _Draw, wanted: Targets, chart: Chart, position: str, target: Target) -> bool:
    got = draw.solve(_ends_of_chart(wanted, chart, position))
    want = draw.solve(_ends_of_sketch(wanted, target.expression))
    if target.name in chart.turned:
        want[:-1] *= -1.0  # every EMF; the last is the impedance
    return bool(np.max(np.abs(got - want)) <= SAME * np.max(np.abs(want)))


class _Draw:
    """Random impedances for every part, and a load."""

    def __init__(self, wanted: Targets, rng: np.random.Generator) -> None:
        n = len(wanted.parts)
        self.names = [part.name for part in wanted.parts]
        self.coils = [k for k, part in enumerate(wanted.parts) if part.coil]
        self.impedance = np.diag(_random(rng, n))
        for k, part in enumerate(wanted.parts):
            for j in range(k):
                if self.names[j] in part.coupled:
                    mutual = 0.2 * _random(rng, 1)[0]
                    self.impedance[k, j] = self.impedance[j, k] = mutual
        self.across = 0.3 / _random(rng, n)
        self.load = 1.0 / _random(rng, 1)[0]

    def solve(self, ends: Ends) -> Complex:
        """Return volts at hot per EMF, then per ampere, shape (n_coils + 1,)."""
        n_nodes = 1 + max(1, *(node for pair in ends.values() for node in pair))
        n = len(self.names)
        incidence = np.zeros((n, n_nodes))
        for k, name in enumerate(self.names):
            incidence[k, ends[name][0]] += 1.0
            incidence[k, ends[name][1]] -= 1.0
        across = np.zeros(n, complex)
        across[self.coils] = self.across[self.coils]
        nodal = incidence.T @ (across[:, None] * incidence)
        nodal[1, 1] += self.load
        # Rows: the currents that leave each node, then the voltage along each part. A branch's
        # current enters the part at its first lead: V(first) - V(last) = EMF + Z i.
        matrix = np.block([[nodal, incidence.T], [incidence, -self.impedance]])
        right = np.zeros((n_nodes + n, len(self.coils) + 1), complex)
        for column, k in enumerate(self.coils):
            right[n_nodes + k, column] = 1.0
        right[1, -1] = 1.0
        keep = np.arange(1, n_nodes + n)  # node 0 is ground
        # Loose pieces have no defined voltage: the least-squares solution picks one.
        solved = np.linalg.lstsq(matrix[np.ix_(keep, keep)], right[keep], rcond=1e-11)[0]
        hot: Complex = solved[0]
        return hot


def _random(rng: np.random.Generator, n: int) -> Complex:
    """Return impedances from 1 to 10, at any angle of a passive part."""
    drawn: Complex = rng.uniform(1.0, 10.0, n) * np.exp(1j * rng.uniform(-1.2, 1.2, n))
    return drawn


def _ends_of_chart(wanted: Targets, chart: Chart, position: str) -> Ends:
    """Walk from terminal to terminal and return the nodes."""
    beside: dict[Terminal, list[Terminal]] = {}
    contacts = [tuple((SWITCH, lug) for lug in group) for group in chart.switch.contacts[position]]
    for group in (*chart.nets, *contacts, *(link.leads for link in wanted.links)):
        for terminal in group:
            beside.setdefault(terminal, []).extend(group)
    node: dict[Terminal, int] = {}
    numbers = count()
    for start in (COLD_END, HOT_END, *wanted.leads):
        if start in node:
            continue
        number, stack = next(numbers), [start]
        while stack:
            here = stack.pop()
            if here not in node:
                node[here] = number
                stack += beside.get(here, ())
    if node[HOT_END] == node[COLD_END]:  # number 1 is for hot alone: nothing touches it here
        node = {terminal: at + (at > 0) for terminal, at in node.items()}
    return {p.name: (node[p.name, p.leads[0]], node[p.name, p.leads[1]]) for p in wanted.parts}


def _ends_of_sketch(wanted: Targets, expression: Expression) -> Ends:
    """Return the nodes of an expression's parts; unused parts hang free."""
    numbers = count(2)
    ends = dict(_stood(expression, 1, 0, numbers))
    return {part.name: ends.get(part.name) or (next(numbers), next(numbers)) for part in wanted.parts}


def _stood(
    expression: Expression, hot: int, cold: int, numbers: Iterator[int]
) -> Iterator[tuple[str, tuple[int, int]]]:
    if expression.reversed:
        hot, cold = cold, hot
    if isinstance(expression, Leaf):
        yield expression.name, (hot, cold)
    elif expression.series:
        links = [hot, *(next(numbers) for _ in expression.members[1:]), cold]
        for member, a, b in zip(expression.members, links, links[1:], strict=False):
            yield from _stood(member, a, b, numbers)
    else:
        for member in expression.members:
            yield from _stood(member, hot, cold, numbers)
