"""The range of sounds and lug charts as the page asks for them: real processes, followed by long poll."""

from __future__ import annotations

import json
import os
import re
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner
from fastapi.testclient import TestClient
from server_client import client_of
from server_started import Running

from dsp.circuit.findings import check
from dsp.circuit.response import respond
from dsp.wiring.reader import read_wiring
from server.api.range import RangeOptions
from server.cli import main
from server.jobs.search.worker import run_task
from server.storage.yaml_text import parse_tree

DEMO = Path(__file__).parents[2] / "demo_audio"
SKETCH = DEMO / "baritone_sketch.yaml"
SAME = 1e-9
"""Responses of the same network written in two ways, as a share of the largest: rounding alone."""
FIFTH = (
    "  fifth: {kind: coil, resistance: 6 kΩ, inductance: 2.6 H, capacitance: 90 pF, at: 105 mm,"
    " sensitivity: 0.05}\n"
)
SOUNDS = ["neck_a + neck_b", "neck_a | neck_b", "neck_b + bridge_a", "bridge_a + bridge_b"]


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    """An application on the demo, closed with all its searches."""
    with client_of(tmp_path_factory.mktemp("range"), demo=True) as one:
        yield one


@pytest.fixture(scope="module")
def versions(client: TestClient) -> dict[str, str]:
    """The demo's versions: `rotary` (a switch), `sketch`, and `five`, a sketch of five coils, uncoupled."""
    rows = client.get("/api/commissions", params={"search": "Baritone"}).json()[0]["wirings"]
    text = SKETCH.read_text(encoding="utf-8").replace("  bass_cut:", FIFTH + "  bass_cut:")
    text = re.sub(r"couplings:\n(  - .*\n)+", "", text)
    made = client.post("/api/commissions", json={"title": "Five coils", "wiring_text": text}).json()
    five = client.get(f"/api/commissions/{made['id']}").json()["wirings"][0]["versions"][0]["id"]
    return {"rotary": rows[0]["version"], "sketch": rows[1]["version"], "five": five}


def asked(client: TestClient, where: str, version: str, edits: Any = (), **options: Any) -> dict[str, Any]:
    """A search started."""
    body = {"draft": {"version": version, "edits": list(edits)}, "options": options}
    answer = client.post(f"/api/{where}", json=body)
    assert answer.status_code == 202, answer.text
    found: dict[str, Any] = answer.json()
    return found


def followed(
    client: TestClient, task: dict[str, Any], key: str = "", within_s: float = 40.0
) -> dict[str, Any]:
    """Its news until something is told, or until its end."""
    until = time.monotonic() + within_s
    while task["state"] == "running" and not (key and key in task):
        assert time.monotonic() < until, task
        task = client.get(f"/api/searches/{task['id']}", params={"after": task["after"]}).json()
    return task


def test_the_page_and_the_command_find_the_same(client: TestClient, versions: dict[str, str]) -> None:
    words = ["range", str(SKETCH), "-n", "5", "--quiet", "3", "--in-phase", "--json"]
    command = json.loads(CliRunner().invoke(main, words, catch_exceptions=False).stdout)
    task = asked(client, "range", versions["sketch"], count=5, quiet=3, opposed=False)
    page = followed(client, followed(client, task, "others"), "facts_share")
    rows = page["set"]["rows"]
    assert [row["expression"] for row in rows] == [row["expression"] for row in command["positions"]]
    assert page["set"]["distance_db"] == pytest.approx(command["distance_db"], abs=1e-4)
    assert page["set"]["proved"] is command["proved"] is True
    assert page["sounds"] == command["sounds"] == 572
    others = [{row["expression"] for row in one["rows"]} for one in page["others"]]
    assert others == [set(one["positions"]) for one in command["alternatives"]]
    for mine, theirs in zip(rows, command["positions"], strict=True):
        assert (mine["level_db"], mine["brightness_hz"], mine["reading_ohm"]) == (
            theirs["level_db"],
            theirs["brightness_hz"],
            theirs["meter_ohm"],
        )
        assert mine["words"]
        assert mine["resonance_hz"] > 500.0
    assert page["set"]["at_s"] < 20.0
    again = asked(client, "range", versions["sketch"], count=5, quiet=3, opposed=False)
    assert again["id"] == task["id"]
    assert again["set"] == page["set"], "asked again it is there at once"
    client.post(f"/api/searches/{task['id']}/cancel")


