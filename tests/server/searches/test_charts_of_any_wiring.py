"""Charts of wired switches, of a file's text and of two switches, and the switches offered instead."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from fastapi.testclient import TestClient
from places import DEMO
from search_requests import demo_versions, followed
from server_client import client_of

from server.wirings.text import WiringText

TWO = """\
format: 1
name: Two coils
parts:
  neck: {kind: coil, like: narrow_single_medium, at: 160 mm}
  bridge: {kind: coil, like: narrow_single_medium, at: 45 mm, winding: reverse, magnet: south}
  volume: {kind: pot, resistance: 250 kΩ, taper: audio}
  selector: {kind: sketch, positions: {1: neck, 2: neck | bridge, 3: bridge, 4: neck + bridge}}
  output: {kind: jack}
joints:
  - [selector.hot, volume.3]
  - [volume.2, output.tip]
  - [selector.cold, volume.1, output.sleeve]
"""


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    with client_of(tmp_path_factory.mktemp("any"), demo=True) as one:
        yield one


def charted(client: TestClient, body: dict[str, Any], **options: Any) -> dict[str, Any]:
    answer = client.post("/api/charts", json={**body, "options": {"seconds": 5, **options}})
    assert answer.status_code == 202, answer.text
    return followed(client, answer.json(), within_s=60.0)


@pytest.mark.long
def test_a_wired_switch_is_charted_for_another_one(client: TestClient) -> None:
    version = demo_versions(client)["rotary"]
    body = {"draft": {"version": version, "edits": []}}
    done = charted(client, body, switch={"name": "rotary_6_four_pole"}, order="fixed")
    before = WiringText((DEMO / "baritone.yaml").read_text(encoding="utf-8"), "baritone").wiring()
    rows = done["chart"]["rows"]
    assert [row["label"] for row in rows] == list(before.labels.values())
    assert "neck_a + neck_b" in rows[1]["sound"]


def test_a_text_is_charted_on_two_switches_with_a_shaft(client: TestClient) -> None:
    switches = {"switch": {"name": "toggle_on_on"}, "second": {"name": "push_pull"}, "shaft": "volume"}
    done = charted(client, {"text": TWO}, order="fixed", **switches)
    made = done["chart"]
    assert [(row["position"], row["sound"]) for row in made["rows"]] == [
        ("1+down", "neck"), ("1+up", "neck | bridge"), ("2+down", "bridge"), ("2+up", "neck + bridge"),
    ]  # fmt: skip
    assert made["switch"] == "toggle_on_on x push_pull"
    assert made["selector"] == "selector and push_pull"
    wiring = WiringText(client.get(f"/api/searches/{done['id']}/wiring.yaml").text, "charted").wiring()
    assert wiring.ganged["push_pull"] == "volume"


@pytest.mark.long
def test_what_would_do_is_named_with_the_reason(client: TestClient) -> None:
    done = charted(client, {"text": TWO}, order="fixed", switch={"name": "rotary_12_one_pole", "stop": 4})
    assert done["impossible"]
    assert done["remedies"]
    for remedy in done["remedies"]:
        again = charted(client, {"text": TWO}, order=remedy["order"], switch={"name": remedy["switch"]})
        assert again["chart"], remedy


def test_wired_switches_are_shown_with_the_sounds_to_wire_anew(client: TestClient) -> None:
    versions = demo_versions(client)
    found = {
        name: client.post("/api/draft/switches", json={"draft": {"version": version, "edits": []}}).json()
        for name, version in versions.items()
    }
    rotary = found["rotary"]
    assert rotary["switches"][0]["about"] == "Six-way rotary, four poles on two wafers"
    assert rotary["sounds"]["3"] == "neck_a | bridge_b"
    assert rotary["why"] == ""
    assert found["sketch"] == {"switches": [], "sounds": {}, "why": ""}
    assert [one["selects"] for one in found["twelve"]["switches"]] == [True, False]


def test_a_sketched_position_has_its_network_on_the_bench(client: TestClient) -> None:
    draft = {"version": demo_versions(client)["sketch"], "edits": []}
    parts = client.post("/api/draft/check", json={"draft": draft}).json()["parts"]
    items = next(one for one in parts if one["name"] == "selector")["lists"][0]["items"]
    assert items[1]["network"]["kind"] == "series"
    last = items[5]["network"]["members"]
    assert [one["kind"] for one in last] == ["capacitor", "parallel"]


@pytest.mark.parametrize("body", [{}, {"text": TWO, "draft": {"version": "x", "edits": []}}])
def test_neither_or_both_is_refused(client: TestClient, body: dict[str, Any]) -> None:
    answer = client.post("/api/charts", json={**body, "options": {"switch": {"name": "toggle_on_on"}}})
    assert answer.status_code == 422
    assert "a draft, or a wiring file's text" in answer.text


def test_a_pickup_with_its_own_volume_comes_out_in_plain_joints(client: TestClient) -> None:
    words = {
        "answers": {"neck": "single", "bridge": "single", "volumes": "each"},
        "switch": "toggle_3_selector",
    }
    text = client.post("/api/words", json=words).json()["text"]
    assert "neck_side: {kind: group}" in text
    done = charted(client, {"text": text}, order="fixed", switch={"name": "toggle_3_selector"})
    charted_text = client.get(f"/api/searches/{done['id']}/wiring.yaml").text
    assert "group" not in charted_text
    wiring = WiringText(charted_text, "charted").wiring()
    joints = [{".".join(one) for one in joint.terminals} for joint in wiring.joints]
    assert {"neck_volume.3", "selector.A1"} in joints
    ground = next(joint for joint in joints if "output.sleeve" in joint)
    assert ground == {"neck.finish", "bridge.finish", "neck_volume.1", "bridge_volume.1", "tone_cap.b"} | {
        "output.sleeve"
    }
