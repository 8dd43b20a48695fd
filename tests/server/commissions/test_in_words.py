"""A new instrument in words over the API: what may be said, what is made, what is refused."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from fastapi.testclient import TestClient
from search_requests import followed
from server_client import client_of

from server.wirings.in_words import make_text, words_from
from server.wirings.text import WiringText

FIVE = {
    "answers": {"neck": "single", "middle": "single", "bridge": "humbucker"},
    "switch": "blade_5_four_pole",
}


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    with client_of(tmp_path_factory.mktemp("words")) as one:
        yield one


def made(client: TestClient, words: dict[str, Any]) -> dict[str, Any]:
    answer = client.post("/api/words", json=words)
    assert answer.status_code == 200, answer.text
    found: dict[str, Any] = answer.json()
    return found


def test_what_may_be_said_is_what_is_read(client: TestClient) -> None:
    found = client.get("/api/words").json()
    names = {one["name"] for one in found["questions"]}
    assert names >= {"neck", "middle", "bridge", "volumes", "tones", "values", "strings"}
    for question in found["questions"]:
        assert question["usual"] in {one["name"] for one in question["answers"]}
        for answer in question["answers"]:
            words = {"answers": {"bridge": "single", "neck": "humbucker", question["name"]: answer["name"]}}
            assert make_text(words_from({**words, "switch": "blade_3_two_pole"}))
    for layout in found["layouts"]:
        words = {key: layout[key] for key in ("answers", "switch", "second", "sounds")}
        assert make_text(words_from(words)), layout["name"]
    assert {row["name"] for row in found["switches"]} >= {layout["switch"] for layout in found["layouts"]} - {
        ""
    }


def test_words_become_a_wiring_file_with_its_sounds(client: TestClient) -> None:
    found = made(client, {**FIVE, "name": 'Ours: "five"'})
    assert found["chosen"] == [one["words"] for one in found["sounds"] if one["usual"]]
    assert found["stands"] == ["1", "2", "3", "4", "5"]
    assert found["problems"] == []
    wiring = WiringText(found["text"], "words").wiring()
    assert wiring.name == 'Ours: "five"'
    assert wiring.labels["4"] == "Middle with bridge, one coil"
    pair = next(one for one in found["sounds"] if one["words"] == "bridge, both coils")["network"]
    assert pair["kind"] == "series"
    assert [one["name"] for one in pair["members"]] == ["bridge_a", "bridge_b"]


def test_more_sounds_than_positions_say_what_has_enough(client: TestClient) -> None:
    six = [one["words"] for one in made(client, FIVE)["sounds"]][:6]
    found = made(client, {**FIVE, "sounds": six})
    assert found["text"] is None
    (problem,) = found["problems"]
    assert problem["got"] == "6 sounds for 5 positions"
    assert "rotary_6_two_pole" in problem["allowed"]
    assert found["sounds"], "the sounds stay on offer"


@pytest.mark.parametrize(
    ("words", "got"),
    [
        ({"answers": {"neck": "humbuker"}}, "'humbuker'"),
        ({"answers": {}}, "none"),
        ({**FIVE, "switch": "blade"}, "'blade'"),
    ],
)
def test_what_there_is_not_is_refused_in_words(client: TestClient, words: dict[str, Any], got: str) -> None:
    answer = client.post("/api/words", json=words)
    assert answer.status_code == 422
    assert got in {one["got"] for one in answer.json()["problems"]}


def test_from_words_to_a_commission_with_sketch_and_chart(client: TestClient) -> None:
    found = made(client, {"answers": {"neck": "single", "bridge": "single"}, "switch": "toggle_3_selector"})
    options = {"switch": {"name": "toggle_3_selector"}, "order": "fixed", "seconds": 10}
    answer = client.post("/api/charts", json={"text": found["text"], "options": options})
    assert answer.status_code == 202, answer.text
    done = followed(client, answer.json())
    assert [row["label"] for row in done["chart"]["rows"]] == ["Neck", "Neck with bridge", "Bridge"]
    job = {"title": "From words", "wiring_text": found["text"]}
    commission = client.post("/api/commissions", json=job).json()["id"]
    (wiring,) = client.get(f"/api/commissions/{commission}").json()["wirings"]
    target = {"wiring": wiring["id"], "base": wiring["versions"][0]["id"], "note": "lug chart"}
    kept = client.post(f"/api/searches/{done['id']}/keep", json=target)
    assert kept.status_code == 201, kept.text
    text = client.get(f"/api/versions/{kept.json()['version_id']}").json()["text"]
    charted = WiringText(text, "charted").wiring()
    assert charted.sketch is None
    assert charted.labels == {"1": "Neck", "2": "Neck with bridge", "3": "Bridge"}
