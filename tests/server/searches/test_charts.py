"""Lug charts and a knob's travel as the page requests them: real processes, long polls."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner
from fastapi.testclient import TestClient
from search_requests import SKETCH, asked, demo_versions, followed
from server_client import client_of

from dsp.circuit.response import respond
from dsp.facts.findings.check import check
from dsp.lugs.best_set import sketch_of
from dsp.units import show
from dsp.wiring.reading.wiring import read_wiring
from server.cli import main
from server.files.yaml_text import parse_tree
from server.searches import knobs as travel_search
from server.searches.lugs import difference_text
from server.wirings.text import WiringText

SAME = 1e-9
"""Share of the largest response: one network written in two ways differs by rounding alone."""
SOUNDS = ["neck_a + neck_b", "neck_a | neck_b", "neck_b + bridge_a", "bridge_a + bridge_b"]


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    """Open an application on the demo, and close it with all its searches."""
    with client_of(tmp_path_factory.mktemp("charts"), demo=True) as one:
        yield one


@pytest.fixture(scope="module")
def versions(client: TestClient) -> dict[str, str]:
    """Return the demo's versions: `rotary` (a switch) and `sketch`."""
    return demo_versions(client)


def chart(client: TestClient, version: str, **options: Any) -> dict[str, Any]:
    return followed(client, asked(client, "charts", version, **{"seconds": 4, "sounds": SOUNDS, **options}))


@pytest.mark.parametrize(
    "wiring",
    [*(pytest.param(name, marks=pytest.mark.long) for name in ("sketch", "rotary")), "twelve"],
)
def test_range_bench_and_chart_read_the_same_ohms(
    client: TestClient, versions: dict[str, str], wiring: str
) -> None:
    draft = {"version": versions[wiring], "edits": []}
    draft["edits"] = client.post("/api/draft/sketch", json={"draft": draft}).json()["edits"]
    # usual connections, so that four poles do
    task = followed(client, asked(client, "range", **draft, count=3, usual=True, plain=True), "set")
    client.post(f"/api/searches/{task['id']}/cancel")
    rows = task["set"]["rows"]
    sounds = [row["expression"] for row in rows]
    positions = ", ".join(f'{n}: "{sound}"' for n, sound in enumerate(sounds, 1))
    placed = {"path": ["parts", "selector", "positions"], "value": f"{{{positions}}}"}
    unlabelled = {"path": ["labels"], "value": "{}"}
    body = {"draft": {**draft, "edits": [*draft["edits"], placed, unlabelled]}}
    bench = client.post("/api/draft/facts", json=body).json()["positions"]
    assert [row["meter_ohm"] for row in rows] == pytest.approx([one["meter_ohm"] for one in bench], abs=0.06)
    options = {"sounds": sounds, "switch": {"name": "blade_5_four_pole"}, "order": "fixed", "seconds": 4}
    made = followed(client, asked(client, "charts", **draft, **options))["chart"]
    readings = [row["reading"] for row in made["rows"]][:3]
    assert readings == [show(row["meter_ohm"], "resistance") for row in rows]


def test_labels_and_order_travel_with_the_sounds_into_the_chart(
    client: TestClient, versions: dict[str, str]
) -> None:
    sounds = ["bridge_a + bridge_b", "neck_a + neck_b", "(neck_a + neck_b) | bridge_a"]
    labels = ["The edge", "Warm: whole", ""]
    options = {"switch": {"name": "blade_3_two_pole"}, "order": "fixed", "sounds": sounds, "labels": labels}
    done = chart(client, versions["sketch"], **options, shorted=False)
    result = done["chart"]
    assert [row["sound"] for row in result["rows"]] == sounds, "brackets and order as the range has them"
    assert [row["label"] for row in result["rows"]] == labels
    text = client.get(f"/api/searches/{done['id']}/wiring.yaml").text
    wiring = read_wiring(parse_tree(text, "charted"), "charted")
    assert wiring.labels == {"1": "The edge", "2": "Warm: whole", "3": sounds[2]}
    assert "The edge" in client.get(f"/api/searches/{done['id']}/chart.txt").text


def test_the_page_knows_which_candidate_a_sketched_position_is(
    client: TestClient, versions: dict[str, str]
) -> None:
    version = versions["sketch"]
    edits = [{"path": ["parts", "selector", "positions", "1"], "value": "-neck_b + -neck_a"}]
    draft = {"version": version, "edits": edits}
    positions = client.post("/api/draft/check", json={"draft": draft}).json()["positions"]
    task = followed(client, asked(client, "range", version, count=3), "facts_share")
    points = {
        one["sound"]: one["expression"]
        for one in client.get(f"/api/searches/{task['id']}/map").json()["points"]
    }
    client.post(f"/api/searches/{task['id']}/cancel")
    assert len(points) == 572
    assert points[positions[0]["sound"]] == "neck_a + neck_b"


