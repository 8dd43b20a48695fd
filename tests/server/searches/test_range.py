"""The range of sounds as the page requests it: real processes, long polls."""

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
from first_set import answer_poorly_first
from search_requests import SKETCH, asked, demo_versions, followed
from server_client import client_of
from server_process import Running
from tenor import TENOR

from dsp.facts.position import position_facts
from dsp.facts.record import position_record
from dsp.sounds.candidates import find_candidates
from dsp.sounds.rules import SetRules
from server.cli import main
from server.searches.process import run_task
from server.searches.routes import RangeOptions
from server.wirings.text import load_wiring

MAP_ONLY = {
    "index",
    "expression",
    "sound",
    "level_below_loudest_db",
    "clean_level_below_loudest_db",
    "in_phase",
    "x",
    "y",
    "allowed",
}
"""Fields of a sound on the map beyond a position's facts."""
FIFTH = (
    "  fifth: {kind: coil, resistance: 6 kΩ, inductance: 2.6 H, capacitance: 90 pF, at: 105 mm,"
    " sensitivity: 0.05}\n"
)


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    """Open an application on the demo, and close it with all its searches."""
    with client_of(tmp_path_factory.mktemp("range"), demo=True) as one:
        yield one


@pytest.fixture(scope="module")
def versions(client: TestClient) -> dict[str, str]:
    """Return the demo's versions: `rotary` (a switch), `sketch`, and `five`, five uncoupled coils."""
    text = SKETCH.read_text(encoding="utf-8").replace("  bass_cut:", FIFTH + "  bass_cut:")
    text = re.sub(r"couplings:\n(  - .*\n)+", "", text)
    made = client.post("/api/commissions", json={"title": "Five coils", "wiring_text": text}).json()
    five = client.get(f"/api/commissions/{made['id']}").json()["wirings"][0]["versions"][0]["id"]
    return {**demo_versions(client), "five": five}


def test_the_page_and_the_command_find_the_same(client: TestClient, versions: dict[str, str]) -> None:
    options = {"count": 5, "quiet": 3, "in_phase": "all"}
    words = ["range", str(SKETCH), "-n", "5", "--quiet", "3", "--in-phase", "--json"]
    command = json.loads(CliRunner().invoke(main, words, catch_exceptions=False).stdout)
    begun = time.perf_counter()
    task = followed(client, asked(client, "range", versions["sketch"], **options), "set")
    first_s = time.perf_counter() - begun
    while not task["set"]["proved"]:
        task = client.get(f"/api/searches/{task['id']}", params={"after": task["after"]}).json()
    proved_s = time.perf_counter() - begun
    print(f"five of 572 sounds, by request: first set {first_s:.2f} s, proved {proved_s:.2f} s")
    page = followed(client, task, "facts_share")
    rows = page["set"]["rows"]
    assert [row["expression"] for row in rows] == [row["expression"] for row in command["positions"]]
    assert page["set"]["distance_db"] == pytest.approx(command["distance_db"], abs=1e-4)
    assert page["set"]["proved"] is command["proved"] is True
    assert page["sounds"] == command["sounds"] == 572
    others = [{row["expression"] for row in one["rows"]} for one in page["others"]]
    assert others == [set(one["positions"]) for one in command["alternatives"]]
    for mine, theirs in zip(rows, command["positions"], strict=True):
        assert (mine["level_below_loudest_db"], mine["brightness_hz"], mine["meter_ohm"]) == (
            theirs["level_db"],
            theirs["brightness_hz"],
            theirs["meter_ohm"],
        )
        assert mine["clean_level_below_loudest_db"] == theirs["clean_level_db"]
        assert len(mine["words"]) == 1
        assert mine["resonances"][0]["frequency_hz"] == theirs["resonance_hz"] > 500.0
        assert mine["in_phase"] is not theirs["opposed"]
    assert page["set"]["at_s"] < 20.0
    again = asked(client, "range", versions["sketch"], **options)
    assert again["id"] == task["id"]
    assert again["set"] == page["set"], "a repeated search has its result at once"
    client.post(f"/api/searches/{task['id']}/cancel")


