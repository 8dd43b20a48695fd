"""Findings that depend on other switches: grouped, with their condition, and fast."""

from __future__ import annotations

import re
from typing import Any

import pytest
from places import DEMO
from small_wirings import read, wiring_text

from dsp.circuit.response import Responses
from dsp.facts.findings import turned as findings_turned
from dsp.facts.findings.check import check
from server.wirings.text import load_wiring

HUM = ("hum-cancelling", "mostly hum-cancelling", "not hum-cancelling")
GROUNDED = "a.finish, output.sleeve"


def test_positions_of_one_verdict_are_reported_together() -> None:
    """The baritone's six positions make three findings on hum, with residuals from least to most."""
    found = {f.finding: f for f in check(load_wiring(DEMO / "baritone.yaml")) if f.finding in HUM}
    assert {name: one.positions for name, one in found.items()} == {
        "hum-cancelling": ("1", "2", "5"),
        "mostly hum-cancelling": ("3", "4"),
        "not hum-cancelling": ("6",),
    }
    assert re.fullmatch(
        r"-\d+\.\d to -\d+\.\d dB left of the coils' hum", found["mostly hum-cancelling"].detail
    )


def test_hum_is_judged_in_every_state() -> None:
    """One finding per verdict and condition; one that no list of positions covers says so."""
    parts = "a: {COIL}\nb: {COIL, winding: reverse, magnet: south}\n" + "\n".join(
        f"s{i}: {{kind: switch, poles: 1, positions: 2}}" for i in (1, 2)
    )
    joints = (
        "a.start, output.tip\na.finish, b.start, s1.A0\ns1.A1, s2.A1\ns1.A2, s2.A2\n"
        "s2.A0, b.finish, output.sleeve"
    )
    found = [
        f for f in check(read(wiring_text(f"{parts}\noutput: {{kind: jack}}", joints))) if f.finding in HUM
    ]
    assert {f.finding for f in found} == {"hum-cancelling", "not hum-cancelling"}
    for one in found:  # shorted where both switches stand alike
        assert one.detail.startswith("in some positions of s1 and s2 together, ")


def test_many_switches_and_knobs_are_judged_fast() -> None:
    """256 states that are one network, and eight idle knobs: it is solved once for all of them."""
    switches = "\n".join(f"s{i}: {{kind: switch, poles: 1, positions: 2}}" for i in range(8))
    pots = "\n".join(f"p{i}: {{kind: pot, resistance: 500k}}" for i in range(8))
    idle = "\n".join(f"p{i}.3, p{i}.2, output.tip\np{i}.1, r{i}.a" for i in range(8))
    rest = "\n".join(f"r{i}: {{kind: resistor, resistance: 1M}}" for i in range(8))
    wiring = read(
        wiring_text(
            f"a: {{COIL}}\n{switches}\n{pots}\n{rest}\noutput: {{kind: jack}}", f"a.start, {idle}\n{GROUNDED}"
        )
    )
    calls = []
    original = findings_turned.respond

    def counted(*given: Any) -> Responses:
        calls.append(given)
        return original(*given)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(findings_turned, "respond", counted)
        found = [f for f in check(wiring) if f.finding == "knob without effect"]
    assert len(found) == 8
    assert len(calls) == 2  # the other knobs at 10, then at 5


def test_a_way_that_is_as_silent_as_its_end_is_no_finding() -> None:
    """The middle of an on/off/on toggle is silent by itself; its way there adds nothing."""
    selector = "{kind: switch, poles: 1, function: on-off-on, timing: non-shorting}"
    parts = f"a: {{COIL}}\nselector: {selector}\noutput: {{kind: jack}}"
    joints = "a.start, selector.A1, selector.A2\nselector.A0, output.tip\n" + GROUNDED
    found = {one.finding for one in check(read(wiring_text(parts, joints)))}
    assert "no coil reaches the jack" in found
    assert "silent between positions" not in found