def test_a_chart_becomes_a_wiring_that_sounds_like_its_sketch(
    client: TestClient, versions: dict[str, str]
) -> None:
    done = chart(client, versions["sketch"], switch={"name": "blade_5_four_pole"}, order="fixed")
    assert done["state"] == "done"
    result = done["chart"]
    assert result["final"]
    assert [row["sound"] for row in result["rows"]][:4] == SOUNDS
    assert len(result["checks"]) == 3
    assert [step["number"] for step in result["steps"]] == list(range(1, len(result["steps"]) + 1))
    assert result["transit"]
    assert any("flux" in line for line in result["cautions"])
    assert any("mains" in line for line in result["cautions"])
    drawing = client.get(f"/api/searches/{done['id']}/drawing.svg")
    assert drawing.headers["content-type"] == "image/svg+xml"
    assert drawing.text.startswith("<svg")
    assert "IN SOLDERING ORDER" in client.get(f"/api/searches/{done['id']}/chart.txt").text
    text = client.get(f"/api/searches/{done['id']}/wiring.yaml").text
    wiring = read_wiring(parse_tree(text, "charted"), "charted")
    assert not [one for one in check(wiring) if one.severity == "error"]

    commission = client.post("/api/commissions", json={"title": "Kept", "starter": "six_sounds"}).json()["id"]
    kept = client.post(
        f"/api/searches/{done['id']}/keep", json={"commission": commission, "name": "On a blade"}
    )
    assert kept.status_code == 201
    assert client.get(f"/api/versions/{kept.json()['version_id']}").json()["text"] == text
    rows = client.get(f"/api/commissions/{commission}").json()["wirings"]
    assert [row["name"] for row in rows] == ["Six sounds sketched", "On a blade"]
    base = rows[0]["versions"][-1]["id"]
    where = {"wiring": rows[0]["id"], "base": base, "note": "its switch"}
    saved = client.post(f"/api/searches/{done['id']}/keep", json=where)
    assert saved.status_code == 201
    assert client.get(f"/api/versions/{saved.json()['version_id']}").json()["number"] == 2
    late = client.post(f"/api/searches/{done['id']}/keep", json=where)
    assert late.status_code == 409
    assert client.post(f"/api/searches/{done['id']}/keep", json={}).status_code == 422

    sketch = read_wiring(parse_tree(SKETCH.read_text(encoding="utf-8"), "sketch"), "sketch")
    wanted = sketch_of(sketch, SOUNDS)
    hz = np.geomspace(40.0, 15e3, 60)
    for position in "1234":
        mine = respond(wiring, [wiring.setting(position)], hz).coil
        theirs = respond(wanted, [wanted.setting(position)], hz).coil
        turned = "polarity" in result["rows"][int(position) - 1]["note"]
        assert np.abs(mine - (-theirs if turned else theirs)).max() < SAME * np.abs(theirs).max()


@pytest.mark.long
def test_an_impossible_chart_has_its_reason(client: TestClient, versions: dict[str, str]) -> None:
    done = chart(client, versions["sketch"], switch={"name": "blade_5_two_pole"}, seconds=30)
    assert done["state"] == "done"
    assert "chart" not in done
    assert done["impossible"]
    assert any("cannot be wired" in line for line in done["reason"]), done["reason"]
    assert done["left_out"]
    assert set(done["nearest"].values()) | set(done["left_out"]) == {1, 2, 3, 4}
    assert client.get(f"/api/searches/{done['id']}/drawing.svg").status_code == 404


@pytest.mark.long
def test_a_custom_switch(client: TestClient, versions: dict[str, str]) -> None:
    table = "lugs: [A0, A1, A2]\ncontacts: {1: [[A0, A1]], 2: [[A0, A2]]}\n"
    own = {"name": "own", "table": table}
    done = chart(client, versions["sketch"], sounds=["neck_a", "bridge_a"], switch=own)
    assert done["chart"]["poles"] == 1
    assert done["chart"]["poles_proved"]
    joined = {"name": "own", "table": "lugs: [A, B]\ncontacts: {1: [[A, B]], 2: [[A, B]]}\n"}
    done = chart(client, versions["sketch"], sounds=["neck_a", "bridge_a"], switch=joined)
    assert any("joins the same lugs in every position" in line for line in done["reason"])


