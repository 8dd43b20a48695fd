"""Find sounds that a lean switch can make: change charts at random and keep good ones.

On a switch with few poles most sets of sounds cannot be wired, and trying one after another takes
too long. Here the chart comes first. It puts leads and lugs on nets; each position then makes a
network, and the search judges the set of these sounds. The result is only a set of sounds. The
caller wires and verifies it like any other.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

from dsp.parts.switch import Switch
from dsp.sound.timbre import timbre_distance
from dsp.sounds.candidates import Candidates
from dsp.sounds.rules import SetRules, levels_of, set_in_order
from dsp.sounds.swaps import NOISE_DB
from dsp.sounds.topology import PARALLEL, SERIES, canonical_form

HOT, COLD = 0, 1
FREE_NETS = 5
"""Nets besides hot and cold, enough for the series links and spare joints of four coils."""
HOT_DB, COOL_DB = 1.5, 0.05
"""Temperatures, in the distance's own unit, from the start of a run to its end."""
RUN = 6000
"""Changes in one run. The next run starts from scratch."""
NO_SOUND_DB, TWICE_DB = -6.0, -1.0
"""Worth of a position without an allowed sound, and of a repeated sound. Each is worse than any
distance, which drives a chart towards a sound of its own in every position."""

Key = tuple[object, tuple[int, ...]]


