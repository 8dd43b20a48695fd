"""Commissions over the API: made, found, renamed, copied, archived; versions saved and kept."""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from fastapi.testclient import TestClient
from hostile import HALF, KEPT, REFUSED
from places import DEMO
from server_client import client_of

from dsp.facts.findings.check import check
from dsp.wiring.reading.wiring import read_wiring
from server.commissions.starters import STARTERS
from server.files.yaml_text import parse_tree
from server.takes.load import load_take
from server.wirings.text import load_wiring

CAP = ["parts", "tone_cap", "capacitance"]


@pytest.fixture
def client(tmp_path: Path) -> TestClient:
    return client_of(tmp_path / "data")


def made(client: TestClient, title: str = "Job", /, **more: Any) -> str:
    answer = client.post("/api/commissions", json={"title": title, "starter": "baritone", **more})
    assert answer.status_code == 201, answer.text
    return str(answer.json()["id"])


def first_wiring(client: TestClient, commission: str) -> dict[str, Any]:
    found: dict[str, Any] = client.get(f"/api/commissions/{commission}").json()["wirings"][0]
    return found


def edit(value: str, path: list[str] = CAP) -> dict[str, Any]:
    return {"path": path, "value": value}


def problems(answer: Any, status: int) -> list[dict[str, str]]:
    """Return the problems of a refusal, and check their form."""
    assert answer.status_code == status, answer.text
    refused: list[dict[str, str]] = answer.json()["problems"]
    assert refused
    assert all(set(one) == {"where", "got", "allowed", "hint"} for one in refused)
    return refused


# --- What to start from


@pytest.mark.parametrize("name", STARTERS)
def test_every_starter_is_a_wiring_without_errors(name: str) -> None:
    starter = STARTERS[name]
    wiring = read_wiring(parse_tree(starter.text(), name), name)
    assert not [one for one in check(wiring) if one.severity == "error"]
    assert starter.about.endswith(".")


def test_starters_are_listed_in_words(client: TestClient) -> None:
    found = client.get("/api/starters").json()
    assert [one["name"] for one in found] == list(STARTERS)
    assert {"blank", "baritone", "twelve"} < {one["name"] for one in found}


def test_a_starter_names_a_take_that_its_strings_can_play(client: TestClient) -> None:
    made = client.post("/api/commissions", json={"title": "Four strings", "starter": "tenor"}).json()["id"]
    state = client.get(f"/api/commissions/{made}").json()["state"]
    assert state == {"take": "demo:four_strings"}
    assert state["take"] in {one["id"] for one in client.get("/api/takes").json()}
    block = next(iter(load_take(DEMO / "four_strings.yaml").stems(load_wiring(DEMO / "tenor.yaml"), 48_000)))
    assert np.abs(block).max() > 0.0  # scores for six strings are refused


def test_an_unknown_starter_is_refused_with_a_guess(client: TestClient) -> None:
    answer = client.post("/api/commissions", json={"title": "Job", "starter": "barytone"})
    assert "baritone" in problems(answer, 422)[0]["hint"]
    assert client.get("/api/commissions").json() == []


# --- Commissions


def test_a_commission_of_a_starter_has_its_wiring(client: TestClient) -> None:
    commission = made(client, "Job", client="Somebody")
    found = client.get(f"/api/commissions/{commission}").json()
    assert (found["title"], found["client"], found["archived"], found["state"]) == (
        "Job",
        "Somebody",
        None,
        {},
    )
    (version,) = found["wirings"][0]["versions"]
    text = client.get(f"/api/versions/{version['id']}").json()
    assert text["text"] == STARTERS["baritone"].text()
    assert text["sha256"] == hashlib.sha256(text["text"].encode()).hexdigest()
    assert (text["number"], text["wiring_id"]) == (1, found["wirings"][0]["id"])


def test_a_commission_of_a_text_or_of_nothing(client: TestClient) -> None:
    text = STARTERS["twelve"].text() + "# mine\n"
    given = client.post("/api/commissions", json={"title": "Own", "wiring_text": text}).json()["id"]
    version = first_wiring(client, given)["versions"][0]["id"]
    assert client.get(f"/api/versions/{version}").json()["text"] == text
    nothing = client.post("/api/commissions", json={"title": "Bare"}).json()["id"]
    assert client.get(f"/api/commissions/{nothing}").json()["wirings"] == []


