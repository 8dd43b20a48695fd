"""Changes that let a volume alter what a tone does less or more: their figures are those of the wiring."""

from __future__ import annotations

import numpy as np
import pytest
from pair_case import AFTER, BEFORE, PARTS, STRINGS
from small_wirings import LOAD, wiring_of

from dsp.knobs.pair import compute_pair
from dsp.knobs.pair_search import PairWay, try_ways
from dsp.wiring.model import Wiring

PAIR = ("volume", "tone")


def wiring_with(joints: str) -> Wiring:
    return wiring_of(PARTS, joints, STRINGS + LOAD)


def ways_of(joints: str, within_db: float = 12.0) -> tuple[PairWay, ...]:
    wiring = wiring_with(joints)
    return try_ways(wiring, wiring.setting("1"), PAIR, within_db=within_db)


def moved(ways: tuple[PairWay, ...]) -> PairWay:
    return next(way for way in ways if " at " in way.text)


@pytest.mark.parametrize(
    ("here", "there", "text"),
    [(BEFORE, AFTER, "tone at the wiper of volume"), (AFTER, BEFORE, "tone at lug 3 of volume")],
)
def test_a_tone_moved_across_the_volume_is_the_wiring_soldered_so(here: str, there: str, text: str) -> None:
    """Common practice knows both ways; behind the volume the tone does more once that is back."""
    own, *_ = ways = ways_of(here)
    other = moved(ways)
    soldered = wiring_with(there)
    want = compute_pair(soldered, soldered.setting("1"), PAIR)
    assert other.text == text
    np.testing.assert_allclose(other.pair.level_db, want.level_db, atol=1e-9)
    np.testing.assert_allclose(other.pair.points, want.points, atol=1e-6)
    assert (other.changed_db > own.changed_db) == (here == BEFORE)


def test_the_least_change_comes_first_and_every_bypass_is_tried() -> None:
    reported: list[float] = []
    wiring = wiring_with(BEFORE)
    own, *ways = try_ways(wiring, wiring.setting("1"), PAIR, progress=reported.append)
    assert own.text == "as it is"
    assert [way.changed_db for way in ways] == sorted(way.changed_db for way in ways)
    assert len(ways) == 7 * 7 + 1, "7 capacitors with 7 resistors or none, and the tone moved"
    assert len({way.text for way in ways}) == len(ways)
    assert reported[-1] == 1.0
    for way in (ways[0], ways[-1]):
        built = way.change.apply(wiring)
        rows = compute_pair(built, built.setting("1"), PAIR).rows_within(12.0)
        assert way.changed_db == pytest.approx(max(row.changed_db for row in rows))


def test_a_narrower_look_counts_fewer_values() -> None:
    assert ways_of(BEFORE, 1.0)[0].changed_db < ways_of(BEFORE, 12.0)[0].changed_db
