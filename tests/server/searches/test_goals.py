"""What leads a knob to a goal, as the page asks for it: edits that do what the search predicts."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import pytest
from fastapi.testclient import TestClient
from search_requests import SKETCH, demo_versions, followed
from server_client import client_of

from dsp.errors import InputError
from dsp.knobs import goal_search
from dsp.knobs.goal_networks import goal_networks
from dsp.knobs.travel import compute_travel
from server.searches import goals
from server.wirings.text import WiringText

ASKED: dict[str, Any] = {
    "position": "1", "knobs": {}, "switches": {}, "knob": "tone",
    "to": ["thin"], "at_least_db": 2.0, "within_db": 12.0, "evenness": 0.5, "keep_pot": False,
}  # fmt: skip


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    with client_of(tmp_path_factory.mktemp("goals"), demo=True) as one:
        yield one


@pytest.fixture
def few_networks(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every thirtieth network is enough to see what is reported."""
    monkeypatch.setattr(goal_search, "goal_networks", lambda *words: list(goal_networks(*words))[::30])


@pytest.mark.usefixtures("few_networks")
def test_every_edit_does_what_the_search_predicts() -> None:
    text, reported = SKETCH.read_text(encoding="utf-8"), {}
    shares: list[float] = []

    def report(**news: Any) -> None:
        reported.update(news)
        shares.extend([news["share"]] if "share" in news else [])

    goals.run(text, ASKED, report)
    found = reported["goal"]
    assert shares == sorted(shares)
    assert shares[-1] == 1.0
    assert found["meeting"] >= len(found["candidates"]) > 0
    for row in found["candidates"]:
        for edits, evenness in ((row["edits"], row["even"]), (row["curve_edits"], row["curve_evenness"])):
            if edits is None:
                continue
            edited = WiringText(text, "wiring")
            edited.change([(edit["path"], edit["value"]) for edit in edits])
            wiring = edited.wiring()
            moved = compute_travel(wiring, wiring.setting("1"), "tone")
            assert moved.evenness == pytest.approx(evenness, abs=0.002)
        assert {one["name"] for one in row["parts"]} <= {
            edit["path"][1] for edit in row["edits"] if edit["path"][0] == "parts"
        }
        assert row["level_db"][20 if row["start"] else 0] == 0.0


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"knob": "ton"}, "'ton'"),
        ({"to": ["thinn"]}, "did you mean 'thin'"),
        ({"to": ["dark", "clear"]}, "exclude"),
    ],
)
def test_what_cannot_be_searched(change: dict[str, Any], message: str) -> None:
    with pytest.raises(InputError, match=message):
        goals.run(SKETCH.read_text(encoding="utf-8"), ASKED | change, lambda **news: None)


def test_a_goal_out_of_range_is_refused(client: TestClient) -> None:
    body = {
        "draft": {"version": demo_versions(client)["sketch"]},
        "setting": {"position": "1"},
        "knob": "tone",
    }
    for wrong in ({"to": []}, {"to": ["thin"], "evenness": 2.0}, {"to": ["thin"], "within_db": 0.0}):
        assert client.post("/api/goals", json={**body, **wrong}).status_code == 422


@pytest.mark.long
def test_the_page_s_answer_is_the_command_s(client: TestClient) -> None:
    version = demo_versions(client)["sketch"]
    asked = {name: ASKED[name] for name in ("knob", "to", "at_least_db", "within_db", "evenness", "keep_pot")}
    body = {"draft": {"version": version}, "setting": {"position": "1"}, **asked}
    done = followed(client, client.post("/api/goals", json=body).json(), within_s=120.0)
    assert done["state"] == "done"
    reported: dict[str, Any] = {}
    goals.run(SKETCH.read_text(encoding="utf-8"), ASKED, reported.update)
    assert done["goal"] == json.loads(json.dumps(reported["goal"]))
    draft = {"version": version, "edits": done["goal"]["candidates"][0]["edits"]}
    assert client.post("/api/draft/check", json={"draft": draft}).json()["ok"]