@dataclass
class Annealer:
    """Charts of one switch for one set of candidates.

    Parameters
    ----------
    allowed : sequence of int
        Candidates that may be positions.
    hanging : bool
        Unused coils may hang from a live point.
    shorted : frozenset of int
        Coils that may be shorted while unused.
    links : sequence of (tuple of int, bool)
        Leads soldered together permanently, and whether the link comes out as a lead. A start is
        twice its coil's number; a finish is one more.
    """

    found: Candidates
    allowed: Sequence[int]
    rules: SetRules
    switch: Switch
    hanging: bool = False
    shorted: frozenset[int] = frozenset()
    seed: int = 1
    links: Sequence[tuple[tuple[int, ...], bool]] = ()
    _place: dict[Key, int] = field(init=False)
    _seen: dict[tuple[int, ...], int] = field(init=False, default_factory=dict)

    def __post_init__(self) -> None:
        self._place = {
            (canonical_form(self.found.networks[i]), tuple(int(s) for s in self.found.signs[i])): i
            for i in self.allowed
        }
        self._n_coils = self.found.signs.shape[1]
        self._lugs = {lug: k for k, lug in enumerate(self.switch.lugs)}
        self._groups = [
            [[self._lugs[lug] for lug in group] for group in groups]
            for groups in list(self.switch.contacts.values())[: self.rules.count]
        ]
        self._apart: dict[tuple[int, int], float] = {}

    def search(
        self, stop: Callable[[], bool], *, most: int | None = None
    ) -> tuple[tuple[int, ...], float, int]:
        """Return the best set of sounds, its distance, and the charts judged.

        Parameters
        ----------
        stop : callable
            True ends the search.
        most : int, optional
            Charts to judge. The same number gives the same answer on any machine unless ``stop``
            ends the search first.

        Returns
        -------
        tuple of int
            The sounds in the order of the switch's positions; empty if no chart has one in each.
        float
            dB.
        int
        """
        rng = np.random.default_rng(self.seed)
        best: tuple[tuple[int, ...], float] = ((), -math.inf)
        looked = 0
        most_charts = math.inf if most is None else most
        while looked < most_charts and not stop():
            chart = rng.integers(0, FREE_NETS + 2, 2 * self._n_coils + len(self._lugs)).tolist()
            self._solder(chart)
            worth, sounds = self._worth(chart)
            for step in range(RUN):
                if looked >= most_charts or (step % 256 == 0 and stop()):
                    break
                heat = HOT_DB * (COOL_DB / HOT_DB) ** (step / RUN)
                changed = list(chart)
                for _ in range(1 + int(rng.random() < 0.4)):
                    changed[int(rng.integers(len(changed)))] = int(rng.integers(FREE_NETS + 2))
                self._solder(changed)
                new, new_sounds = self._worth(changed)
                looked += 1
                if new >= worth or rng.random() < math.exp((new - worth) / heat):
                    chart, worth, sounds = changed, new, new_sounds
                    if worth > best[1] and self._keeps_rules(sounds):
                        best = (tuple(sounds), worth)
        return best[0], best[1], looked

    def _solder(self, chart: list[int]) -> None:
        """Put linked leads on one net; a buried link gets a net of its own."""
        for n, (leads, out) in enumerate(self.links):
            net = chart[leads[0]] if out else FREE_NETS + 2 + n
            for lead in leads:
                chart[lead] = net

    def _keeps_rules(self, sounds: Sequence[int]) -> bool:
        """Return whether each position has its own sound and rules are kept."""
        if min(sounds) < 0 or len(set(sounds)) < len(sounds):
            return False
        return self._short(sounds) == 0

    def _worth(self, chart: Sequence[int]) -> tuple[float, list[int]]:
        """Return how good a chart is, and the sound of each position, -1 for none."""
        sounds = [self._sound(chart, groups) for groups in self._groups]
        missing = sum(i < 0 for i in sounds)
        if missing:
            return NO_SOUND_DB * missing, sounds
        short = self._short(sounds)
        twice = len(sounds) - len(set(sounds))
        if twice or short:
            return TWICE_DB * (twice + short), sounds
        pairs = (self._distance(a, b) for k, a in enumerate(sounds) for b in sounds[:k])
        return min(pairs, default=0.0), sounds

    def _short(self, sounds: Sequence[int]) -> int:
        """Return how many more changes the rules ask of a set, 0 if it keeps them."""
        found, rules = self.found, self.rules
        short = max(rules.quiet - sum(found.hum_db[i] <= rules.quiet_db for i in sounds), 0)
        short += max(rules.in_phase - sum(not found.opposed[i] for i in sounds), 0)
        short += len(set(rules.pinned) - set(sounds))
        levels = levels_of(found, rules)[list(sounds)]
        short += float(np.ptp(levels)) > rules.spread_db + NOISE_DB
        short += int(np.sum(np.abs(np.diff(levels)) > rules.step_db + NOISE_DB))
        short += sum(sounds[at - 1] != one for at, one in rules.places)
        if rules.in_order:
            short += sum(a != b for a, b in zip(sounds, set_in_order(found, rules, sounds), strict=True))
        return int(short)

    def _distance(self, a: int, b: int) -> float:
        key = (a, b) if a < b else (b, a)
        if key not in self._apart:
            self._apart[key] = float(timbre_distance(self.found.timbre[a], self.found.timbre[b]))
        return self._apart[key]

    def _sound(self, chart: Sequence[int], groups: Sequence[Sequence[int]]) -> int:
        """Return the candidate that one position of a chart makes, or -1."""
        root = list(range(FREE_NETS + 2 + len(self.links)))
        first_lug = 2 * self._n_coils
        for group in groups:
            nets = [chart[first_lug + lug] for lug in group]
            for net in nets[1:]:
                low, high = sorted((root[nets[0]], root[net]))
                if low != high:
                    root = [low if r == high else r for r in root]
        if root[HOT] == root[COLD]:
            return -1
        ends = tuple(root[net] for net in chart[:first_lug])
        seen = (*ends, root[HOT], root[COLD])
        if seen not in self._seen:
            short = {k for k in range(self._n_coils) if ends[2 * k] == ends[2 * k + 1]}
            key = network_of(ends, root[HOT], root[COLD], hanging=self.hanging)
            self._seen[seen] = -1 if key is None or short - self.shorted else self._place.get(key, -1)
        return self._seen[seen]


