"""The search's speed, beside the figures of the study it was designed from."""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np
import pytest
from benchmarks.timing import best_s
from places import ROOT
from tenor import tenor

from dsp.circuit.response import respond
from dsp.knobs.goal_networks import goal_networks
from dsp.knobs.ohm_energy import compute_ohm_energy
from dsp.knobs.tracks import sold_tracks
from dsp.knobs.travel import compute_travel
from dsp.lugs.best_set import find_best_set
from dsp.parts.expression import parse_expression
from dsp.parts.sketch import Sketch
from dsp.sound.spectra import standard_notes
from dsp.sound.timbre import ear_bands
from dsp.sounds.areas import MOST_EXACT
from dsp.sounds.candidates import Candidates, find_candidates
from dsp.sounds.choose import choose_sets
from dsp.sounds.rules import SetRules
from dsp.wiring.model import Coupling, Wiring
from server.wirings.switches import load_switch
from server.wirings.text import load_wiring

pytestmark = pytest.mark.benchmark

STUDY_S = {4: 0.02, 5: 0.11, 6: 1.3}
"""All features of uncoupled coils, s, by number of coils: the design's study, another machine."""


FIRST_S = {False: 5.0, True: 15.0}
"""Processor time of the first set of six coils, s, at most, by whether pickups are coupled."""


@pytest.fixture(scope="module")
def coupled() -> Wiring:
    """Three two-coil pickups: the baritone's, and one between them."""
    found = load_wiring(ROOT / "demo_audio" / "baritone_sketch.yaml")
    base = found.coils["neck_a"]
    more = {f"middle_{i}": replace(base, at_m=0.1 + 0.02 * i, resistance_ohm=4500.0 + i) for i in range(2)}
    middle = Coupling("middle_0", "middle_1", 0.16)
    return replace(found, parts={**found.parts, **more}, couplings=(*found.couplings, middle))


@pytest.fixture(scope="module")
def wiring(coupled: Wiring) -> Wiring:
    return replace(coupled, couplings=())


@pytest.mark.parametrize("is_coupled", [False, True])
def test_the_first_set_of_six_coils(is_coupled: bool, wiring: Wiring, coupled: Wiring, record) -> None:
    one = coupled if is_coupled else wiring
    begun = time.process_time()
    found = find_candidates(one)
    answers = choose_sets(found, SetRules(5))
    first = next(answers)
    seconds = time.process_time() - begun
    *_, best = first, *answers
    each_s = _engine_s(one, found)
    record(
        f"first five of {len(found)} sounds of six {'coupled ' if is_coupled else ''}coils",
        f"{first.distance_db:.2f} dB in {seconds:.1f} s of processor,"
        f" {each_s * len(found) / seconds:.0f} x the engine one by one for the sounds alone;"
        f" in the end {best.distance_db:.2f} dB of at most {best.bound_db:.2f}",
        f"<= {FIRST_S[is_coupled]:g} s",
    )
    assert seconds < FIRST_S[is_coupled]
    assert each_s * len(found) / seconds > 10.0


@pytest.mark.parametrize(("n", "is_coupled"), [(4, False), (5, False), (6, False), (4, True), (6, True)])
def test_features_of_every_network(n: int, is_coupled: bool, wiring: Wiring, coupled: Wiring, record) -> None:
    wiring = coupled if is_coupled else wiring
    names = list(wiring.coils)[:n]
    found = find_candidates(wiring, coils=names)
    seconds = best_s(lambda: find_candidates(wiring, coils=names), times=2 if n == 6 else 5)
    one_s = _engine_s(wiring, found)
    record(
        f"features of all {len(found)} sounds of {n} {'coupled ' if is_coupled else ''}coils",
        f"{seconds:.3f} s (study, uncoupled {STUDY_S[n]} s);"
        f" {one_s * len(found) / seconds:.0f} x the engine one by one",
        "K <= 5: first answer <= 2 s",
    )
    assert one_s * len(found) / seconds > 10.0


