"""Which position another is most like, and whether the two can be told apart."""

from __future__ import annotations

import numpy as np
import pytest
from small_wirings import wiring_of

from dsp.facts.apart import nearest_positions, nearest_record
from dsp.sound.audible import EDGE, HEARD, NOT_HEARD

COIL = "kind: coil, resistance: 6k, inductance: 2.5H, capacitance: 110p"
PARTS = f"""
neck: {{{COIL}, at: 160 mm}}
same: {{{COIL}, at: 160 mm, sensitivity: LEVEL}}
bridge: {{{COIL}, at: 45 mm}}
selector: {{kind: switch, poles: 1, positions: 4}}
output: {{kind: jack}}
"""
JOINTS = """
neck.start, selector.A1
same.start, selector.A2
bridge.start, selector.A3
selector.A0, output.tip
neck.finish, same.finish, bridge.finish, output.sleeve
"""


@pytest.mark.parametrize(
    ("db", "word"),
    [(0.0, NOT_HEARD), (-0.7, EDGE), (-3.0, HEARD)],
    ids=["alike", "a little softer", "softer"],
)
def test_a_coil_beside_its_double_is_told_by_level_alone(db: float, word: str) -> None:
    wiring = wiring_of(PARTS.replace("LEVEL", repr(0.055 * 10 ** (db / 20))), JOINTS)
    settings = [wiring.setting(position) for position in ("1", "2", "3", "4")]
    first, second, third, silent = nearest_positions(wiring, settings)
    assert first is not None
    assert second is not None
    assert third is not None
    assert (first.position, second.position) == ("2", "1")
    assert first.apart.distance_db == pytest.approx(0.0, abs=1e-9)
    assert first.apart.level_db == pytest.approx(db, abs=1e-9)
    assert (first.apart.heard, first.apart.heard_as_played) == (NOT_HEARD, word)
    assert first.clean.distance_db == pytest.approx(0.0, abs=1e-9)
    assert first.clean.level_db == pytest.approx(db, abs=1e-9)
    assert third.clean.level_db < third.apart.level_db - 3.0, "the bridge coil gains on an amplifier"
    assert third.apart.heard == HEARD
    assert third.apart.largest_db > third.apart.distance_db
    assert silent is None


def test_a_position_alone_has_no_other() -> None:
    wiring = wiring_of(PARTS.replace("LEVEL", "0.055"), JOINTS)
    assert nearest_positions(wiring, [wiring.setting("1")]) == (None,)
    assert nearest_record(None) is None


def test_the_record_has_plain_numbers() -> None:
    wiring = wiring_of(PARTS.replace("LEVEL", "0.055"), JOINTS)
    record = nearest_record(nearest_positions(wiring, [wiring.setting(p) for p in ("1", "3")])[0])
    assert record is not None
    assert set(record) == {"position", "distance_db", "largest_db", "level_db", "heard", "clean"}
    assert set(record["clean"]) == {"distance_db", "level_db"}
    assert np.isfinite(
        [record["distance_db"], record["largest_db"], record["level_db"], *record["clean"].values()]
    ).all()