def test_the_map_holds_all_sounds_and_its_timbres_give_the_distance(
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
    (facts,) = position_facts(load_wiring(SKETCH), [load_wiring(SKETCH).setting("1")])
    record = position_record(facts, peaks=())
    assert set(found["points"][0]) - set(record) == MAP_ONLY, "the same fact has the same name"
    assert {point["hum_cancelling"] for point in found["points"]} == {True, False}
    assert {point["in_phase"] for point in found["points"]} == {True, False}


def test_no_set_reported_beside_the_best_is_better(monkeypatch: pytest.MonkeyPatch) -> None:
    """A set found without one of the first answer's positions is better: it is reported as the best."""
    best, poor = answer_poorly_first(monkeypatch, find_candidates(load_wiring(SKETCH)), SetRules(3))
    assert poor.distance_db < best.distance_db - 0.05
    monkeypatch.setattr("server.searches.sounds.FACTS_S", 0.0)  # words of all sounds, told afterwards
    best_db: list[float] = []
    beside_db: list[float] = []

    def report(**news: Any) -> None:
        if "set" in news:
            best_db.append(news["set"]["distance_db"])
        beside_db.extend(one["distance_db"] - best_db[-1] for one in news.get("others", ()))

    options = RangeOptions(count=3).model_dump()
    run_task({"kind": "range", "text": SKETCH.read_text(encoding="utf-8"), "options": options}, report)
    assert best_db == sorted(best_db)
    assert (best_db[0], best_db[-1]) == pytest.approx((poor.distance_db, best.distance_db), abs=0.005)
    assert beside_db
    assert max(beside_db) <= 1e-4


def run_range(text: str, **options: Any) -> dict[str, Any]:
    reported: dict[str, Any] = {}
    whole = RangeOptions.model_validate(options).model_dump()
    run_task({"kind": "range", "text": text, "options": whole}, lambda **news: reported.update(news))
    return reported


def test_the_page_and_the_command_tell_the_same_prices(tmp_path: Path) -> None:
    """With a share in phase, levels, an order and a sound at its place by hand."""
    file = tmp_path / "tenor.yaml"
    file.write_text(TENOR, encoding="utf-8")
    page = run_range(
        TENOR,
        profile="useful",
        count=4,
        in_phase="50 %",
        usual=False,
        spread_db=9.0,
        levels="clean",
        order="thick",
        places=[{"position": 4, "expression": "pa + pb"}],
        costs=True,
    )
    words = (
        "--profile useful -n 4 --in-phase-positions 50% --any-connection --spread 9 --levels clean"
        " --order thick --costs"
    )
    done = CliRunner().invoke(
        main, ["range", str(file), *words.split(), "--at", "4=pa + pb", "--json"], catch_exceptions=False
    )
    command = json.loads(done.stdout)
    rows = page["set"]["rows"]
    assert [row["expression"] for row in rows] == [row["expression"] for row in command["positions"]]
    assert rows[3]["expression"] == "pa + pb"
    assert page["costs_share"] == 1.0
    mine = {one["condition"]: one for one in page["costs"]}
    assert set(mine) == {
        "in phase, 2 at least",
        "sounds kept",
        "levels 9 dB apart at most, through clean",
        "neighbours 6 dB apart at most, through clean",
        "all of these",
    }
    for one in command["costs"]:
        price = mine[one["condition"]]
        assert (price["costs_db"], price["proved"]) == (one["costs_db"], True)
        assert [row["expression"] for row in price["without"]["rows"]] == one["positions"]
    assert mine["all of these"]["costs_db"] == max(one["costs_db"] for one in mine.values()) > 1.0


def test_the_useful_profile_keeps_the_plain_sounds_in_phase() -> None:
    rows = {row["expression"]: row for row in run_range(TENOR, profile="useful", count=5)["set"]["rows"]}
    assert list(rows) == ["ns", "pb | ns", "pa | pb | ns", "pa", "pa + pb"]
    assert all(row["in_phase"] for row in rows.values())


def test_a_condition_of_the_profile_gives_way_and_says_so() -> None:
    """Ten usual sounds in phase do not exist; one that was asked for is refused instead."""
    found = run_range(TENOR, profile="useful", count=12)
    assert len(found["set"]["rows"]) == 12
    assert any("searched without that condition" in note for note in found["notes"])
    refused = run_range(TENOR, profile="useful", count=12, in_phase="all", usual=True)
    assert "set" not in refused
    assert refused["problems"]


def test_the_profiles_are_told_to_the_page(client: TestClient) -> None:
    profiles = {one["name"]: one for one in client.get("/api/range/profiles").json()}
    assert profiles["useful"]["in_phase"] == "all"
    assert profiles["useful"]["order"] == "neck"
    assert profiles["widest"]["spread_db"] is None


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
        ({"count": 3, "quiet": "most"}, "hum-cancelling"),
        ({"count": 3, "in_phase": 4}, "in phase"),
        ({"count": 3, "in_phase": "101 %"}, "in phase"),
        ({"count": 3, "places": [{"position": 4, "expression": "neck_a"}]}, "place"),
        ({"window_db": 0.0}, "positions"),
        ({"extra": "no such part"}, "extra"),
        ({"count": 5, "switch": {"name": "blade_3_two_pole"}}, "positions"),
        ({"switch": {"name": "/etc/passwd"}}, "switch"),
        ({"switch": {"name": "own", "table": "lugs: [A"}}, "table:"),
    ],
)
def test_impossible_options_are_reported_by_field(options: dict[str, Any], where: str) -> None:
    reported: dict[str, Any] = {}
    whole = RangeOptions.model_validate(options).model_dump()
    task = {"kind": "range", "text": SKETCH.read_text(encoding="utf-8"), "options": whole}
    run_task(task, lambda **news: reported.update(news))
    assert reported["end"]
    assert reported["problems"][0][0].startswith(where), reported["problems"]
    assert all(reported["problems"][0][:3])
    assert "set" not in reported


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
    assert [row["connection_text"] for row in after] == [row["connection_text"] for row in before]
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