def test_a_text_that_is_not_a_wiring_makes_no_commission(client: TestClient) -> None:
    text = "format: 1\nparts:\n  a: {kind: coyl}\n  b: {kind: pot}\n"
    refused = problems(client.post("/api/commissions", json={"title": "Own", "wiring_text": text}), 422)
    assert len(refused) > 1
    assert any("Own:3" in one["where"] for one in refused)
    assert client.get("/api/commissions").json() == []


def test_search_finds_words_of_title_and_client_in_any_case(client: TestClient) -> None:
    one = made(client, "Große Baritone", client="Werkstatt")
    other = made(client, "100 % of_it", client="")

    def found(search: str) -> list[str]:
        return [row["id"] for row in client.get("/api/commissions", params={"search": search}).json()]

    assert found("GROSSE werk") == [one]
    assert found("werkstatt baritone") == [one]
    assert found("% of_") == [other]
    assert found("%") == [other]
    assert found("nothing") == []
    assert found("") == [other, one]


def test_the_latest_changed_comes_first(client: TestClient) -> None:
    first, second = made(client), made(client)
    client.patch(f"/api/commissions/{first}", json={"title": "Changed"})
    assert [row["id"] for row in client.get("/api/commissions").json()] == [first, second]


def test_archive_and_restore_undo_each_other(client: TestClient) -> None:
    commission = made(client)
    before = client.get(f"/api/commissions/{commission}").json()
    away = client.patch(f"/api/commissions/{commission}", json={"archived": True}).json()
    assert away["archived"]
    assert client.get("/api/commissions").json() == []
    assert [row["id"] for row in client.get("/api/commissions?archived=1").json()] == [commission]
    back = client.patch(f"/api/commissions/{commission}", json={"archived": False}).json()
    assert {**back, "changed": ""} == {**before, "changed": ""}


def test_a_change_keeps_the_fields_it_leaves_out(client: TestClient) -> None:
    commission = made(client, "Title", client="Client")
    changed = client.patch(f"/api/commissions/{commission}", json={"client": ""}).json()
    assert (changed["title"], changed["client"]) == ("Title", "")


def test_a_copy_starts_from_the_latest_and_goes_its_own_way(client: TestClient) -> None:
    commission = made(client)
    wiring = first_wiring(client, commission)
    body = {"base": wiring["versions"][0]["id"], "edits": [edit("33 nF")]}
    client.post(f"/api/wirings/{wiring['id']}/versions", json=body)
    copy = client.post(f"/api/commissions/{commission}/copy").json()["id"]
    (version,) = first_wiring(client, copy)["versions"]
    assert "version 2" in version["note"]
    assert "33 nF" in client.get(f"/api/versions/{version['id']}").json()["text"]
    client.patch(f"/api/commissions/{copy}", json={"title": "Copy"})
    assert client.get(f"/api/commissions/{commission}").json()["title"] == "Job"


def test_the_state_of_the_page_is_stored(client: TestClient) -> None:
    commission = made(client)
    state = {"position": "3", "knobs": {"tone": 4.5}, "pins": [1, None, True], "text": KEPT["emoji"]}
    assert client.put(f"/api/commissions/{commission}/state", json=state).status_code == 200
    assert client.get(f"/api/commissions/{commission}").json()["state"] == state


def test_state_is_bounded(client: TestClient) -> None:
    commission = made(client)
    path = f"/api/commissions/{commission}/state"
    fits = {"x": "a" * (32_000 - len('{"x":""}'))}
    assert client.put(path, json=fits).status_code == 200
    problems(client.put(path, json={"x": fits["x"] + "a"}), 413)
    assert client.get(f"/api/commissions/{commission}").json()["state"] == fits


@pytest.mark.parametrize(
    "body",
    ['{"x": NaN}', '{"x": Infinity}', "[1]", '"x"', "{", "", "[" * 30_000, '{"x":' * 3000 + "1" + "}" * 3000,
     '{"x": "\\ud83d"}', '{"x": 1' + "0" * 5000 + "}", "\xff"],
)  # fmt: skip
def test_a_state_beyond_json_is_refused(client: TestClient, body: str) -> None:
    commission = made(client)
    answer = client.put(
        f"/api/commissions/{commission}/state",
        content=body.encode("latin-1"),
        headers={"Content-Type": "application/json"},
    )
    assert 400 <= answer.status_code < 500
    assert problems(answer, answer.status_code)
    assert client.get(f"/api/commissions/{commission}").json()["state"] == {}


