"""Sets of coupling coefficients that can exist."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from dsp.wiring.model import Coupling


def is_possible(couplings: Iterable[Coupling]) -> bool:
    """Whether the matrix of coefficients is positive definite.

    The energy stored in coupled inductances is a quadratic form in their currents. It must be above zero
    for any currents.

    Examples
    --------
    >>> from dsp.wiring.model import Coupling
    >>> pairs = [Coupling("a", "b", 0.9), Coupling("b", "c", 0.9)]
    >>> is_possible([*pairs, Coupling("a", "c", 0.9)]), is_possible([*pairs, Coupling("a", "c", -0.9)])
    (True, False)
    """
    pairs = list(couplings)
    names = sorted({name for pair in pairs for name in (pair.first, pair.second)})
    matrix = np.eye(len(names))
    for pair in pairs:
        i, j = names.index(pair.first), names.index(pair.second)
        matrix[i, j] = matrix[j, i] = pair.coefficient
    return not names or bool(np.linalg.eigvalsh(matrix)[0] > 1e-12)
