"""Things done to a draft over HTTP: their edits, words and refusals; a draft that is not finished."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest
from fastapi.testclient import TestClient
from server_client import client_of

from dsp.parts.kinds import KINDS

TAKE = "demo:low_riff"


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    with client_of(tmp_path_factory.mktemp("changes"), demo=True) as one:
        yield one


@pytest.fixture(scope="module")
def version(client: TestClient) -> str:
    """Return the version of a blank wiring."""
    made = client.post("/api/commissions", json={"title": "Blank", "starter": "blank"}).json()
    whole = client.get(f"/api/commissions/{made['id']}").json()
    return str(whole["wirings"][0]["versions"][0]["id"])


def do(client: TestClient, draft: dict[str, Any], **change: Any) -> Any:
    return client.post("/api/draft/change", json={"draft": draft, "change": change})


def check(client: TestClient, draft: dict[str, Any]) -> Any:
    answer = client.post("/api/draft/check", json={"draft": draft})
    assert answer.status_code == 200
    return answer.json()


def test_each_deed_gives_all_edits_and_its_name(client: TestClient, version: str) -> None:
    draft: dict[str, Any] = {"version": version, "edits": []}
    deeds = [
        ({"do": "add", "what": "pot"}, "Added volume, a pot of 500 kΩ"),
        ({"do": "unsolder", "terminal": "coil.start"}, "Unsoldered coil.start"),
        ({"do": "solder", "terminals": ["coil.start", "volume.3"]}, "Soldered coil.start to volume.3"),
        ({"do": "solder", "terminals": ["volume.2", "output.tip"]}, "Soldered volume.2 to output.tip"),
        ({"do": "solder", "terminals": ["volume.1", "coil.finish"]}, "Soldered volume.1 to coil.finish"),
        (
            {"do": "unsolder wire", "ends": ["volume.1", "coil.finish"], "with_first": ["volume.1"]},
            "Unsoldered volume.1 from coil.finish",
        ),
        ({"do": "solder", "terminals": ["coil.finish", "volume.1"]}, "Soldered coil.finish to volume.1"),
        ({"do": "add", "what": "switch"}, "Added selector, a switch"),
        ({"do": "choose", "part": "selector", "like": "push_pull"}, "selector is a push pull now"),
        ({"do": "rename", "part": "selector", "to": "split"}, "Renamed selector to split"),
        ({"do": "gang", "part": "split", "to": "volume"}, "split sits on the shaft of volume"),
        ({"do": "add", "what": "pickup"}, "Added bridge_a and bridge_b, a two-coil pickup, coupled by 0.18"),
        (
            {"do": "couple", "coils": ["bridge_a", "bridge_b"], "coefficient": "0.2"},
            "Coupled bridge_a and bridge_b: 0.2",
        ),
        ({"do": "swap leads", "part": "coil"}, "Swapped the leads of coil"),
        (
            {"do": "remove", "part": "bridge_b"},
            "Removed bridge_b: its coupling with bridge_a too",
        ),
    ]
    for change, name in deeds:
        done = do(client, draft, **change).json()
        assert done["name"] == name
        assert done["missing"] == []
        draft["edits"] = done["edits"]
    found = check(client, draft)
    assert found["joints"] == [
        ["coil.start", "output.sleeve", "volume.1"],
        ["coil.finish", "volume.3"],
        ["volume.2", "output.tip"],
    ]
    volume = next(part for part in found["parts"] if part["name"] == "volume")
    assert (volume["terminals"], volume["swaps"]) == (["1", "2", "3"], "lugs 1 and 3")
    assert [knob["name"] for knob in found["knobs"]] == ["volume"]


def test_a_refusal_says_what_is_allowed_and_changes_nothing(client: TestClient, version: str) -> None:
    draft = {"version": version, "edits": []}
    refused = do(client, draft, do="solder", terminals=["coil.start", "output.tap"])
    assert refused.status_code == 422
    assert refused.json()["problems"][0]["allowed"] == "output.tip, output.sleeve"
    outside = do(client, draft, do="couple", coils=["coil", "coil"], coefficient="2")
    assert outside.status_code == 422
    assert do(client, draft, do="paint", part="coil").status_code == 422
    assert do(client, {"version": "nothing"}, do="remove", part="coil").status_code == 404


@pytest.mark.parametrize(
    "edit",
    [
        {"path": ["renamed"], "value": "neck"},
        {"path": ["renamed", "coil"], "value": "a: [b"},
        {"path": ["renamed", "coil"], "value": "output"},
        {"path": ["renamed", "coil", "x"], "value": None},
        {"path": ["joints", "x"], "value": None},
        {"path": ["joints", "99999999999"], "value": None},
        {"path": ["drawing"], "value": "[1]"},
        {"path": ["parts"], "value": "[]"},
        {"path": ["couplings", "0"], "value": "{coils: 1}"},
    ],
)
def test_edits_of_no_page_are_answered_without_a_fault(
    client: TestClient, version: str, edit: dict[str, Any]
) -> None:
    draft = {"version": version, "edits": [edit]}
    changes = [
        {"do": "add", "what": "pot"},
        {"do": "remove", "part": "coil"},
        {"do": "rename", "part": "coil", "to": "neck"},
        {"do": "unsolder", "terminal": "coil.start"},
    ]
    for change in changes:
        assert do(client, draft, **change).status_code in (200, 422)
    assert client.post("/api/draft/names", json={"drafts": [draft]}).status_code in (200, 422)


def test_what_a_file_may_not_say_is_refused_by_the_readers_own_words(
    client: TestClient, version: str
) -> None:
    draft = {"version": version, "edits": []}
    draft["edits"] = do(client, draft, do="add", what="pickup").json()["edits"]
    refused = do(client, draft, do="couple", coils=["bridge_a", "bridge_b"], coefficient="1.5")
    assert refused.status_code == 422
    assert "couplings" in refused.json()["problems"][0]["where"]


def test_an_unfinished_draft_shows_its_parts_and_what_is_missing(client: TestClient, version: str) -> None:
    draft = {"version": version, "edits": []}
    done = do(client, draft, do="remove", part="output").json()
    assert done["missing"] == ["a jack"]
    draft["edits"] = done["edits"]
    found = check(client, draft)
    assert not found["ok"]
    assert found["missing"] == ["a jack"]
    assert found["problems"][0]["got"] == "no jack"
    assert [part["name"] for part in found["parts"]] == ["coil", "cable", "amplifier"]
    assert found["joints"] == []
    both = do(client, draft, do="remove", part="coil").json()
    assert both["missing"] == ["a jack", "a coil"]
    bare = check(client, {"version": version, "edits": both["edits"]})
    assert [part["name"] for part in bare["parts"]] == ["cable", "amplifier"]
    no_coil = do(client, {"version": version, "edits": []}, do="remove", part="coil").json()
    bare = check(client, {"version": version, "edits": no_coil["edits"]})
    assert [part["name"] for part in bare["parts"]] == ["output", "cable", "amplifier"]
    again = do(client, {"version": version, "edits": both["edits"]}, do="add", what="jack").json()
    assert again["missing"] == ["a coil"]
    setting = {"position": "1"}
    refused = client.post("/api/draft/filters", json={"draft": draft, "setting": setting})
    assert refused.status_code == 422


def test_a_draft_is_drawn_before_it_is_finished(client: TestClient, version: str) -> None:
    draft = {"version": version, "edits": []}
    whole = client.post("/api/draft/drawing", json={"draft": draft}).json()
    assert [state["coils"] for state in whole["states"]] == [{"coil": "heard"}]
    for part in ("output", "coil"):
        draft["edits"] = do(client, draft, do="remove", part=part).json()["edits"]
    empty = client.post("/api/draft/drawing", json={"draft": draft}).json()
    assert (empty["facts"]["parts"], empty["facts"]["joints"], empty["states"]) == ([], [], [])
    draft["edits"] = do(client, draft, do="add", what="pickup").json()["edits"]
    pickup = client.post("/api/draft/drawing", json={"draft": draft}).json()
    assert pickup["facts"]["housings"] == [["neck_a", "neck_b"]]
    assert pickup["facts"]["ground"] == -1


def test_a_take_is_heard_by_a_coil_just_added_and_not_by_one_removed(
    client: TestClient, version: str
) -> None:
    added = do(client, {"version": version, "edits": []}, do="add", what="coil").json()["edits"]

    def stems(edits: list[Any]) -> tuple[str, Any]:
        query = {"version": version, "take": TAKE, "edits": json.dumps(edits)}
        answer = client.get("/api/stems", params=query)
        assert answer.status_code == 200, answer.text
        return answer.headers["X-Coils"], np.frombuffer(answer.content, "<f4")

    names, volts = stems(added)
    assert names == "coil,bridge"
    assert all(np.abs(one).max() > 1e-4 for one in np.split(volts, 2))
    alone = [edit for edit in added if edit["path"] == ["parts", "bridge"]]
    gone = [*alone, {"path": ["parts", "coil"], "value": None}]  # its joints still name it
    assert stems(gone)[0] == "bridge"


def test_everything_on_offer_has_a_picture(client: TestClient) -> None:
    found = client.get("/api/additions").json()
    assert {one["name"] for one in found} >= {"coil", "pickup", "pot", "jack"}
    assert len(found) == len(KINDS) + 1
    assert all(one["strokes"].startswith("M") and one["title"] and one["about"] for one in found)
