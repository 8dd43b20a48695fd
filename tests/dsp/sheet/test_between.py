"""What happens between positions: one line for each kind of event."""

from __future__ import annotations

from dataclasses import replace

import pytest
from places import DEMO

from dsp.sheet.between import OPEN, SHORTED, SILENT, find_events
from dsp.wiring.model import Joint, Wiring
from server.wirings.text import load_wiring


@pytest.fixture
def twelve() -> Wiring:
    return load_wiring(DEMO / "twelve.yaml")


def test_events_of_a_kind_share_a_line(twelve) -> None:
    baritone = load_wiring(DEMO / "baritone.yaml")
    event, short = find_events(baritone)
    assert event.kind == SILENT
    assert [move[1:] for move in event.moves] == [(str(n), str(n + 1)) for n in range(1, 6)]
    assert "selector 1–2, 2–3, 3–4, 4–5, 5–6" in event.text()
    assert "if the switch opens before it closes" in event.text()
    assert (short.kind, short.timings) == (SHORTED, ("shorting",)), "C3 is ground, C4 is hot"
    assert ("selector", "3", "4") in short.moves


def test_a_stated_timing_leaves_one_way(twelve) -> None:
    baritone = load_wiring(DEMO / "baritone.yaml")
    switch = replace(baritone.parts["selector"], timing="shorting")
    (event,) = find_events(replace(baritone, parts={**baritone.parts, "selector": switch}))
    assert event.kind == SHORTED
    assert "if the switch" not in event.text()
    assert event.timings == ("",)


def test_the_worst_comes_first_an_open_input_pops(twelve) -> None:
    """Without lug 1 of the volume at ground nothing ties the output while the phase switch moves."""
    loose = tuple(
        Joint(tuple(one for one in joint.terminals if one != ("volume", "1"))) for joint in twelve.joints
    )
    events = find_events(replace(twelve, joints=loose))
    assert events[0].kind == OPEN
    assert "loud pop" in events[0].text()
    assert [event.kind for event in events] == [OPEN, SHORTED]
    assert [event.kind for event in find_events(twelve)] == [SILENT, SHORTED]
