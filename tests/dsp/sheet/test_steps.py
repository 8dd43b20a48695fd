"""Steps in the order of work, and the length of each wire."""

from __future__ import annotations

from dataclasses import replace

from places import DEMO

from dsp.sheet.steps import GROUND, LEADS, LEGS, METAL, STAGES, Wire, order_steps
from server.wirings.text import load_wiring


def wire(first: str, last: str, run: str = "wire") -> Wire:
    a, b = (tuple(text.split(".")) for text in (first, last))
    return Wire((a[0], a[1]), (b[0], b[1]), run)


WIRES = [
    wire("output.sleeve", "volume.1"),
    wire("selector.C3", "neck_b.finish"),
    wire("volume.2", "output.tip"),
    wire("selector.A1", "neck_a.start"),
    wire("tone.2", "selector.D3"),
    wire("volume.3", "tone.2"),
    wire("tone.1", "tone_cap.a"),
    wire("selector.A1", "selector.A2", "tie"),
]


def test_work_goes_from_the_bench_to_the_strings() -> None:
    steps = order_steps(load_wiring(DEMO / "baritone.yaml"), WIRES)
    assert [step.number for step in steps] == list(range(1, len(steps) + 1))
    assert list(dict.fromkeys(step.stage for step in steps)) == list(STAGES)
    assert steps[0].text == "selector A1 to selector A2, bare tie"
    assert [step.key for step in steps[-2:]] == ["casings", "strings"]
    assert all(step.wire is None for step in steps[-2:])


def test_a_leads_length_follows_from_its_coils_place() -> None:
    baritone = load_wiring(DEMO / "baritone.yaml")
    lead = next(step for step in order_steps(baritone, WIRES) if step.stage == LEADS)
    assert (lead.length_mm, lead.from_place) == (330, True), "176 mm and 150 mm, in tens"
    assert lead.text == "neck_a start to selector A1"
    coil = replace(baritone.parts["neck_a"], at_m=None)
    unknown = replace(baritone, parts={**baritone.parts, "neck_a": coil})
    lead = next(step for step in order_steps(unknown, WIRES) if step.stage == LEADS)
    assert (lead.length_mm, lead.from_place) == (300, False)


def test_a_coil_of_no_joint_to_ground_is_a_lead_and_the_others_ground() -> None:
    steps = {step.key: step for step in order_steps(load_wiring(DEMO / "baritone.yaml"), WIRES)}
    assert steps["selector.C3~neck_b.finish"].stage == GROUND
    assert steps["tone.1~tone_cap.a"].stage == LEGS
    assert steps["strings"].stage == METAL