def test_the_map_is_of_all_sounds_and_its_timbres_tell_the_distance(
    client: TestClient, versions: dict[str, str]
) -> None:
    task = asked(client, "range", versions["sketch"], count=3)
    page = followed(client, task, "facts_share")
    found = client.get(f"/api/searches/{task['id']}/map").json()
    client.post(f"/api/searches/{task['id']}/cancel")
    assert len(found["points"]) == len(found["timbre"]) == found["sounds"] == 572
    rows = page["set"]["rows"]
    first, second = (np.array(found["timbre"][row["index"]]) / 100.0 for row in rows[:2])
    apart = float(np.sqrt(np.mean((first - second) ** 2)))
    assert apart >= page["set"]["distance_db"] - 0.01
    assert min(row["nearest_db"] for row in rows) == pytest.approx(page["set"]["distance_db"], abs=0.01)
    assert {point["quiet"] for point in found["points"]} == {True, False}
    assert {point["opposed"] for point in found["points"]} == {True, False}


@pytest.mark.parametrize(
    ("options", "where"),
    [
        ({"pins": ["neck_a"], "bans": ["neck_a"]}, "pinned"),
        ({"pins": ["neck_a", "neck_a"]}, "pinned"),
        ({"pins": ["neck_a", "neck_b", "bridge_a"], "count": 2}, "pinned"),
        ({"pins": ["neck_c"]}, "pin 'neck_c'"),
        ({"pins": ["neck_a +"]}, "pin 'neck_a +'"),
        ({"coils": ["neck_a", "neck_b"], "count": 7}, "positions"),
        ({"coils": ["neck_a"]}, "coils"),
        ({"coils": ["nowhere", "neck_a"]}, "coils"),
        ({"count": 3, "quiet": 4}, "hum-cancelling"),
        ({"window_db": 0.0}, "positions"),
        ({"extra": "no such part"}, "extra"),
        ({"count": 5, "switch": {"name": "blade_3_two_pole"}}, "positions"),
        ({"switch": {"name": "/etc/passwd"}}, "switch"),
        ({"switch": {"name": "own", "table": "lugs: [A"}}, "table:"),
    ],
)
def test_what_cannot_be_is_told_by_field(options: dict[str, Any], where: str) -> None:
    told: dict[str, Any] = {}
    whole = RangeOptions.model_validate(options).model_dump()
    task = {"kind": "range", "text": SKETCH.read_text(encoding="utf-8"), "options": whole}
    run_task(task, lambda **news: told.update(news))
    assert told["end"]
    assert told["problems"][0][0].startswith(where), told["problems"]
    assert all(told["problems"][0][:3])
    assert "set" not in told


def test_a_switch_in_the_way_and_the_sketch_in_its_place(
    client: TestClient, versions: dict[str, str]
) -> None:
    task = followed(client, asked(client, "range", versions["rotary"], count=3))
    assert task["state"] == "refused"
    assert "selector" in task["problems"][0][0]
    draft = {"version": versions["rotary"], "edits": []}
    edits = client.post("/api/draft/sketch", json={"draft": draft}).json()["edits"]
    before = client.post("/api/draft/facts", json={"draft": draft}).json()["positions"]
    draft = {**draft, "edits": edits}
    after = client.post("/api/draft/facts", json={"draft": draft}).json()["positions"]
    assert [row["joined_text"] for row in after] == [row["joined_text"] for row in before]
    assert [row["label"] for row in after] == [row["label"] for row in before]
    assert followed(client, asked(client, "range", versions["rotary"], edits, count=3), "set")["set"]["rows"]


def test_a_volume_for_each_coil_cannot_become_a_sketch(client: TestClient) -> None:
    text = (
        "format: 1\nparts:\n"
        "  neck: {kind: coil, resistance: 6 kΩ, inductance: 2 H, capacitance: 100 pF}\n"
        "  bridge: {kind: coil, resistance: 6 kΩ, inductance: 2 H, capacitance: 100 pF}\n"
        "  one: {kind: pot, resistance: 500 kΩ}\n  two: {kind: pot, resistance: 500 kΩ}\n"
        "  output: {kind: jack}\njoints:\n  - [neck.start, one.3]\n  - [bridge.start, two.3]\n"
        "  - [one.2, two.2, output.tip]\n  - [neck.finish, bridge.finish, one.1, two.1, output.sleeve]\n"
    )
    made = client.post("/api/commissions", json={"title": "Two volumes", "wiring_text": text}).json()
    version = client.get(f"/api/commissions/{made['id']}").json()["wirings"][0]["versions"][0]["id"]
    answer = client.post("/api/draft/sketch", json={"draft": {"version": version}})
    assert answer.status_code == 422
    assert answer.json()["problems"][0]["got"] == "2 points: one.3; two.3"


