"""Instruments built alike, as the page asks for them."""

from __future__ import annotations

from typing import Any

import pytest
from places import DEMO

from dsp.checking.spread import CURVE_HZ, find_spread
from dsp.errors import InputError
from server.searches import spread
from server.searches.sounds import read
from server.wirings.text import WiringText

TEXT = (DEMO / "twelve.yaml").read_text(encoding="utf-8")


def asked(**options: Any) -> dict[str, Any]:
    """Run the search and return its last results, and its shares in order."""
    reported: dict[str, Any] = {"shares": []}

    def report(**news: Any) -> None:
        reported["shares"] += [news.pop("share")] if "share" in news else []
        reported.update(news)

    spread.run(TEXT, {"built": 4, "cable": 0.2, "limits": [], **options}, report)
    return reported


def test_what_the_page_draws_and_hears() -> None:
    found = asked(limits=["Level at most  20 dB below the loudest", "timbre at most 0.3 dB from nominal"])
    assert found["shares"] == sorted(found["shares"])
    assert found["shares"][-1] == 1.0
    told = found["spread"]
    assert told["shares"][0]["part"] == "cable"
    assert told["worth_selecting"] in {one["part"] for one in told["shares"][1:]}, "the cable is the player's"
    assert told["honest"].startswith("Built 4 times, the farthest two differ by ")
    assert "with a knob turned" in told["honest"]
    curves = found["curves"]
    assert len(curves["frequencies_hz"]) == len(CURVE_HZ)
    assert len(curves["nominal_db"]) == len(told["settings"]) == len(curves["ends_db"][0])
    first, second = found["limits"]["limits"]
    assert first["limit"] == "level at most 20 dB below the loudest"
    assert first["passed"] == found["limits"]["drawn"] == 200
    assert second["low"] < second["share"] < second["high"]
    assert found["limits"]["dearest"] == second["limit"]


def test_the_farthest_two_are_edits_of_the_draft() -> None:
    found = asked(cable=0.0)
    wirings = []
    for edits in found["ends"]:
        text = WiringText(TEXT, "wiring")
        for one in edits:
            text.set(one["path"], one["value"])
        wirings.append(text.wiring())
    drawn = find_spread(read(TEXT), [wirings[0].setting("1")], 4)
    assert drawn.built == 4
    assert wirings[0].parts["neck"] != wirings[1].parts["neck"]
    assert {one["path"][0] for one in found["ends"][0]} <= {"parts", "couplings"}


def test_every_limit_that_is_none_is_told() -> None:
    with pytest.raises(InputError) as refused:
        asked(
            limits=["level at most 3 dB below the loudest", "loud", "timbre of 9 at most 1 dB from nominal"]
        )
    assert [one.where for one in refused.value.problems] == ["limit 2", "limit 3"]


def test_what_is_worth_selecting_has_to_bring_something(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(spread, "LEAST_GAIN", 1.0)
    assert asked()["spread"]["worth_selecting"] is None
