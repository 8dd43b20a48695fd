"""Compare the circuits of a charted wiring and of its sketch in every position."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from dsp.circuit.response import respond
from dsp.lugs.two_switches import settings_at
from dsp.parts.switch import Switch
from dsp.wiring.model import Setting, Wiring

COMPARED_HZ = np.geomspace(20.0, 20_000.0, 61)
KNOBS = (10.0, 5.0, 2.5)
SAME = 1e-9
"""Relative to the largest response of a setting. Equal circuits differ only in the numbering of
nodes, which leaves rounding errors near 1e-13."""


def largest_difference(
    sketched: Wiring,
    charted: Wiring,
    sounds: Mapping[str, str],
    turned: frozenset[str],
    switch: Switch | None = None,
) -> tuple[float, str]:
    """Return the largest relative difference of responses, and its position.

    Parameters
    ----------
    sketched, charted : Wiring
        Both have the same coils, pots and other switches, except for switches that the chart adds.
    sounds : mapping of str to str
        The sketch's position for each position of the chart.
    turned : frozenset of str
        Positions of the sketch whose sign is reversed in the chart.
    switch : Switch, optional
        The chart's switch; needed if it combines several.
    """
    worst, where = 0.0, ""
    for position, sound in sounds.items():
        sign = -1.0 if sound in turned else 1.0
        want = respond(sketched, _settings(sketched, sound), COMPARED_HZ)
        at, stands = (position, {}) if switch is None else settings_at(switch, position)
        got = respond(charted, _settings(charted, at, stands), COMPARED_HZ)
        order = [got.coils.index(name) for name in want.coils]
        pairs = (
            (sign * got.coil[:, order], want.coil),
            (got.output_impedance_ohm[:, None], want.output_impedance_ohm[:, None]),
        )
        for mine, theirs in pairs:
            scale = np.max(np.abs(theirs), axis=(1, 2), keepdims=True)
            scale[scale == 0.0] = 1.0
            difference = float(np.max(np.abs(mine - theirs) / scale))
            if difference > worst or not where:
                worst, where = max(worst, difference), position
    return worst, where


def _settings(wiring: Wiring, position: str, fixed: Mapping[str, str] | None = None) -> list[Setting]:
    """Return settings: knobs at a few places, free switches moved singly."""
    fixed = fixed or {}
    others = wiring.stands
    first = {name: places[0] for name, places in others.items()} | dict(fixed)
    stands = [first]
    for name, places in others.items():
        if name not in fixed:
            stands += [{**first, name: place} for place in places[1:]]
    knobs = [dict.fromkeys(wiring.knobs, value) for value in KNOBS]
    return [wiring.setting(position, knob, stand) for stand in stands for knob in knobs]
