"""What could be wrong with a soldered guitar, as the page asks for it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from search_requests import followed
from server_client import client_of
from small_wirings import wiring_text

from server.searches import faults

PARTS = """
neck: {COIL, winding: forward, at: 150 mm}
bridge: {kind: coil, resistance: 6 kΩ, inductance: 3 H, capacitance: 90 pF, winding: reverse, magnet: south}
volume: {kind: pot, resistance: 250 kΩ, taper: audio}
selector: {kind: switch, lugs: [N, C, B], contacts: {1: [[N, C]], 2: [[N, C, B]], 3: [[C, B]]}}
output: {kind: jack}
"""
JOINTS = """
neck.start, selector.N
bridge.start, selector.B
selector.C, volume.3
volume.2, output.tip
neck.finish, bridge.finish, volume.1, output.sleeve
"""
TEXT = wiring_text(PARTS, JOINTS)


@pytest.fixture(scope="module", autouse=True)
def cached(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Keep the book in a cache of this test's own."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("PRESOLDER_CACHE", str(tmp_path_factory.mktemp("cache")))
        yield


@pytest.fixture(scope="module")
def made() -> dict[str, Any]:
    """Return what the search reports of the wiring, and its shares in order."""
    reported: dict[str, Any] = {"shares": []}

    def report(**news: Any) -> None:
        reported["shares"] += [news.pop("share")] if "share" in news else []
        reported.update(news)

    faults.run(TEXT, {}, report)
    return reported


def table(*rows: str) -> str:
    return "\n".join(["setting;what;value", *rows])


def test_the_form_tells_what_may_be_entered_and_the_book_its_progress(made: dict[str, Any]) -> None:
    assert made["shares"] == sorted(made["shares"])
    assert (made["shares"][0], made["shares"][-1]) == (0.0, 1.0)
    assert made["faults"] > 20
    form = made["form"]
    assert [one["setting"] for one in form["heard"]] == ["1", "2", "3"]
    assert [one["knobs"] for one in form["knobs"]] == [{"volume": 0.0}]
    assert len(form["read"]) == 5
    assert form["words"][-1] == {"word": "fine", "about": "as it should be", "knob": False}


@pytest.mark.usefixtures("made")
def test_words_then_the_meter_lead_to_the_joint(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("dsp.checking.book.read", None)  # making the book again would fail
    empty = faults.answer(TEXT, "")
    assert (empty["readings"], empty["next"]["what"]) == (0, "meter")
    heard = ("3;heard;silent", "2;heard;weak", "1;heard;fine")
    by_ear = faults.answer(TEXT, table(*heard), rig=False)
    assert by_ear["readings"] == 3
    assert by_ear["next"]["what"] == "meter"
    said = {one["text"] for line in by_ear["classes"][:4] for one in line["faults"]}
    assert "the joint at bridge.start and selector.B is open" in said
    read = faults.answer(TEXT, table(*heard, "3;meter;250k"))
    first = read["classes"][0]
    assert not first["sound"]
    assert any("bridge.start" in one["terminals"] for one in first["faults"])
    assert first["probability"] > by_ear["classes"][0]["probability"]
    odd = faults.answer(TEXT, table("1;meter;1k", "2;meter;200k", "3;meter;3,3k"))
    assert odd["unexplained"]


def test_a_draft_is_asked_about_over_the_page(tmp_path_factory: pytest.TempPathFactory) -> None:
    with client_of(tmp_path_factory.mktemp("faults")) as client:
        made = client.post("/api/commissions", json={"title": "Odd", "wiring_text": TEXT})
        version = client.get(f"/api/commissions/{made.json()['id']}").json()["wirings"][0]["versions"][0][
            "id"
        ]
        draft = {"version": version, "edits": []}
        started = client.post("/api/faults", json={"draft": draft})
        assert started.status_code == 202, started.text
        done = followed(client, started.json())
        assert (done["state"], done["share"]) == ("done", 1.0)
        asked = {"draft": draft, "readings": table("2;meter;eight")}
        refused = client.post("/api/faults/answer", json=asked)
        assert refused.status_code == 422
        assert refused.json()["problems"][0]["where"].startswith("readings:2")
        loud = client.post("/api/faults/answer", json={**asked, "readings": table("2;exciter neck;loud")})
        assert loud.status_code == 422
        assert "a sign and a level" in loud.json()["problems"][0]["allowed"]
        found = client.post("/api/faults/answer", json={**asked, "readings": table("2;heard;thin")}).json()
        assert found["classes"]
