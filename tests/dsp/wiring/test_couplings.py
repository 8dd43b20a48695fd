"""Which couplings a file may write: the limits that passivity sets, for two coils and for more."""

from __future__ import annotations

import math

import numpy as np
import pytest
from small_wirings import wiring_of

from dsp.errors import InputError, Problem
from dsp.wiring.coupling import find_excess, is_possible
from dsp.wiring.model import Coupling

LOSS = ", eddy: [{share: 36 %, corner: 3 kHz}]"
"""0.64 of the inductance is lossless."""


def three(*rows: tuple[str, str, float], loss: str = "") -> tuple[Problem, ...]:
    """Problems of three coils with couplings, the third with losses."""
    lines = "".join(f"  - {{coils: [{a}, {b}], coefficient: {k}}}\n" for a, b, k in rows)
    parts = f"a: {{COIL}}\nb: {{COIL}}\nc: {{COIL{loss}}}\noutput: {{kind: jack}}"
    try:
        wiring_of(parts, rest=f"couplings:\n{lines}")
    except InputError as found:
        return tuple(found.problems)
    return ()


def test_two_coils_are_limited_by_their_lossless_shares() -> None:
    assert three(("a", "c", 0.799), loss=LOSS) == ()
    (problem,) = three(("a", "b", 0.9), ("b", "c", -0.81), loss=LOSS)[-1:]
    assert "b and c with -0.81" in problem.got
    (alone,) = three(("a", "c", -0.81), loss=LOSS)
    assert alone.got == "a and c with -0.81"
    assert alone.allowed == "|k| below 0.8: coupled coils never make energy"


def test_the_problem_points_to_the_last_coupling_of_its_group() -> None:
    (problem,) = three(("a", "b", 0.2), ("b", "c", 0.9), ("a", "c", -0.9))
    lines = 7  # format, parts, three coils, jack, couplings; the third coupling follows
    assert problem.where.startswith(f"small.yaml:{lines + 3}:")


def test_three_coils_are_limited_together() -> None:
    """Each pair is possible alone; with signs that oppose one another all three at 0.5 are the limit."""
    assert three(("a", "b", 0.9), ("b", "c", 0.9), ("a", "c", 0.9)) == ()
    assert three(("a", "b", 0.499), ("b", "c", 0.499), ("a", "c", -0.499)) == ()
    (problem,) = three(("a", "b", 0.9), ("b", "c", 0.9), ("a", "c", -0.9))
    assert problem.got == "a and b with 0.9, b and c with 0.9, a and c with -0.9"
    assert problem.allowed.startswith("|k| below 0.5, 0.5, 0.5 in this proportion")


def test_the_limit_follows_from_the_determinant() -> None:
    """a-b and b-c at k, losses in c: 1 - k^2 - k^2 / 0.64 = 0 (determinant of the scaled matrix)."""
    limit = math.sqrt(1 / (1 + 1 / 0.64))
    assert three(("a", "b", limit - 1e-6), ("b", "c", limit - 1e-6), loss=LOSS) == ()
    (problem,) = three(("a", "b", limit + 1e-4), ("b", "c", limit + 1e-4), loss=LOSS)
    shown = math.floor(limit * 1e4) / 1e4
    assert problem.allowed.startswith(f"|k| below {shown:g}, {shown:g} in this proportion")


def test_a_coil_that_is_all_eddy_share_takes_no_coupling_but_zero() -> None:
    whole = LOSS.replace("36", "100")
    assert three(("a", "c", 0.0), loss=whole) == ()
    (problem,) = three(("a", "c", 0.001), loss=whole)
    assert problem.allowed.startswith("0, since a coil here is all eddy share")


def test_groups_that_share_no_coil_are_judged_apart() -> None:
    coils = wiring_of("a: {COIL}\nb: {COIL}\nc: {COIL}\nd: {COIL, eddy: [{share: 75 %, corner: 1 kHz}]}\n"
                      "output: {kind: jack}").coils  # fmt: skip
    pairs = (Coupling("a", "b", 0.9), Coupling("c", "d", 0.6))
    (excess,) = find_excess(pairs, coils)
    assert excess.couplings == pairs[1:]
    assert excess.limits == pytest.approx((0.5,))
    assert is_possible(pairs[:1], coils)


def test_random_groups_against_the_energy() -> None:
    """At 0.999 of the limit every current stores energy, at 1.001 some current gives it away."""
    rng = np.random.default_rng(11)
    plain = wiring_of("\n".join([*(f"{n}: {{COIL}}" for n in "abcd"), "output: {kind: jack}"])).coils
    for _ in range(40):
        names = [("a", "b"), ("b", "c"), ("c", "d"), ("a", "d"), ("a", "c")]
        strong = [Coupling(a, b, float(rng.uniform(-1, 1)) * 40) for a, b in names]
        (excess,) = find_excess(strong, plain)
        for part, stores in ((0.999, True), (1.001, False)):
            matrix = np.eye(4)
            for pair, limit in zip(strong, excess.limits, strict=True):
                i, j = "abcd".index(pair.first), "abcd".index(pair.second)
                matrix[i, j] = matrix[j, i] = math.copysign(part * limit, pair.coefficient)
            assert (np.linalg.det(matrix) > 0) == stores