def test_more_sounds_than_positions(client: TestClient, versions: dict[str, str]) -> None:
    done = chart(client, versions["sketch"], switch={"name": "toggle_on_on"})
    assert done["state"] == "refused"
    assert done["problems"][0][:2] == ["positions", "4 sounds"]


def test_the_list_of_switches(client: TestClient) -> None:
    found = {one["name"]: one for one in client.get("/api/switches").json()}
    assert found["rotary_6_four_pole"]["positions"] == 6
    assert found["rotary_6_four_pole"]["poles"] == 4


@pytest.mark.long
def test_the_best_on_a_switch_can_be_wired_on_it(client: TestClient, versions: dict[str, str]) -> None:
    switch = {"name": "rotary_3_four_pole"}
    done = followed(
        client, asked(client, "range", versions["sketch"], count=3, switch=switch, seconds=20), "set"
    )
    sounds = [row["expression"] for row in done["set"]["rows"]]
    assert done["set"]["distance_db"] <= done["anywhere_db"] + 0.01
    client.post(f"/api/searches/{done['id']}/cancel")
    assert chart(client, versions["sketch"], sounds=sounds, switch=switch)["chart"]["final"]


# --- a sketch beside the selector

FAT = "{kind: sketch, positions: {1: drain, 2: fat_cap}}"


def with_another_sketch(version: str, positions: str = FAT) -> dict[str, Any]:
    """The demo's sketch, and a second one beside it at the output."""
    parts = {
        "fat": positions,
        "drain": "{kind: resistor, resistance: 1 MΩ}",
        "fat_cap": "{kind: capacitor, capacitance: 2.2 nF}",
    }
    edits = [{"path": ["parts", name], "value": value} for name, value in parts.items()]
    joints = (
        "[[selector.hot, volume.3, tone.2], [tone.1, tone_cap.a], [volume.2, fat.hot, output.tip],"
        " [selector.cold, volume.1, tone_cap.b, fat.cold, output.sleeve]]"
    )
    return {"version": version, "edits": [*edits, {"path": ["joints"], "value": joints}]}


def test_a_second_sketch_is_charted_and_the_first_stays(client: TestClient, versions: dict[str, str]) -> None:
    draft = with_another_sketch(versions["sketch"])
    options = {"sketch": "fat", "switch": {"name": "toggle_on_on"}, "seconds": 4, "order": "fixed"}
    task = followed(client, client.post("/api/charts", json={"draft": draft, "options": options}).json())
    made = task["chart"]
    assert made["selector"] == "fat"
    assert [row["sound"] for row in made["rows"]] == ["drain", "fat_cap"]
    assert made["poles_proved"]
    assert "the rest of the wiring alone" in " ".join(made["transit"])
    assert "no coil is heard" not in " ".join(made["transit"])
    text = client.get(f"/api/searches/{task['id']}/wiring.yaml").text
    charted = read_wiring(parse_tree(text, "charted.yaml"), "charted.yaml")
    assert list(charted.sketches) == ["selector"]
    assert charted.stands == {"fat": ("1", "2")}
    before = read_wiring(parse_tree(SKETCH.read_text(encoding="utf-8"), "sketch.yaml"), "sketch.yaml")
    assert (charted.labels, charted.positions) == (before.labels, before.positions)


def test_its_own_sounds_are_part_of_the_question(client: TestClient, versions: dict[str, str]) -> None:
    options = {"sketch": "fat", "switch": {"name": "toggle_on_on"}, "seconds": 4}
    ids = []
    for positions in (FAT, FAT.replace("2: fat_cap", "2: fat_cap + drain")):
        draft = with_another_sketch(versions["sketch"], positions)
        ids.append(client.post("/api/charts", json={"draft": draft, "options": options}).json()["id"])
        client.post(f"/api/searches/{ids[-1]}/cancel")
    assert ids[0] != ids[1]


@pytest.mark.parametrize(("name", "words"), [("fatt", "'fatt'"), ("volume", "selector, fat")])
def test_a_sketch_that_is_not_there(
    client: TestClient, versions: dict[str, str], name: str, words: str
) -> None:
    draft = with_another_sketch(versions["sketch"])
    options = {"sketch": name, "switch": {"name": "toggle_on_on"}}
    task = followed(client, client.post("/api/charts", json={"draft": draft, "options": options}).json())
    assert task["state"] == "refused"
    assert words in str(task["problems"])


# --- a knob's travel


def travel(client: TestClient, version: str, knob: str, capacitor: str = "") -> dict[str, Any]:
    body = {"draft": {"version": version}, "setting": {"position": "1"}, "knob": knob, "capacitor": capacitor}
    answer = client.post("/api/travels", json=body)
    assert answer.status_code == 202, answer.text
    return followed(client, answer.json())


