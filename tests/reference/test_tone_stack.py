"""The tone stack against ngspice, and against the closed form of its network.

The closed form is nodal analysis of the three-control stack (a common circuit of valve amplifiers) with a
perfect source and no load, solved by a computer algebra program and written out here; its printed values were
computed beside it. ngspice reads a netlist that this file writes by hand.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from numpy.typing import NDArray
from reference.spice import runner
from reference.spice.compare import agrees, deviation
from tolerances import LEVEL_DB, PRINTED_STACK_DB, TWIN_FACTOR

from dsp.chain.stack import KNOBS, STACK, Stack, design_stack, respond_stack

pytestmark = pytest.mark.reference

Complexes = NDArray[np.complex128]
FREQS_HZ = np.geomspace(20.0, 20e3, 61)
IDEAL = replace(STACK, source_ohm=1e-2, load_ohm=1e12, load_f=0.0)
OTHERS = {
    "scooped": IDEAL,
    "middle": Stack(1e-2, 56e3, 250e3, 1e6, 25e3, 250e-12, 20e-9, 20e-9, 1e12, 0.0),
    "bright": Stack(1e-2, 33e3, 250e3, 1e6, 25e3, 470e-12, 22e-9, 22e-9, 1e12, 0.0),
}
"""Three sets of values that a hobby page compares; the first is the chain's own."""


def closed_form(stack: Stack, knobs: Mapping[str, float], freqs_hz: NDArray[np.float64]) -> Complexes:
    """Return (b1 s + b2 s^2 + b3 s^3) / (1 + a1 s + a2 s^2 + a3 s^3), without source and load."""
    t, l, m = (knobs[name] / 10.0 for name in ("treble", "bass", "middle"))  # noqa: E741
    c1, c2, c3 = stack.treble_f, stack.bass_f, stack.middle_f
    r1, r2, r3, r4 = stack.treble_ohm, stack.bass_ohm, stack.middle_ohm, stack.slope_ohm
    u = c1 + c2
    b1 = t * c1 * r1 + c1 * r3 + c2 * r3 + m * c3 * r3 + l * u * r2
    a1 = c1 * r1 + u * r3 + c2 * r4 + c3 * r4 + m * c3 * r3 + l * u * r2
    b2 = c1 * c2 * r1 * r3 + c1 * c2 * r3 * r4 + c1 * c3 * r3 * r4 + t * r1 * r4 * (c1 * c2 + c1 * c3)
    b2 += l * r2 * (c1 * c2 * (r1 + r4) + c1 * c3 * r4 + m * u * c3 * r3)
    b2 += -(m**2) * u * c3 * r3**2 + m * (c1 * c3 * r1 * r3 + u * c3 * r3**2)
    a2 = c1 * c2 * (r1 * r3 + r1 * r4 + r3 * r4) + c1 * c3 * r4 * (r1 + r3) + c2 * c3 * r3 * r4
    a2 += l * r2 * (c1 * c2 * (r1 + r4) + u * c3 * r4 + m * u * c3 * r3)
    a2 += -(m**2) * u * c3 * r3**2 + m * (c1 * c3 * r1 * r3 + u * c3 * r3**2 - c2 * c3 * r3 * r4)
    both = l * m * r2 * r3 * (r1 + r4) + (m - m**2) * r3**2 * (r1 + r4)
    b3 = c1 * c2 * c3 * (both + t * r1 * r4 * (l * r2 + (1 - m) * r3))
    a3 = c1 * c2 * c3 * ((1 - m) * r1 * r3 * r4 + l * r1 * r2 * r4 + both)
    s = 2j * np.pi * freqs_hz
    found: Complexes = s * (b1 + s * (b2 + s * b3)) / (1.0 + s * (a1 + s * (a2 + s * a3)))
    return found