@pytest.mark.parametrize(
    ("method", "path"),
    [
        ("GET", "/api/commissions/none"),
        ("PATCH", "/api/commissions/none"),
        ("POST", "/api/commissions/none/copy"),
        ("PUT", "/api/commissions/none/state"),
        ("GET", "/api/versions/none"),
        ("GET", "/api/nothing"),
    ],
)
def test_missing_things_are_reported(client: TestClient, method: str, path: str) -> None:
    body = None if method in ("GET", "POST") else {}
    problems(client.request(method, path, json=body), 404)


@pytest.mark.parametrize(
    "body",
    [{}, {"title": 3}, {"title": "x", "colour": "red"}, {"title": "x", "client": None}, [], "x", None],
)
def test_unknown_fields_of_a_body_are_refused(client: TestClient, body: Any) -> None:
    problems(client.post("/api/commissions", json=body), 422)


# --- Versions


def save(client: TestClient, wiring: str, base: str, *edits: dict[str, Any], **more: Any) -> Any:
    body = {"base": base, "edits": list(edits), **more}
    return client.post(f"/api/wirings/{wiring}/versions", json=body)


def test_saving_keeps_comments_and_every_other_line(client: TestClient) -> None:
    wiring = first_wiring(client, made(client))
    base = wiring["versions"][0]["id"]
    answer = save(
        client, wiring["id"], base, edit("33 nF"), edit("audio", ["parts", "volume", "taper"]), note="n"
    )
    assert answer.status_code == 201
    assert (answer.json()["number"], answer.json()["file"]) == (2, None)
    before = client.get(f"/api/versions/{base}").json()["text"]
    saved = client.get(f"/api/versions/{answer.json()['id']}").json()
    old, new = before.splitlines(), saved["text"].splitlines()
    differing = [(a, b) for a, b in zip(old, new, strict=True) if a != b]
    assert [b.split(":")[0].strip() for _, b in differing] == ["volume", "tone_cap"]
    assert "# the coil nearer the neck" in saved["text"]
    assert saved["note"] == "n"


def test_saving_from_an_older_version_is_refused_with_the_newer(client: TestClient) -> None:
    """Two tabs: the second to save learns what the first saved, and nothing is lost."""
    wiring = first_wiring(client, made(client))
    base = wiring["versions"][0]["id"]
    first = save(client, wiring["id"], base, edit("33 nF")).json()
    answer = save(client, wiring["id"], base, edit("47 nF"))
    assert "version 2" in problems(answer, 409)[0]["allowed"]
    assert (answer.json()["newer"]["id"], answer.json()["newer"]["number"]) == (first["id"], 2)
    assert save(client, wiring["id"], first["id"], edit("47 nF")).json()["number"] == 3


def test_saving_nothing_new_makes_no_version(client: TestClient) -> None:
    wiring = first_wiring(client, made(client))
    base = wiring["versions"][0]["id"]
    assert save(client, wiring["id"], base).json()["id"] == base
    text = client.get(f"/api/versions/{base}").json()["text"]
    assert save(client, wiring["id"], base, text=text).json()["number"] == 1


def test_a_whole_text_can_be_saved(client: TestClient) -> None:
    wiring = first_wiring(client, made(client))
    base = wiring["versions"][0]["id"]
    text = STARTERS["twelve"].text()
    saved = save(client, wiring["id"], base, edit("10 nF"), text=text).json()
    kept = client.get(f"/api/versions/{saved['id']}").json()["text"]
    assert kept == text.replace("capacitance: 33 nF", "capacitance: 10 nF")


@pytest.mark.parametrize(
    "change",
    [
        edit("a lot"),
        edit("-1 nF"),
        edit("1 H"),
        edit(""),
        edit("x\x00y"),
        edit("22 nF", ["parts", "tone_cup", "capacitance"]),
        edit("22 nF", ["parts", "tone_cap", "capacity"]),
        edit("2", ["format"]),
        edit("[", ["labels", "1"]) | {"path": ["joints"]},
        edit("x", ["parts"]),
        edit("x", ["joints", "0"]),
    ],
)
def test_senseless_values_are_not_saved(client: TestClient, change: dict[str, Any]) -> None:
    wiring = first_wiring(client, made(client))
    problems(save(client, wiring["id"], wiring["versions"][0]["id"], change), 422)
    assert len(client.get(f"/api/commissions/{_only(client)}").json()["wirings"][0]["versions"]) == 1


