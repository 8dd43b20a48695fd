"""Limits of magnetic couplings: which coefficients coils can have."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from dsp.parts.kinds import as_two_lead
from dsp.wiring.union import Merge

if TYPE_CHECKING:
    from dsp.parts.kind import Part
    from dsp.wiring.model import Coupling

DEFINITE = 1e-12
"""Smallest eigenvalue of a matrix of unit diagonal that counts as positive definite."""


@dataclass(frozen=True)
class Excess:
    """Couplings of one group of coils that are too strong together.

    Attributes
    ----------
    couplings : tuple of Coupling
        In the file's order.
    limits : tuple of float
        Largest size of each coefficient if all keep their proportion; itself not allowed.
    """

    couplings: tuple[Coupling, ...]
    limits: tuple[float, ...]


def is_possible(couplings: Iterable[Coupling], parts: Mapping[str, Part]) -> bool:
    """Whether inductive parts can have these couplings.

    Examples
    --------
    >>> from dsp.parts.kinds import new_part
    >>> from dsp.wiring.model import Coupling
    >>> coil = new_part("coil", resistance=6e3, inductance=2.4, capacitance=110e-12)
    >>> coils = dict.fromkeys("abc", coil)
    >>> pairs = [Coupling("a", "b", 0.9), Coupling("b", "c", 0.9)]
    >>> is_possible([*pairs, Coupling("a", "c", 0.9)], coils)
    True
    >>> is_possible([*pairs, Coupling("a", "c", -0.9)], coils)
    False
    """
    return not find_excess(couplings, parts)


def find_excess(couplings: Iterable[Coupling], parts: Mapping[str, Part]) -> list[Excess]:
    """Groups of couplings that passivity forbids.

    A coefficient k refers to the whole inductances of two parts. The mutual inductance
    M = k sqrt(L1 L2) acts between their lossless shares. The energy in the shares is a quadratic
    form in their currents: unless its matrix is positive definite, some currents give energy
    away for nothing.

    Parameters
    ----------
    couplings : iterable of Coupling
        Pairs of different parts, each pair once.
    parts : mapping of str to Part
        Every part that a coupling names.
    """
    pairs = [pair for pair in couplings if pair.coefficient != 0.0]
    linked = Merge(name for pair in pairs for name in (pair.first, pair.second))
    for pair in pairs:
        linked.join((pair.first, pair.second))
    groups: dict[str, list[Coupling]] = {}
    for pair in pairs:
        groups.setdefault(linked.root(pair.first), []).append(pair)
    found = []
    for group in groups.values():
        factor = _largest_factor(group, parts)
        if factor is not None:
            found.append(Excess(tuple(group), tuple(factor * abs(pair.coefficient) for pair in group)))
    return found


def _largest_factor(group: Sequence[Coupling], parts: Mapping[str, Part]) -> float | None:
    """Factor that brings a group's coefficients to their limit; None if they are within it."""
    names = sorted({name for pair in group for name in (pair.first, pair.second)})
    root = {name: np.sqrt(lossless_share(parts[name])) for name in names}
    if min(root.values()) <= 0.0:
        return 0.0
    mutual = np.zeros((len(names), len(names)))  # over the root of the lossless inductances
    for pair in group:
        i, j = names.index(pair.first), names.index(pair.second)
        mutual[i, j] = mutual[j, i] = pair.coefficient / (root[pair.first] * root[pair.second])
    lowest = float(np.linalg.eigvalsh(mutual)[0])
    return None if 1.0 + lowest > DEFINITE else -1.0 / lowest


def lossless_share(part: Part) -> float:
    """Lossless share of a part's inductance, 0 to 1, on which couplings act."""
    kind = as_two_lead(part)
    return kind.lossless_h(part) / kind.coupled_h(part)
