"""The parts library as the page gets it: the page can write every value into a file."""

from __future__ import annotations

from pathlib import Path

import pytest
from server_client import client_of

from server.wirings.text import written

WRITTEN_TO = {"coil": "neck_a", "pot": "volume", "capacitor": "tone_cap"}
"""A part of the demo baritone per kind with values in the library."""


def test_every_entry_makes_sense_in_a_wiring(tmp_path: Path) -> None:
    with client_of(tmp_path) as client:
        made = client.post("/api/commissions", json={"title": "library", "starter": "baritone"}).json()["id"]
        version = client.get(f"/api/commissions/{made}").json()["wirings"][0]["versions"][0]["id"]
        entries = [one for one in client.get("/api/library").json() if one["kind"] in WRITTEN_TO]
        assert {one["kind"] for one in entries} == set(WRITTEN_TO)
        for entry in entries:
            edits = [
                {"path": ["parts", WRITTEN_TO[entry["kind"]], field], "value": value}
                for field, value in entry["fields"].items()
            ]
            answer = client.post("/api/draft/check", json={"draft": {"version": version, "edits": edits}})
            assert answer.json()["problems"] == [], entry["name"]
        offered = {entry["name"]: (entry["pair"], entry["coupling"]) for entry in entries}
        assert offered["double_hot_coil"] == ("double_hot_coil", 0.15)
        assert offered["stacked_upper_coil"] == ("stacked_lower_coil", -0.3)
        assert offered["narrow_single_hot"] == ("", 0.0)


@pytest.mark.parametrize(
    ("value", "text"),
    [
        ("4.1 kΩ", "4.1 kΩ"),
        (3, "3"),
        ([{"share": "18 %", "corner": "3.2 kHz"}], "[{share: 18 %, corner: 3.2 kHz}]"),
        ([[0, 0], [0.5, 0.2]], "[[0, 0], [0.5, 0.2]]"),
    ],
)
def test_values_are_written_in_one_line(value: object, text: str) -> None:
    assert written(value) == text