def _only(client: TestClient) -> str:
    (one,) = client.get("/api/commissions").json()
    return str(one["id"])


def test_the_version_of_another_wiring_is_not_a_base(client: TestClient) -> None:
    one, other = (first_wiring(client, made(client)) for _ in range(2))
    problems(save(client, one["id"], other["versions"][0]["id"], edit("33 nF")), 404)
    problems(save(client, "none", other["versions"][0]["id"], edit("33 nF")), 404)
    problems(save(client, one["id"], "none", edit("33 nF")), 404)


def test_a_second_wiring_joins_a_commission(client: TestClient) -> None:
    commission = made(client)
    new = {"name": "Second", "text": STARTERS["blank"].text()}
    added = client.post(f"/api/commissions/{commission}/wirings", json=new)
    assert added.status_code == 201
    wirings = client.get(f"/api/commissions/{commission}").json()["wirings"]
    assert [one["name"] for one in wirings] == [STARTERS["baritone"].title, "Second"]
    assert wirings[1]["versions"][0]["id"] == added.json()["version_id"]
    problems(client.post("/api/commissions/none/wirings", json=new), 404)
    problems(client.post(f"/api/commissions/{commission}/wirings", json={"name": "x", "text": "y"}), 422)


# --- Hostile texts


@pytest.mark.parametrize("text", KEPT.values(), ids=KEPT)
def test_a_hostile_text_comes_back_unchanged(client: TestClient, text: str) -> None:
    commission = made(client, text, client=text)
    new = {"name": text, "text": STARTERS["blank"].text()}
    assert client.post(f"/api/commissions/{commission}/wirings", json=new).status_code == 201
    found = client.get(f"/api/commissions/{commission}").json()
    assert (found["title"], found["client"], found["wirings"][1]["name"]) == (text, text, text)
    version = found["wirings"][0]["versions"][0]["id"]
    noted = save(client, found["wirings"][0]["id"], version, edit("33 nF"), note=text).json()["id"]
    assert client.get(f"/api/versions/{noted}").json()["note"] == text
    listed = client.get("/api/commissions", params={"search": text.split()[0]})
    assert listed.json()[0]["title"] == text
    assert listed.headers["content-type"] == "application/json"


@pytest.mark.parametrize("text", KEPT.values(), ids=KEPT)
def test_a_hostile_value_is_a_value_or_refused(client: TestClient, text: str) -> None:
    commission = made(client)
    wiring = first_wiring(client, commission)
    label = edit(text, ["labels", "1"])
    answer = save(client, wiring["id"], wiring["versions"][0]["id"], label)
    assert answer.status_code == 201, answer.text
    kept = client.get(f"/api/versions/{answer.json()['id']}").json()["text"]
    assert read_wiring(parse_tree(kept, "x"), "x").labels["1"] == text


@pytest.mark.parametrize("text", REFUSED.values(), ids=REFUSED)
def test_texts_that_are_not_one_line_are_refused(client: TestClient, text: str) -> None:
    problems(client.post("/api/commissions", json={"title": text}), 422)
    commission = made(client)
    problems(client.patch(f"/api/commissions/{commission}", json={"title": text}), 422)
    wiring = {"name": text, "text": STARTERS["blank"].text()}
    problems(client.post(f"/api/commissions/{commission}/wirings", json=wiring), 422)


def test_half_a_character_is_refused_with_its_place(client: TestClient) -> None:
    for body in ('{"title": "\\ud83d"}', '{"title": "x", "\\ud83d": 1}', '{"title": {"\\ud83d": 1}}'):
        headers = {"Content-Type": "application/json"}
        problems(client.post("/api/commissions", content=body, headers=headers), 422)
    assert HALF not in client.get("/api/commissions").text


def test_ids_are_texts_whatever_they_hold(client: TestClient) -> None:
    for text in ("%00", "%2e%2e%2f", "a" * 5000, "%F0%9F%8E%B8", "%ff", "'%20OR%201=1"):
        assert client.get(f"/api/commissions/{text}").status_code == 404
        assert client.get(f"/api/versions/{text}").status_code == 404
