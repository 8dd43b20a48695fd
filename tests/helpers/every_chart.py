"""Every chart of a small switch by brute force: no code of the search, and sounds solved as circuits.

A chart is permanent joints of hot, ground and the leads, and a joint for each lug: one of these, a joint
of lugs alone, or nothing. A position's sound is whatever its circuit does, told from the candidates by a
nodal solution with random impedances.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from functools import cache
from itertools import pairwise

import numpy as np

from dsp.parts.expression import Expression, Leaf
from dsp.parts.switch import Switch
from dsp.sounds.candidates import Candidates

SPARES = 2
Joints = tuple[int, ...]


class EveryChart:
    """All charts of uncoupled coils on a switch, as sounds of candidates per position."""

    def __init__(self, found: Candidates) -> None:
        self._found, self._n = found, len(found.names)
        rng = np.random.default_rng(5)
        self._z = rng.uniform(1.0, 9.0, self._n) * np.exp(1j * rng.uniform(-1.2, 1.2, self._n))
        self._known = {}
        for i in range(len(found)):
            expression = found.expression(i)
            assert expression is not None
            ends: dict[str, tuple[int, int]] = {}
            _stand(expression, 0, 1, ends, [2])
            free = 2 + 2 * self._n
            nodes = [0, 1]
            for k, name in enumerate(found.names):
                nodes += ends.get(name, (free + 2 * k, free + 2 * k + 1))
            self._known[self._signature(nodes)] = i

    def joinings(self) -> Iterator[Joints]:
        """Yield every division of hot, ground and the leads into joints, hot and ground apart."""

        def descend(labels: Joints, count: int) -> Iterator[Joints]:
            if len(labels) == 2 + 2 * self._n:
                yield labels
                return
            for label in range(count + 1):
                yield from descend((*labels, label), max(count, label + 1))

        yield from descend((0, 1), 2)

    def sound(self, nodes: Joints) -> int:
        """Return the candidate that ends on nodes make, -1 for none or a coil left as an aerial."""
        numbers: dict[int, int] = {}
        return self._sound(tuple(numbers.setdefault(node, len(numbers)) for node in nodes))

    @cache  # noqa: B019
    def _sound(self, nodes: Joints) -> int:
        if nodes[0] == nodes[1]:
            return -1
        i = self._known.get(self._signature(nodes), -1)
        return -1 if i < 0 or self._hangs(nodes, i) else i

    def _signature(self, nodes: Sequence[int]) -> tuple[complex, ...]:
        """Return what a circuit gives at hot per EMF, up to a common sign, and its impedance there."""
        n_nodes = max(nodes) + 1
        matrix = np.zeros((n_nodes, n_nodes), complex)
        right = np.zeros((n_nodes, self._n + 1), complex)
        for k in range(self._n):
            a, b = nodes[2 + 2 * k], nodes[3 + 2 * k]
            for x, y, sign in ((a, a, 1), (b, b, 1), (a, b, -1), (b, a, -1)):
                matrix[x, y] += sign / self._z[k]
            right[a, k] += 1 / self._z[k]
            right[b, k] -= 1 / self._z[k]
        matrix[nodes[0], nodes[0]] += 0.3
        right[nodes[0], -1] = 1.0
        keep = [i for i in range(n_nodes) if i != nodes[1]]
        solved = np.linalg.lstsq(matrix[np.ix_(keep, keep)], right[keep], rcond=1e-11)[0]
        hot = solved[keep.index(nodes[0])]
        first = next((value for value in hot[:-1] if abs(value) > 1e-7), 1.0)
        sign = 1.0 if first.real > 0 else -1.0
        return tuple(
            complex(round(v.real, 6) + 0.0, round(v.imag, 6) + 0.0) for v in (*(sign * hot[:-1]), hot[-1])
        )

    def _hangs(self, nodes: Joints, i: int) -> bool:
        """Return whether a coil without a part in the sound hangs from one of its nodes but ground."""
        used = [k for k in range(self._n) if self._found.signs[i][k]]
        live = {nodes[0], *(nodes[end] for k in used for end in (2 + 2 * k, 3 + 2 * k))} - {nodes[1]}
        apart = [(a, b) for k in range(self._n) for a, b in [nodes[2 + 2 * k : 4 + 2 * k]] if k not in used]
        return any(a != b and {a, b} & live for a, b in apart)

    def any_above(
        self, switch: Switch, above_db: float, fits: Callable[[Sequence[int]], bool], distances: np.ndarray
    ) -> tuple[int, ...] | None:
        """Return the sounds of a chart whose smallest distance is above a limit, or None.

        Positions of up to four lugs are put together way by way; the others follow from these.
        """
        place = {lug: i for i, lug in enumerate(switch.lugs)}
        groups = [[[place[lug] for lug in group] for group in row] for row in switch.contacts.values()]
        lugs = [sorted({lug for group in row for lug in group}) for row in groups]
        first = [p for p in range(len(groups)) if len(lugs[p]) <= 4]
        later = [p for p in range(len(groups)) if len(lugs[p]) > 4]
        known: list[list[int]] = []
        seen: set[int] = set()
        for p in first:
            known.append([lug for lug in lugs[p] if lug in seen])
            seen.update(lugs[p])

        def descend(k: int, at: dict[int, int], sounds: dict[int, int]) -> tuple[int, ...] | None:
            if k < len(first):
                p = first[k]
                for way, sound in ways[k].get(tuple(at[lug] for lug in known[k]), ()):
                    if all(distances[sound, other] > above_db for other in sounds.values()):
                        grown = {**at, **dict(zip(lugs[p], way, strict=True))}
                        if (done := descend(k + 1, grown, {**sounds, p: sound})) is not None:
                            return done
                return None
            whole = dict(sounds)
            for p in later:
                sound = heard(_merge(n, [[at[lug] for lug in group] for group in groups[p]]))
                if sound < 0 or any(distances[sound, other] <= above_db for other in whole.values()):
                    return None
                whole[p] = sound
            row = tuple(whole[p] for p in range(len(groups)))
            return row if fits(row) else None

        for labels in self.joinings():
            n = max(labels) + 1
            told: dict[Joints, int] = {}

            def heard(nodes: Joints, labels: Joints = labels, told: dict[Joints, int] = told) -> int:
                if nodes not in told:
                    told[nodes] = self.sound(tuple(nodes[label] for label in labels))
                return told[nodes]

            ways: list[dict[Joints, list[tuple[Joints, int]]]] = []
            made: dict[object, list[tuple[Joints, int]]] = {}
            for p, before in zip(first, known, strict=True):
                slots = _slots(groups[p], lugs[p])
                if slots not in made:
                    every = ((way, heard(nodes)) for way, nodes in _ways(n, len(lugs[p]), slots))
                    made[slots] = [(way, sound) for way, sound in every if sound >= 0]
                ways.append({})
                for way, sound in made[slots]:
                    key = tuple(joint for lug, joint in zip(lugs[p], way, strict=True) if lug in before)
                    ways[-1].setdefault(key, []).append((way, sound))
            if (found := descend(0, {}, {})) is not None:
                return found
        return None


def _slots(groups: Sequence[Sequence[int]], lugs: Sequence[int]) -> tuple[tuple[int, ...], ...]:
    return tuple(tuple(lugs.index(lug) for lug in group) for group in groups)


@cache
def _ways(n: int, n_lugs: int, groups: tuple[tuple[int, ...], ...]) -> list[tuple[Joints, Joints]]:
    """Return every way to solder some lugs, with the nodes of n joints; equal results once."""
    every: list[Joints] = [()]
    for _ in range(n_lugs):
        every = [(*way, joint) for way in every for joint in range(n + SPARES + 1)]
    return [(way, _merge(n, [[way[slot] for slot in group] for group in groups])) for way in every]


def _merge(n: int, groups: Sequence[Sequence[int]]) -> Joints:
    """Return a node for each joint; the number after the last joint is a lug on nothing."""
    node = list(range(n + SPARES))
    for group in groups:
        some = {node[joint] for joint in group if joint < n + SPARES}
        if some:
            node = [min(some) if one in some else one for one in node]
    return tuple(node)


def _stand(
    expression: Expression, hot: int, cold: int, ends: dict[str, tuple[int, int]], free: list[int]
) -> None:
    """Put an expression's parts between two nodes; ``free`` holds the next new one."""
    if expression.reversed:
        hot, cold = cold, hot
    if isinstance(expression, Leaf):
        ends[expression.name] = (hot, cold)
        return
    links = [(hot, cold)] * len(expression.members)
    if expression.series:
        nodes = [hot, *range(free[0], free[0] + len(links) - 1), cold]
        free[0] += len(links) - 1
        links = list(pairwise(nodes))
    for member, (above, below) in zip(expression.members, links, strict=True):
        _stand(member, above, below, ends, free)