def deck(stack: Stack, knobs: Mapping[str, float]) -> str:
    """Write the stack for ngspice; a pot's end is a microohm, which is no joint but 1e-11 of any part."""

    def track(name: str, low: str, wiper: str, high: str, ohm: float, share: float) -> list[str]:
        return [
            f"R_{name}_low {low} {wiper} {max(share * ohm, 1e-6)!r}",
            f"R_{name}_high {wiper} {high} {max((1 - share) * ohm, 1e-6)!r}",
        ]

    t, bass, m = (knobs[name] / 10.0 for name in ("treble", "bass", "middle"))
    lines = [
        "three-control tone stack",
        "V1 e 0 DC 0 AC 0",
        f"R_source e in {stack.source_ohm!r}",
        f"C_treble in top {stack.treble_f!r}",
        f"R_slope in a {stack.slope_ohm!r}",
        f"C_bass a b {stack.bass_f!r}",
        f"C_middle a w {stack.middle_f!r}",
        *track("treble", "b", "out", "top", stack.treble_ohm, t),
        f"R_bass b c {max(bass * stack.bass_ohm, 1e-6)!r}",
        *track("middle", "0", "w", "c", stack.middle_ohm, m),
        f"R_load out 0 {stack.load_ohm!r}",
        *([f"C_load out 0 {stack.load_f!r}"] if stack.load_f else []),
        ".option noopac",
        ".end",
        "",
    ]
    return "\n".join(lines)


GRID = [
    {"treble": t, "middle": m, "bass": b}
    for t, m, b in product((0.0, 5.0, 10.0), (0.0, 5.0, 10.0), (0.0, 2.5, 5.0, 10.0))
]


def test_stack_agrees_with_ngspice() -> None:
    knobs = [*GRID, *KNOBS.values()]
    jobs = [runner.Job(deck(STACK, one), ("V1",), runner.at(FREQS_HZ[::4])) for one in knobs]
    for one, answer in zip(knobs, runner.run(jobs), strict=True):
        want = answer.voltage["V1"]
        got = respond_stack(one, answer.freqs_hz)
        assert agrees(deviation(got, want)), one
        assert not agrees(deviation(got * 10.0 ** (LEVEL_DB * TWIN_FACTOR * 1.2 / 20.0), want))


@pytest.mark.parametrize("name", OTHERS)
def test_closed_form_without_source_and_load(name: str) -> None:
    stack = OTHERS[name]
    for one in GRID:
        want = closed_form(stack, one, FREQS_HZ)
        assert agrees(deviation(respond_stack(one, FREQS_HZ, stack), want)), one
    twin = replace(stack, middle_f=stack.middle_f * 1.001)
    assert not agrees(
        deviation(respond_stack(GRID[14], FREQS_HZ, twin), closed_form(stack, GRID[14], FREQS_HZ))
    )


@pytest.mark.parametrize(
    ("name", "levels_db"),
    [
        ("scooped", (-12.15, -21.97, -14.90, -6.49)),
        ("middle", (-3.34, -10.07, -11.65, -5.29)),
        ("bright", (-1.98, -7.22, -7.44, -4.03)),
    ],
)
def test_printed_levels(name: str, levels_db: tuple[float, ...]) -> None:
    freqs_hz = np.array([100.0, 400.0, 1e3, 5e3])
    found = respond_stack({"treble": 5.0, "bass": 2.5, "middle": 5.0}, freqs_hz, OTHERS[name])
    missed = np.abs(20.0 * np.log10(np.abs(found)) - np.array(levels_db))
    assert np.max(missed) <= PRINTED_STACK_DB


def test_flat_is_flat_and_scooped_is_not() -> None:
    freqs_hz = np.geomspace(80.0, 5e3, 60)
    spread = {}
    for name, knobs in KNOBS.items():
        level_db = 20.0 * np.log10(np.abs(respond_stack(knobs, freqs_hz)))
        spread[name] = np.ptp(level_db)
    assert spread["flat"] < 1.0
    assert spread["scooped"] > 10.0


@pytest.mark.parametrize("rate_hz", [44_100.0, 48_000.0, 96_000.0])
def test_filters_of_the_stack_keep_the_contract(rate_hz: float) -> None:
    for knobs in [*KNOBS.values(), *GRID[::7]]:
        bank = design_stack(knobs, rate_hz)
        assert bank.error.meets_contract
        assert bank.radius() < 1.0
