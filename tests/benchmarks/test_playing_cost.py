"""What the page's player costs in each way to hear a guitar: processor time of one core, in node."""

from __future__ import annotations

import json
import shutil
import subprocess

import pytest
from places import ROOT

from dsp.chain.ways import WAYS

pytestmark = pytest.mark.benchmark

MOST_SHARE = 0.05
"""The bar: of a desktop's core."""
TURNS, SECONDS = 25, 1
SLACK = 0.5


@pytest.mark.skipif(shutil.which("node") is None, reason="needs node")
def test_playing_through_each_way(record) -> None:
    script = ROOT / "tests" / "web" / "measure_chain.mjs"
    done = subprocess.run(
        ["node", str(script), str(TURNS), str(SECONDS)], capture_output=True, text=True, check=True
    )
    shares = json.loads(done.stdout)
    assert set(WAYS) < set(shares)
    for name, share in shares.items():
        figure = f"{100 * share:.2f} % of a core, {share / shares['direct']:.2f} x direct"
        bar = f"<= {100 * MOST_SHARE:g} %, asserted as <= {100 * MOST_SHARE / SLACK:g} %"
        record(f"player, {name}", figure, bar)
        assert share <= MOST_SHARE / SLACK