def test_the_time_is_up_and_the_best_so_far_stays(client: TestClient, versions: dict[str, str]) -> None:
    task = asked(client, "range", versions["five"], count=9, seconds=0.5)
    page = followed(client, task, "facts_share")
    client.post(f"/api/searches/{task['id']}/cancel")
    assert len(page["set"]["rows"]) == 9
    assert not page["set"]["proved"]
    assert page["set"]["bound_db"] > page["set"]["distance_db"]


def worker_of(client: TestClient, task: dict[str, Any]) -> Any:
    process = client.app.state.searches.task(task["id"])._process  # type: ignore[attr-defined]
    assert process is not None
    return process


def test_cancelling_is_prompt_and_keeps_what_was_found(client: TestClient, versions: dict[str, str]) -> None:
    task = followed(client, asked(client, "range", versions["sketch"], count=8, quiet=4, seconds=60), "set")
    process = worker_of(client, task)
    assert os.getpriority(os.PRIO_PROCESS, process.pid) >= 10, "the live page comes first"
    begun = time.monotonic()
    client.post(f"/api/searches/{task['id']}/cancel")
    ended = followed(client, {**task, "after": 0, "state": "running"})
    assert time.monotonic() - begun < 2.0
    assert ended["state"] == "cancelled"
    assert ended["set"]["rows"]
    assert process.poll() is not None
    assert asked(client, "range", versions["sketch"], count=8, quiet=4, seconds=60)["state"] == "running"
    client.post(f"/api/searches/{task['id']}/cancel")


def test_a_worker_that_dies_is_told_and_what_it_found_stays(
    client: TestClient, versions: dict[str, str]
) -> None:
    task = followed(client, asked(client, "range", versions["sketch"], count=7, quiet=5, seconds=60), "set")
    worker_of(client, task).kill()
    ended = followed(client, task)
    assert ended["state"] == "failed"
    assert ended["problems"][0][0] == "the search"
    assert ended["set"]["rows"]
    again = asked(client, "range", versions["sketch"], count=7, quiet=5, seconds=60)
    assert again["state"] == "running", "it is started again"
    client.post(f"/api/searches/{again['id']}/cancel")