def test_at_the_time_limit_the_best_so_far_stays(client: TestClient, versions: dict[str, str]) -> None:
    task = asked(client, "range", versions["five"], count=9, seconds=0.5)
    page = followed(client, task, "facts_share")
    client.post(f"/api/searches/{task['id']}/cancel")
    assert len(page["set"]["rows"]) == 9
    assert not page["set"]["proved"]
    assert page["set"]["bound_db"] > page["set"]["distance_db"]


def worker_of(client: TestClient, task: dict[str, Any]) -> Any:
    reports = client.app.state.searches.task(task["id"])._reports  # type: ignore[attr-defined]
    assert reports is not None
    return reports


def test_cancelling_ends_a_search_and_keeps_the_results_so_far(
    client: TestClient, versions: dict[str, str]
) -> None:
    task = followed(client, asked(client, "range", versions["sketch"], count=8, quiet=4, seconds=60), "set")
    process = worker_of(client, task)
    assert os.getpriority(os.PRIO_PROCESS, process.pid) >= 10, "the live page comes first"
    client.post(f"/api/searches/{task['id']}/cancel")
    ended = followed(client, {**task, "after": 0, "state": "running"})
    assert ended["state"] == "cancelled"  # one that ignored it would be done after its minute
    assert ended["set"]["rows"]
    assert not is_alive(process.pid)
    assert asked(client, "range", versions["sketch"], count=8, quiet=4, seconds=60)["state"] == "running"
    client.post(f"/api/searches/{task['id']}/cancel")


def test_a_worker_that_dies_is_reported_and_its_results_stay(
    client: TestClient, versions: dict[str, str]
) -> None:
    task = followed(client, asked(client, "range", versions["sketch"], count=7, quiet=5, seconds=60), "set")
    worker_of(client, task).kill()
    ended = followed(client, task)
    assert ended["state"] == "failed"
    assert ended["problems"][0][0] == "the search"
    assert ended["set"]["rows"]
    again = asked(client, "range", versions["sketch"], count=7, quiet=5, seconds=60)
    assert again["state"] == "running", "the search starts again"
    client.post(f"/api/searches/{again['id']}/cancel")


def test_a_result_outlives_the_server(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
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
        assert asked(third, "range", version, **options)["state"] == "running", "a broken result is not used"


@pytest.mark.long
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
    until = time.monotonic() + 30.0  # half its minute
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
