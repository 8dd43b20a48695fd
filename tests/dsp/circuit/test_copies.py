"""Many instruments at once, held to each of them computed alone."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from places import DEMO, ROOT

from dsp.circuit.copies import Copies, respond_copies
from dsp.circuit.response import respond
from dsp.wiring.model import Wiring
from server.wirings.text import load_wiring

FILES = [
    DEMO / "baritone.yaml",
    DEMO / "twelve.yaml",
    DEMO / "tenor.yaml",
    *(
        ROOT / "tests" / "reference" / "networks" / f"{name}.yaml"
        for name in ("baritone_tapped", "twelve_blend", "twelve_losses", "baritone_transformer")
    ),
]
VALUES = ("resistance_ohm", "inductance_h", "capacitance_f", "eddy", "tap_ohm")
HZ = np.array([1e-3, 120.0, 3000.0, 9000.0])


def alone(wiring: Wiring, copies: Copies, i: int) -> Wiring:
    """One of the copies as a wiring of its own."""
    parts = dict(wiring.parts)
    for (name, attribute), factor in copies.factors.items():
        part: Any = parts[name]
        own = getattr(part, attribute)
        if attribute == "eddy":
            value: Any = tuple(replace(one, share=one.share * factor[i]) for one in own)
        else:
            value = own * factor[i]
        if getattr(part, "end_resistance_ohm", 0.0):  # of all stretches, the ends among them
            part = replace(part, end_resistance_ohm=part.end_resistance_ohm * factor[i])
        parts[name] = replace(part, **{attribute: value})
    couplings = tuple(
        replace(one, coefficient=one.coefficient + float(copies.coefficients[k][i]))
        for k, one in enumerate(wiring.couplings)
    )
    assert copies.cable is not None
    load = replace(wiring.load, cable_f_per_m=wiring.load.cable_f_per_m * float(copies.cable[i]))
    return replace(wiring, parts=parts, couplings=couplings, load=load)


def drawn(wiring: Wiring, count: int) -> Copies:
    rng = np.random.default_rng(3)

    def factor() -> np.ndarray:
        return np.exp(0.1 * rng.standard_normal(count))

    factors = {
        (name, attribute): factor()
        for name, part in wiring.parts.items()
        for attribute in VALUES
        if getattr(part, attribute, None)
    }
    turns: dict[str, np.ndarray] = {}
    for tracks in wiring.knobs.values():
        turns |= dict.fromkeys(tracks, 0.2 * rng.standard_normal(count))  # one shaft turns all of them
    moved = {i: 0.02 * rng.standard_normal(count) for i in range(len(wiring.couplings))}
    return Copies(count, factors, turns, moved, factor())


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_every_copy_equals_itself_alone(path: Path) -> None:
    wiring = load_wiring(path)
    copies = drawn(wiring, 5)
    half = dict.fromkeys(wiring.knobs, 3.0)
    ends = {name: float(10 * (i % 2)) for i, name in enumerate(wiring.knobs)}
    settings = [wiring.setting(one, knobs) for one in wiring.positions for knobs in ({}, half, ends)]
    coil, ohm = respond_copies(wiring, settings, HZ, copies)
    for i in range(copies.count):
        own = alone(wiring, copies, i)
        for row, setting in enumerate(settings):
            turned = {
                knob: value + float(copies.turns[knob][i])
                if knob in copies.turns and 0.0 < value < 10.0
                else value
                for knob, value in setting.knobs.items()
            }
            found = respond(own, [replace(setting, knobs=turned)], HZ)
            assert (
                np.abs(found.output_impedance_ohm[0] - ohm[row, i]).max() <= 1e-9 * np.abs(ohm[row, i]).max()
            )
            assert np.abs(found.coil[0] - coil[row, i]).max() < 1e-9


def test_copies_on_either_side_of_a_tap_equal_themselves() -> None:
    """Where one copy has a gap and another a track, the gap has 1e12 ohm."""
    wiring = load_wiring(ROOT / "tests" / "reference" / "networks" / "twelve_blend.yaml")
    copies = drawn(wiring, 2)
    turns = {**copies.turns, "volume": np.array([-0.2, 0.3])}  # the tap is at 4
    setting = wiring.setting("1", {"volume": 4.0})
    coil, ohm = respond_copies(wiring, [setting], HZ, replace(copies, turns=turns))
    for i, value in enumerate((3.8, 4.3)):
        own = replace(setting, knobs={**setting.knobs, "volume": value})
        found = respond(alone(wiring, copies, i), [own], HZ)
        assert found.output_impedance_ohm[0] == pytest.approx(ohm[0, i], rel=1e-6)
        assert np.abs(found.coil[0] - coil[0, i]).max() < 1e-6


def test_many_copies_are_cut_into_blocks(monkeypatch: pytest.MonkeyPatch) -> None:
    wiring = load_wiring(DEMO / "twelve.yaml")
    copies = drawn(wiring, 40)
    settings = [wiring.setting("2", {"tone": 3.0})]
    whole = respond_copies(wiring, settings, HZ, copies)
    monkeypatch.setattr("dsp.circuit.copies.MOST_BYTES", 1 << 16)
    for one, other in zip(whole, respond_copies(wiring, settings, HZ, copies), strict=True):
        assert np.array_equal(one, other)