def test_the_grid_of_a_knob_s_goal(record) -> None:
    """One network with every track off three responses, beside the engine's own travel of one track."""
    wiring = tenor()
    setting, bands = wiring.setting("2"), ear_bands()
    notes = standard_notes(wiring, bands)
    tried = next(one for one in goal_networks(wiring, setting, "tone") if one.only)
    tracks = sold_tracks(500e3, end_ohm=0.0, opens=False)
    ohm = np.array([one.in_use(rising=True) for one in tracks])
    grid_s = best_s(
        lambda: compute_ohm_energy(tried, wiring, setting, "tone", 1e6, notes, bands)(ohm), times=5
    )
    one_s = best_s(lambda: compute_travel(wiring, setting, "tone"), times=5)
    record(
        f"a network with {len(tracks)} tracks of its knob",
        f"{1000.0 * grid_s:.1f} ms, {one_s * len(tracks) / grid_s:.0f} x the engine one by one",
        ">= 10 x",
    )
    assert one_s * len(tracks) / grid_s > 10.0


def _engine_s(wiring: Wiring, found: Candidates) -> float:
    """Return the circuit engine's seconds for one network."""
    hz = ear_bands().centres_hz
    assert wiring.selector is not None
    some = [found.expression_text(i) for i in np.linspace(0, len(found) - 1, 20).astype(int)]

    def work() -> None:
        for text in some:
            parts = {**wiring.parts, str(wiring.selector): Sketch({"1": parse_expression(text)})}
            one = replace(wiring, parts=parts)
            respond(one, [one.setting("1")], hz)

    return best_s(work, times=2) / len(some)


@pytest.mark.parametrize(("n_coils", "most"), [(4, None), (5, MOST_EXACT), (5, None)])
def test_the_best_positions_proved(n_coils: int, most: int | None, wiring: Wiring, record) -> None:
    """The bar is for 2,000 candidates, here every fifth of five coils; then for all of them."""
    found = find_candidates(wiring, coils=list(wiring.coils)[:n_coils])
    if most is not None:
        found = found.select(np.unique(np.linspace(0, len(found) - 1, most).astype(int)).tolist())
    start = time.perf_counter()
    answers = choose_sets(found, SetRules(5, quiet=2, level_window_db=15.0))
    first = next(answers)
    first_s = time.perf_counter() - start
    last = ([first, *answers])[-1]
    whole_s = time.perf_counter() - start
    among = min(len(found), MOST_EXACT)
    state = "proved best" if last.proved else f"at most {last.bound_db:.2f}"
    record(
        f"best 5 of {len(found)} sounds, 2 quiet (exact among {among})",
        f"first {first.distance_db:.2f} dB in {first_s:.2f} s; {last.distance_db:.2f} dB, {state},"
        f" in {whole_s:.1f} s",
        "<= 2 s each (study 1.2 s)" if len(found) <= MOST_EXACT else "first <= 2 s",
    )
    assert last.distance_db >= first.distance_db
    assert last.proved or len(found) > MOST_EXACT


@pytest.mark.parametrize(
    "name",
    ["blade_3_two_pole", "blade_5_two_pole", "blade_5_four_pole", "rotary_6_two_pole", "rotary_6_four_pole"],
)
@pytest.mark.parametrize("n_coils", [3, 4])
def test_the_widest_range_of_a_switch_proved(n_coils: int, name: str, record) -> None:
    """All charts of a lean switch: the tenor's three coils, and the demo's four with their couplings."""
    wiring = tenor() if n_coils == 3 else load_wiring(ROOT / "demo_audio" / "baritone_sketch.yaml")
    found, switch = find_candidates(wiring), load_switch(name)
    rules = SetRules(len(switch.positions))
    start, work = time.perf_counter(), time.process_time()
    end = start + 60.0
    answer = find_best_set(wiring, found, rules, switch, left_s=lambda: end - time.perf_counter())
    seconds, work_s = time.perf_counter() - start, time.process_time() - work
    record(
        f"widest range of {n_coils} coils on {name}, proved",
        f"{answer.choice.distance_db:.3f} dB in {seconds:.1f} s, {work_s:.1f} s of processor",
        "<= 10 s",
    )
    assert answer.proved
    assert work_s < 10.0
