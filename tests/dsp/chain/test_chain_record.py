"""The chain in plain numbers: what it says is what dsp runs, and what the page's cases were made with."""

from __future__ import annotations

import json

import numpy as np
import pytest
from places import ROOT

from dsp.chain.chain_record import chain_record
from dsp.chain.half_band import TAPS
from dsp.chain.run import Chain
from dsp.chain.soft import SoftStage
from dsp.chain.ways import CAUTION, WAYS

CASES = ROOT / "tests" / "web" / "reference" / "chain_cases.json"


def test_the_cases_of_the_page_were_made_with_this_chain() -> None:
    """If not: python tests/web/reference/make_chain_cases.py."""
    kept = json.loads(CASES.read_text(encoding="utf-8"))["chain"]
    now = chain_record(48_000.0)
    assert kept["ways"] == now["ways"]
    assert kept["soft"]["late"] == now["soft"]["late"]
    for filters in ("stack", "speaker"):
        for part in ("poles", "numerators", "taps"):
            assert np.array(kept[filters][part]) == pytest.approx(np.array(now[filters][part]), abs=1e-9)
    assert [len(taps) for taps in now["soft"]["half_bands"]] == list(TAPS)
    for ours, theirs in zip(now["soft"]["half_bands"], kept["soft"]["half_bands"], strict=True):
        assert ours == pytest.approx(theirs, abs=1e-12)


@pytest.mark.parametrize("rate_hz", [44_100.0, 96_000.0])
def test_every_way_says_its_own_delay_and_gain(rate_hz: float) -> None:
    found = chain_record(rate_hz)
    for one in found["ways"]:
        chain = Chain(WAYS[one["name"]], rate_hz)
        assert one["delay"] == chain.delay
        assert one["amplified"] == (chain.delay > 0)
    assert found["caution"] == CAUTION
    assert found["soft"]["pole"] == SoftStage(4, rate_hz).pole == SoftStage(8, rate_hz).pole
