"""Ways to hear it on the bench: levels behind the chain, the drive that gives way, the input's share."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import get_args

import numpy as np
import pytest
from numpy.typing import NDArray
from places import DEMO
from server_client import client_of

from dsp.chain.chain_record import chain_record
from dsp.chain.run import Chain
from dsp.chain.ways import WAYS
from dsp.filters.run import Runner
from dsp.parts.library.inputs import LOW_INPUT_F, LOW_INPUT_OHM
from dsp.sound.live_level import TARGET_LUFS
from dsp.sound.loudness import integrated_lufs
from dsp.takes.performance import Performance
from dsp.wiring.editing.document import Edit
from server.bench.hearing import RATE_HZ, Bench, Draft, Hearing
from server.bench.through import MEASURED_S, Through, stretches, valve_bank
from server.takes.load import load_take
from server.web.fields import WayName

MATCH_LU = 0.2
"""The bar of matching behind a chain."""
TWELVE = Draft("twelve")
LOUD, SOFT = "1", "3"


@pytest.fixture(scope="module")
def performance() -> Performance:
    return load_take(DEMO / "low_riff.yaml")


@pytest.fixture(scope="module")
def bench(performance: Performance) -> Bench:
    text = (DEMO / "twelve.yaml").read_text("utf-8")
    return Bench(lambda _: text, lambda _: performance, lambda *_: None)


def heard(bench: Bench, hearing: Hearing) -> NDArray[np.float64]:
    """Return the take as dsp sends it through a setting and a way."""
    stems = bench.stems(hearing.draft, "riff").samples.astype(float)
    load = bench.wiring(hearing.draft).load
    runner = Runner(valve_bank(bench.bank(hearing), load, hearing.through))
    volts, _ = runner.run(stems, runner.initial_state())
    chain = Chain(hearing.through.way, RATE_HZ, lowered_db=hearing.through.lowered_db)
    found, _ = chain.run(volts, chain.initial_state())
    return found


def of(way: str, position: str = LOUD, lowered_db: float = 0.0, **knobs: float) -> Hearing:
    return Hearing(TWELVE, position, knobs, take="riff", through=Through(WAYS[way], lowered_db))


def gain_of(bench: Bench, hearing: Hearing, *, wait: bool = True) -> tuple[float, bool]:
    """Return the matching gain of a frame, and whether it is final."""
    frame, final = bench.frame(hearing, 1, wait=wait)
    return float(np.frombuffer(frame, "<f8")[7]), final


@pytest.mark.parametrize("way", ["direct", "clean", "edge", "driven"])
def test_matched_settings_are_equally_loud_behind_the_chain(bench: Bench, way: str) -> None:
    for hearing in (of(way, LOUD), of(way, SOFT, tone=4.0)):
        gain_db, final = gain_of(bench, hearing)
        assert final
        loud = integrated_lufs(heard(bench, hearing) * 10.0 ** (gain_db / 20.0), RATE_HZ)
        assert loud == pytest.approx(TARGET_LUFS, abs=MATCH_LU)


def test_a_level_that_is_not_measured_yet_is_guessed_from_others(bench: Bench) -> None:
    bench.monitor(TWELVE, "riff", WAYS["driven"])  # every position with its knobs at 10
    for knobs in ({"volume": 7.0}, {"volume": 3.0}, {"tone": 0.0}):
        hearing = of("driven", LOUD, **knobs)
        guess_db, final = gain_of(bench, hearing, wait=False)
        assert not final
        measured_db, _ = gain_of(bench, hearing)
        assert guess_db == pytest.approx(measured_db, abs=2.0)
        assert gain_of(bench, hearing, wait=False) == (measured_db, True)


def test_the_loudest_position_plays_at_the_common_loudness_in_every_way(bench: Bench) -> None:
    for way in ("clean", "driven"):
        monitor = bench.monitor(TWELVE, "riff", WAYS[way])
        assert monitor.lowered_db == 0.0
        gain = 10.0 ** (monitor.gain_db / 20.0)
        loud = [
            integrated_lufs(heard(bench, of(way, position)) * gain, RATE_HZ)
            for position in bench.wiring(TWELVE).positions
        ]
        assert max(loud) == pytest.approx(TARGET_LUFS, abs=MATCH_LU)
    direct = bench.monitor(TWELVE, "riff")
    assert direct == bench.monitor(TWELVE, "riff", WAYS["direct"])


def test_a_hot_wiring_is_driven_less_and_its_levels_know_it(bench: Bench) -> None:
    """Coils many times as sensitive would drive the stage past what its sampling rate bears."""
    coils = bench.wiring(TWELVE).coils
    edits = tuple(Edit(("parts", name, "sensitivity"), "0.4") for name in coils)
    hot = Draft("twelve", edits)
    monitor = bench.monitor(hot, "riff", WAYS["driven"])
    assert 1.0 < monitor.lowered_db < 20.0
    through = Through(WAYS["driven"], monitor.lowered_db)
    excess, loud = [], []
    for position in bench.wiring(hot).positions:
        hearing = Hearing(hot, position, take="riff", through=through)
        gain_db, _ = gain_of(bench, hearing)
        loud.append(integrated_lufs(heard(bench, hearing) * 10.0 ** (gain_db / 20.0), RATE_HZ))
        excess.append(bench._measured(hearing).excess_db)
    assert max(excess) == pytest.approx(0.0, abs=1e-2)
    assert loud == pytest.approx([TARGET_LUFS] * len(loud), abs=MATCH_LU)


def test_a_low_input_gives_the_valve_half(bench: Bench) -> None:
    amplifier = ("load", "amplifier")
    values = (
        Edit((*amplifier, "resistance"), f"{LOW_INPUT_OHM:g} Ω"),
        Edit((*amplifier, "capacitance"), f"{1e12 * LOW_INPUT_F:g} pF"),
    )
    low = Draft("twelve", values)
    frames = [
        np.frombuffer(bench.frame(Hearing(low, LOUD, through=Through(WAYS[way])), 1, wait=True)[0], "<f8")
        for way in ("direct", "clean")
    ]
    direct, clean = frames
    n_sections = int(direct[2])
    first = 8 + 2 * n_sections
    assert np.array_equal(clean[8:first], direct[8:first])  # the poles
    assert clean[first:] == pytest.approx(0.5 * direct[first:], rel=1e-12)


def test_a_long_take_is_measured_on_stretches_that_reach_its_end() -> None:
    n = round(150.0 * RATE_HZ)
    found = stretches(n, RATE_HZ)
    assert (found[0][0], found[-1][1]) == (0, n)
    assert sum(last - first for first, last in found) == MEASURED_S * RATE_HZ
    assert all(a[1] < b[0] for a, b in pairwise(found))


def test_the_page_gets_the_chain_and_its_ways(tmp_path_factory: pytest.TempPathFactory) -> None:
    with client_of(tmp_path_factory.mktemp("chain"), demo=True) as client:
        found = client.get("/api/chain").json()
        assert found == chain_record(RATE_HZ)
        assert [one["name"] for one in found["ways"]] == list(WAYS) == list(get_args(WayName))
        for bad in ({"way": "crunchy"}, {"way": "clean", "lowered_db": -1.0}, {"lowered_db": math.pi * 1e9}):
            body = {"draft": {"version": "x"}, "setting": {"position": "1"}, "through": bad}
            assert client.post("/api/draft/filters", json=body).status_code == 422