def network_of(ends: Sequence[int], hot: int, cold: int, *, hanging: bool) -> Key | None:
    """Return the network that coils between nodes make, regardless of order.

    Parameters
    ----------
    ends : sequence of int
        Start and finish node of each coil in turn.
    hanging : bool
        Whether a coil may hang from a node other than cold.

    Returns
    -------
    tuple or None
        Shape and signs in the form of candidates. None for silence, for a short that leaves
        nothing, for a forbidden hanging coil, or for coils neither in series nor in parallel.
    """
    edges = {k: (ends[2 * k], ends[2 * k + 1]) for k in range(len(ends) // 2)}
    edges = {k: pair for k, pair in edges.items() if pair[0] != pair[1]}
    loose = _trim(edges, hot, cold)
    if not edges:
        return None
    live = {node for pair in edges.values() for node in pair} - {cold}
    if not hanging and any(live & set(pair) for pair in loose):
        return None
    signs = [0] * (len(ends) // 2)
    shape = _reduced([(a, b, k, {k: 1}) for k, (a, b) in edges.items()], hot, cold, signs)
    if shape is None:
        return None
    first = next(sign for sign in signs if sign)
    return shape, tuple(sign * first for sign in signs)


def _trim(edges: dict[int, tuple[int, int]], hot: int, cold: int) -> list[tuple[int, int]]:
    """Remove coils that hang by one lead from the edges; return their nodes."""
    loose: list[tuple[int, int]] = []
    while True:
        degree: dict[int, int] = {}
        for pair in edges.values():
            for node in pair:
                degree[node] = degree.get(node, 0) + 1
        hangs = [k for k, pair in edges.items() if any(degree[n] == 1 and n not in (hot, cold) for n in pair)]
        if not hangs and degree.get(hot, 0) and degree.get(cold, 0):
            return loose
        if not hangs:
            loose += edges.values()
            edges.clear()
            return loose
        loose += [edges.pop(k) for k in hangs]


_Edge = tuple[int, int, object, dict[int, int]]


def _reduced(edges: list[_Edge], hot: int, cold: int, signs: list[int]) -> object | None:
    """Return the shape of edges from hot to cold, or None; fill in signs."""
    while len(edges) > 1:
        step = _step(edges, hot, cold)
        if step is None:
            return None
        edges = step
    a, b, shape, turned = edges[0]
    if {a, b} != {hot, cold}:
        return None
    for k, sign in turned.items():
        signs[k] = sign if a == hot else -sign
    return shape


def _step(edges: list[_Edge], hot: int, cold: int) -> list[_Edge] | None:
    """Return the edges with two merged, in parallel or in series."""
    for i, one in enumerate(edges):
        for j in range(i):
            other = edges[j]
            rest = [edge for k, edge in enumerate(edges) if k not in (i, j)]
            if {one[0], one[1]} == {other[0], other[1]}:
                turned = one[3] if one[0] == other[0] else _negated(one[3])
                return [*rest, (other[0], other[1], _joined(PARALLEL, other[2], one[2]), other[3] | turned)]
    degree: dict[int, list[int]] = {}
    for i, edge in enumerate(edges):
        for node in edge[:2]:
            degree.setdefault(node, []).append(i)
    for node, at in degree.items():
        if node in (hot, cold) or len(at) != 2:
            continue
        first, second = (_towards(edges[i], node, last) for i, last in zip(at, (True, False), strict=True))
        made = (first[0], second[1], _joined(SERIES, first[2], second[2]), first[3] | second[3])
        return [*(edge for k, edge in enumerate(edges) if k not in at), made]
    return None


def _towards(edge: _Edge, node: int, last: bool) -> _Edge:
    """Return an edge turned to end (or start) at a node."""
    return edge if edge[1 if last else 0] == node else (edge[1], edge[0], edge[2], _negated(edge[3]))


def _negated(signs: dict[int, int]) -> dict[int, int]:
    return {k: -sign for k, sign in signs.items()}


def _joined(kind: str, first: object, second: object) -> object:
    members: list[object] = []
    for shape in (first, second):
        members += list(shape[1]) if isinstance(shape, tuple) and shape[0] == kind else [shape]
    return (kind, frozenset(members))