@pytest.mark.long
def test_a_knobs_travel_equals_the_commands(client: TestClient, versions: dict[str, str]) -> None:
    words = ["travel", str(SKETCH), "--position", "1", "--knob", "tone", "--capacitor", "tone_cap", "--json"]
    (command,) = json.loads(CliRunner().invoke(main, words, catch_exceptions=False).stdout)["travels"]
    page = travel(client, versions["sketch"], "tone", "tone_cap")
    assert page["travel"]["step_db"] == command["step_db"]
    assert page["advice"][0]["evenness"] == command["advice"][0]["evenness"] > page["travel"]["evenness"]
    draft = {"version": versions["sketch"], "edits": page["advice"][0]["edits"]}
    assert client.post("/api/draft/check", json={"draft": draft}).json()["ok"]


@pytest.mark.long
def test_networks_for_a_tone_knob_are_edits_to_try(client: TestClient, versions: dict[str, str]) -> None:
    words = ["travel", str(SKETCH), "--position", "1", "--knob", "tone", "--json"]
    (command,) = json.loads(CliRunner().invoke(main, words, catch_exceptions=False).stdout)["travels"]
    page = travel(client, versions["sketch"], "tone")
    assert [one["network"] for one in page["networks"]] == [one["network"] for one in command["networks"]]
    assert "bypass" not in page
    choked = next(one for one in page["networks"] if any("choke" in edit["path"][1] for edit in one["edits"]))
    draft = {"version": versions["sketch"], "edits": choked["edits"]}
    assert client.post("/api/draft/check", json={"draft": draft}).json()["ok"]
    body = {"draft": draft, "setting": {"position": "1"}, "knob": "tone"}
    tried = followed(client, client.post("/api/travels", json=body).json())
    assert tried["travel"]["width_db"] == pytest.approx(choked["width_db"], abs=0.01)
    assert tried["travel"]["evenness"] == pytest.approx(choked["evenness"], abs=0.002)


@pytest.mark.long
def test_a_midpoint_goes_with_the_taper_it_belonged_to() -> None:
    """A pot with more than a name for its taper: every reported edit can be made."""
    text = SKETCH.read_text(encoding="utf-8")
    own = "tone: {kind: pot, resistance: 500 kΩ, taper: audio, midpoint: 15 %}"
    text = text.replace("tone: {kind: pot, resistance: 500 kΩ, taper: measured audio}", own)
    assert own in text
    reported: dict[str, Any] = {}
    asked = {"position": "1", "knobs": {}, "switches": {}, "knob": "tone", "capacitor": "tone_cap"}
    travel_search.run(text, asked, lambda **news: reported.update(news))
    edits = [one["edits"] for one in (*reported["advice"], *reported["networks"])]
    assert [one for one in edits if {"path": ["parts", "tone", "midpoint"], "value": None} in one]
    for one in edits:
        edited = WiringText(text, "wiring")
        edited.change([(edit["path"], edit["value"]) for edit in one])
        assert edited.wiring().pots["tone"].resistance_ohm > 0.0


@pytest.mark.long
def test_bypass_parts_are_edits_to_try(client: TestClient, versions: dict[str, str]) -> None:
    page = travel(client, versions["sketch"], "volume")
    assert page["volume"]
    assert page["treble_lost_db"] > 1.0
    assert [one["level_evenness"] for one in page["advice"]] == sorted(
        (one["level_evenness"] for one in page["advice"]), reverse=True
    )
    assert len(page["bypass"]) == 5
    for one in page["bypass"][:2]:
        draft = {"version": versions["sketch"], "edits": one["edits"]}
        found = client.post("/api/draft/check", json={"draft": draft}).json()
        assert found["ok"], found["problems"]
        body = {"draft": draft, "setting": {"position": "1"}, "knob": "volume"}
        tried = followed(client, client.post("/api/travels", json=body).json())
        assert tried["wander_db"] == pytest.approx(one["wander_db"], abs=0.01), (
            "the edit does what it promises"
        )
        assert {"bypass_cap"} <= {part["name"] for part in found["parts"]}


def test_an_unknown_knob(client: TestClient, versions: dict[str, str]) -> None:
    done = travel(client, versions["sketch"], "ton")
    assert done["problems"][0][:2] == ["knob", "'ton'"]
    done = travel(client, versions["sketch"], "tone", "volume")
    assert done["problems"][0][0] == "capacitor"


def test_no_difference_is_said_in_words() -> None:
    assert difference_text(0.0) == "the same to the last digit"
    assert difference_text(3.2e-13) == "the same within 3e-13 of their size"