def test_an_answer_outlives_the_server(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PRESOLDER_CACHE", str(tmp_path / "cache"))
    options = {"coils": ["neck_a", "bridge_a"], "count": 3}
    with client_of(tmp_path / "data", demo=True) as one:
        version = one.get("/api/commissions", params={"search": "Baritone"}).json()[0]["wirings"][1][
            "version"
        ]
        first = followed(one, asked(one, "range", version, **options))
        there = one.get(f"/api/searches/{first['id']}/map").json()
    assert first["state"] == "done"
    with client_of(tmp_path / "data", demo=True) as other:
        again = asked(other, "range", version, **options)
        assert (again["state"], again["set"]) == ("done", first["set"])
        assert other.get(f"/api/searches/{again['id']}/map").json() == there
    for kept in (tmp_path / "cache" / "answers").glob("*.json"):
        kept.write_text("{}", encoding="utf-8")
    with client_of(tmp_path / "data", demo=True) as third:
        assert asked(third, "range", version, **options)["state"] == "running", "a broken answer is not used"


def test_a_search_does_not_outlive_a_killed_server(running_server: Running) -> None:
    import httpx2 as httpx

    ours = {"X-Presolder": "1"}
    with httpx.Client(base_url=running_server.url, headers=ours, timeout=30.0) as http:
        rows = http.get("/api/commissions", params={"search": "Baritone"}).json()[0]["wirings"]
        body = {"draft": {"version": rows[1]["version"]}, "options": {"count": 5, "seconds": 60}}
        task = http.post("/api/range", json=body).json()
        while "set" not in task:
            task = http.get(f"/api/searches/{task['id']}", params={"after": task["after"]}).json()
    assert running_server.process is not None
    workers = children_of(running_server.process.pid)
    assert workers
    running_server.kill()
    until = time.monotonic() + 5.0
    while any(is_alive(pid) for pid in workers):
        assert time.monotonic() < until, "a search goes on without its server"
        time.sleep(0.05)


def children_of(pid: int) -> list[int]:
    found = []
    for stat in Path("/proc").glob("[0-9]*/stat"):
        try:
            fields = stat.read_text().rpartition(")")[2].split()
        except OSError:
            continue
        if int(fields[1]) == pid:
            found.append(int(stat.parent.name))
    return found


def is_alive(pid: int) -> bool:
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


def test_too_many_searches_are_refused(client: TestClient, versions: dict[str, str]) -> None:
    tasks, refused = [], None
    for n in range(12):
        body = {
            "draft": {"version": versions["five"]},
            "options": {"count": 6, "thinnest": 0.001 * n, "seconds": 60},
        }
        answer = client.post("/api/range", json=body)
        if answer.status_code != 202:
            refused = answer
            break
        tasks.append(answer.json())
    for task in tasks:
        client.post(f"/api/searches/{task['id']}/cancel")
    assert refused is not None
    assert refused.status_code == 429
    for task in tasks:
        assert followed(client, {**task, "after": 0})["state"] == "cancelled"


# --- lug charts


def chart(client: TestClient, version: str, **options: Any) -> dict[str, Any]:
    return followed(client, asked(client, "charts", version, **{"seconds": 4, "sounds": SOUNDS, **options}))


def test_a_chart_becomes_a_wiring_that_sounds_like_its_sketch(
    client: TestClient, versions: dict[str, str]
) -> None:
    done = chart(client, versions["sketch"], switch={"name": "blade_5_four_pole"}, order="fixed")
    assert done["state"] == "done"
    told = done["chart"]
    assert told["final"]
    assert [row["sound"] for row in told["rows"]][:4] == SOUNDS
    assert len(told["checks"]) == 3
    assert [step["number"] for step in told["steps"]] == list(range(1, len(told["steps"]) + 1))
    assert told["transit"]
    assert any("flux" in line for line in told["cautions"])
    assert any("mains" in line for line in told["cautions"])
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
    from dsp.search.together import sketched

    wanted = sketched(sketch, SOUNDS)
    hz = np.geomspace(40.0, 15e3, 60)
    for position in "1234":
        mine = respond(wiring, [wiring.setting(position)], hz).coil
        theirs = respond(wanted, [wanted.setting(position)], hz).coil
        turned = "polarity" in told["rows"][int(position) - 1]["note"]
        assert np.abs(mine - (-theirs if turned else theirs)).max() < SAME * np.abs(theirs).max()


@pytest.mark.long
def test_no_chart_and_the_reason(client: TestClient, versions: dict[str, str]) -> None:
    done = chart(client, versions["sketch"], switch={"name": "blade_5_two_pole"}, seconds=2)
    assert done["state"] == "done"
    assert "chart" not in done
    assert done["impossible"]
    assert any("cannot be wired" in line for line in done["reason"])
    assert done["left_out"]
    assert set(done["nearest"].values()) | set(done["left_out"]) == {1, 2, 3, 4}
    assert client.get(f"/api/searches/{done['id']}/drawing.svg").status_code == 404


@pytest.mark.long
def test_a_switch_of_ones_own(client: TestClient, versions: dict[str, str]) -> None:
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


def test_the_switches_there_are(client: TestClient) -> None:
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


# --- a knob's travel


def travel(client: TestClient, version: str, knob: str, capacitor: str = "") -> dict[str, Any]:
    body = {"draft": {"version": version}, "setting": {"position": "1"}, "knob": knob, "capacitor": capacitor}
    answer = client.post("/api/travels", json=body)
    assert answer.status_code == 202, answer.text
    return followed(client, answer.json())


def test_a_knobs_travel_is_the_commands(client: TestClient, versions: dict[str, str]) -> None:
    words = ["travel", str(SKETCH), "--position", "1", "--knob", "tone", "--capacitor", "tone_cap", "--json"]
    (command,) = json.loads(CliRunner().invoke(main, words, catch_exceptions=False).stdout)["travels"]
    page = travel(client, versions["sketch"], "tone", "tone_cap")
    assert page["travel"]["step_db"] == command["step_db"]
    assert page["advice"][0]["evenness"] == command["advice"][0]["evenness"] > page["travel"]["evenness"]
    draft = {"version": versions["sketch"], "edits": page["advice"][0]["edits"]}
    assert client.post("/api/draft/check", json={"draft": draft}).json()["ok"]


def test_bypass_parts_are_edits_to_try(client: TestClient, versions: dict[str, str]) -> None:
    page = travel(client, versions["sketch"], "volume")
    assert page["volume"]
    assert page["treble_lost_db"] > 1.0
    assert [one["level_evenness"] for one in page["advice"]] == sorted(
        (one["level_evenness"] for one in page["advice"]), reverse=True
    )
    for one in page["bypass"]:
        draft = {"version": versions["sketch"], "edits": one["edits"]}
        found = client.post("/api/draft/check", json={"draft": draft}).json()
        assert found["ok"], found["problems"]
        assert {"bypass_cap"} <= {part["name"] for part in found["parts"]}


def test_a_knob_that_is_not_there(client: TestClient, versions: dict[str, str]) -> None:
    done = travel(client, versions["sketch"], "ton")
    assert done["problems"][0][:2] == ["knob", "'ton'"]
    done = travel(client, versions["sketch"], "tone", "volume")
    assert done["problems"][0][0] == "capacitor"
