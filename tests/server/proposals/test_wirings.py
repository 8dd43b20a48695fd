"""The wirings of a proposal: alternatives with parts, joints and terms, and what is signed of them."""

from __future__ import annotations

import hashlib
import json
from typing import Any

import pytest
from proposal_case import TAKE, Made, made, today

TERMS = {"name": "Rounder", "price": "195, strings included", "when_ready": "by the end of March"}


@pytest.fixture(scope="module")
def workshop(tmp_path_factory: pytest.TempPathFactory) -> Made:
    return made(tmp_path_factory.mktemp("workshop"))


@pytest.fixture(scope="module")
def rounder(workshop: Made) -> str:
    """Save a version of the wiring with another capacitor, and no other change."""
    wiring = workshop.client.get(f"/api/versions/{workshop.version}").json()["wiring_id"]
    edit = {"path": ["parts", "tone_cap", "capacitance"], "value": "47 nF"}
    body = {"base": workshop.version, "edits": [edit]}
    saved = workshop.client.post(f"/api/wirings/{wiring}/versions", json=body)
    return str(saved.json()["id"])


def two(workshop: Made, rounder: str) -> Made:
    """Propose two wirings: of the first one position twice, with another knob setting."""
    items = [
        {"version": workshop.version, "position": "1"},
        {"version": workshop.version, "position": "1", "knobs": {"tone": 0}, "label": "Neck, tone 0"},
        {"version": rounder, "position": "2"},
    ]
    return workshop.another(items=items, wirings=[{"version": rounder, **TERMS}])


def test_each_wiring_has_its_sounds_its_parts_and_its_terms(workshop: Made, rounder: str) -> None:
    one = two(workshop, rounder)
    first, second = one.offer()["wirings"]
    assert {key: first[key] for key in TERMS} == TERMS
    assert (first["number"], first["sounds"]) == (1, [3])
    assert (second["name"], second["price"], second["sounds"]) == ("Wiring 2", "", [1, 2])
    bought = {tuple(part["names"]): (part["count"], part["text"]) for part in first["bought"]}
    assert bought[("volume", "tone")] == (2, "pot, 500 kΩ, measured audio taper")
    assert bought[("tone cap",)] == (1, "capacitor, 47 nF")
    assert [name for part in first["kept"] for name in part["names"]] == [
        "neck a", "neck b", "bridge a", "bridge b",
    ]  # fmt: skip
    ground = [joint for joint in first["soldered"] if joint["ground"]]
    parts = ["neck b", "bridge b", "volume", "tone cap", "selector", "output"]
    assert ground == [{"parts": parts, "points": 8, "ground": True}]
    assert one.offer()["items"][1]["stands"] == ["tone at 0"]
    assert [wiring["version"] for wiring in one.bench()["wirings"]] == [rounder, workshop.version]


def test_parts_that_are_there_are_not_bought(workshop: Made) -> None:
    one = workshop.another(wirings=[{"version": workshop.version, "kept": ["volume", "output"]}])
    (wiring,) = one.offer()["wirings"]
    assert wiring["name"] == "Your baritone", "a wiring alone has the proposal's name"
    assert [part["names"] for part in wiring["kept"]] == [["volume"], ["output"]]
    bought = [name for part in wiring["bought"] for name in part["names"]]
    assert "tone" in bought
    assert not {"volume", "output"} & set(bought)


@pytest.mark.parametrize(
    ("wirings", "where"),
    [
        ([{"version": "rounder"}], "wirings"),
        ([{"version": "own"}, {"version": "own"}], "wirings"),
        ([{"version": "own", "kept": ["drive"]}], "kept"),
        ([{"version": "own", "price": "a\nb"}], "wirings.0.price"),
    ],
)
def test_a_wiring_that_cannot_be_offered_is_refused(
    workshop: Made, rounder: str, wirings: list[dict[str, Any]], where: str
) -> None:
    ids = {"own": workshop.version, "rounder": rounder}
    body = {
        "title": "A",
        "items": [{"version": workshop.version, "position": "1"}],
        "takes": [TAKE],
        "wirings": [{**one, "version": ids[one["version"]]} for one in wirings],
    }
    answer = workshop.client.post(f"/api/commissions/{workshop.commission}/proposals", json=body)
    assert answer.status_code == 422, answer.text
    assert where in [one["where"] for one in answer.json()["problems"]]


def test_one_wiring_is_signed_for_with_all_of_its_sounds(workshop: Made, rounder: str) -> None:
    one = two(workshop, rounder).render()
    form = {"wiring": 2, "name": "R. Winter", "date": today(), "confirm": True}
    answer = one.client.post(f"{one.link}/signoff", json=form)
    assert answer.status_code == 201, answer.text
    assert [answer.json()[key] for key in ("of", "number", "label")] == ["wiring", 2, "Wiring 2"]
    assert one.client.post(f"{one.link}/signoff", json={**form, "wiring": 1}).status_code == 409
    record = json.loads(one.client.get(f"{one.link}/record").content)
    assert record["format"] == 4
    assert (record["chosen"]["number"], record["chosen"]["sounds"]) == (2, [1, 2])
    text = one.client.get(f"/api/versions/{one.version}").json()["text"]
    assert record["chosen"]["text_sha256"] == hashlib.sha256(text.encode()).hexdigest()
    assert [clip["number"] for clip in record["clips"]] == [1, 2]
    assert {key: record["wirings"][0][key] for key in TERMS} == TERMS
    assert record["offered"][1]["knobs"]["tone"] == 0.0
    assert one.client.get(f"/api/proposals/{one.id}/verify").json() == {"holds": True, "problems": []}
