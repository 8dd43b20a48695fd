"""Strings plucked in several positions: kept, replaced, brought back, compared, taken into the wiring."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from fastapi.testclient import TestClient
from plucked_guitar import Player, Truth, with_strings
from server_client import KEY, client_of
from strummed import RATE_HZ

from dsp.errors import InputError
from dsp.wiring.reading.wiring import read_wiring
from server.database.store import Store
from server.files.yaml_text import parse_tree
from server.verifying import sensitivity_routes as routes
from server.verifying import sensitivity_store as kept
from server.verifying.intake import _read
from server.verifying.sensitivity_work import Finder, Pluck, basis_of, find_sensitivities_of, values_of
from server.verifying.store import Taken
from server.verifying.work import Sound
from server.wirings.text import WiringText

TAKEN = Taken(11.0, 5, 0.5, -21.5, b"fLaC and so on")
RESULT = {"reference": "neck", "coils": [], "basis": "b"}
STARTER = "two_singles"


class Bench:
    """A commission with two coils, and requests about its plucked strings."""

    def __init__(self, client: TestClient) -> None:
        self.client = client
        made = client.post("/api/commissions", json={"title": "Plucked", "starter": STARTER}).json()
        self.commission = made["id"]
        row = client.get(f"/api/commissions/{made['id']}").json()["wirings"][0]
        self.wiring, self.version = row["id"], row["versions"][-1]["id"]
        self.draft = {"version": self.version, "edits": []}

    def ask(self, method: str, rest: str = "", status: int = 200, **more: Any) -> Any:
        params = {"wiring": self.wiring, **more.pop("params", {})}
        answer = self.client.request(method, f"/api/sensitivity{rest}", params=params, **more)
        assert answer.status_code == status, answer.text
        return answer.json()

    def plan(self) -> Any:
        answer = self.client.post("/api/sensitivity/plan", json={"draft": self.draft})
        assert answer.status_code == 200, answer.text
        return answer.json()

    def bring(self, setting: str, string: int, name: str = "a.wav", content: bytes = b"a recording") -> Any:
        params = {"setting": setting, "string": string, "name": name}
        return self.ask("POST", "/recordings", params=params, content=content)

    def find(self, status: int = 200) -> Any:
        return self.ask("POST", "/find", status, json={"draft": self.draft})


@pytest.fixture(scope="module")
def data(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("data")


@pytest.fixture(scope="module")
def client(data: Path) -> Iterator[TestClient]:
    with client_of(data) as found:
        yield found


@pytest.fixture
def bench(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> Bench:
    """Decoder and helper have tests of their own, and take seconds to start."""
    monkeypatch.setattr(routes, "take_recording", lambda content, folder: TAKEN)
    monkeypatch.setattr(Finder, "find", lambda self, text, plucks, fields, day: RESULT)
    return Bench(client)


def names(found: Any) -> dict[tuple[str, int], str]:
    return {(one["setting"], one["string"]): one["name"] for one in found["recordings"]}


def test_the_plan_says_what_to_heed_pluck_and_where(bench: Bench) -> None:
    plan = bench.plan()
    assert any("licensed technician" in one for one in plan["cautions"])
    assert [one["setting"] for one in plan["settings"]] == ["1", "2", "3"]
    assert [one["string"] for one in plan["strings"]] == [6, 5, 4, 3, 2, 1]
    assert plan["advised"] == [6, 3, 1]
    assert set(plan["coils"]) == {"neck", "bridge"}
    assert "finger" in plan["hands"]


def test_recordings_are_kept_replaced_thrown_away_and_brought_back(bench: Bench) -> None:
    bench.bring("1", 6, "first.wav")
    assert bench.bring("2", 6, "second.wav", bytes(2 << 20))["removed"] is None  # more than a MB
    replaced = bench.bring("1", 6, "again.wav")
    assert names(replaced) == {("1", 6): "again.wav", ("2", 6): "second.wav"}
    assert replaced["removed"]["name"] == "first.wav"
    dropped = bench.ask("DELETE", "/recordings", params={"setting": "2", "string": 6})
    assert names(dropped) == {("1", 6): "again.wav"}
    assert dropped["removed"]["name"] == "second.wav"
    back = bench.ask("POST", f"/recordings/{dropped['removed']['id']}/restore")
    assert names(back) == {("1", 6): "again.wav", ("2", 6): "second.wav"}
    old = bench.ask("POST", f"/recordings/{replaced['removed']['id']}/restore")
    assert names(old)["1", 6] == "first.wav"
    assert old["removed"]["name"] == "again.wav"
    _, sounds = kept.get_with_sounds(bench.client.app.state.store, bench.wiring)  # type: ignore[attr-defined]
    assert list(sounds.values()) == [TAKEN.sound] * 2


def test_what_was_thrown_away_long_ago_is_gone(bench: Bench) -> None:
    first = None
    for k in range(kept.MOST_REMOVED + 2):
        first = first or bench.bring("1", 6, f"{k}.wav")["recordings"][0]["id"]
        bench.bring("1", 6, f"{k}.wav")
    refused = bench.ask("POST", f"/recordings/{first}/restore", 404)
    assert "gone for good" in str(refused)
    last = bench.ask("GET")["removed"]["id"]
    bench.ask("POST", f"/recordings/{last}/restore")


def test_everything_is_there_after_a_restart(bench: Bench, data: Path) -> None:
    bench.bring("1", 6)
    bench.bring("2", 6)
    fields = {"strings": [6], "hand": "finger", "reference": "neck", "frets": "", "cable": "3 m", "input": ""}
    bench.ask("PUT", json=fields)
    before = bench.find()
    assert before["result"] == RESULT
    with client_of(data) as after:
        found = after.get("/api/sensitivity", params={"wiring": bench.wiring}).json()
    assert found == before
    assert found["fields"] == fields


def test_any_change_takes_the_result_away_but_which_places_are_shown(bench: Bench) -> None:
    bench.bring("1", 6)
    bench.bring("2", 6)
    fields = bench.ask("GET")["fields"]
    bench.ask("PUT", json=fields)
    assert bench.find()["result"] == RESULT
    assert bench.ask("PUT", json={**fields, "strings": [6, 1]})["result"] == RESULT
    assert bench.ask("PUT", json={**fields, "hand": "thumb"})["result"] is None
    assert bench.find()["result"] == RESULT
    assert bench.bring("3", 6)["result"] is None
    assert bench.find()["result"] == RESULT
    dropped = bench.ask("DELETE", "/recordings", params={"setting": "3", "string": 6})
    assert dropped["result"] is None
    assert bench.find()["result"] == RESULT
    restored = bench.ask("POST", f"/recordings/{dropped['removed']['id']}/restore")
    assert restored["result"] is None


def test_a_result_of_what_has_changed_meanwhile_is_not_kept(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    def slow(self: Finder, *asked: Any) -> dict[str, Any]:
        bench.bring("3", 6)
        return RESULT

    bench.bring("1", 6)
    bench.bring("2", 6)
    monkeypatch.setattr(Finder, "find", slow)
    assert bench.find()["result"] is None


def test_ticking_a_string_meanwhile_loses_no_result(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    def ticked(self: Finder, *asked: Any) -> dict[str, Any]:
        bench.ask("PUT", json={**fields, "strings": [6, 1]})
        return RESULT

    bench.bring("1", 6)
    bench.bring("2", 6)
    fields = bench.ask("GET")["fields"]
    bench.ask("PUT", json=fields)
    monkeypatch.setattr(Finder, "find", ticked)
    found = bench.find()
    assert (found["result"], found["fields"]["strings"]) == (RESULT, [6, 1])


def test_a_recording_replaced_meanwhile_is_no_error(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    bench.bring("1", 6)
    bench.bring("2", 6)
    look, replaced = kept.get_heard, []

    def then_replace(store: Store, wiring: str) -> kept.Heard:
        found = look(store, wiring)
        if not replaced:
            replaced.append(1)
            kept.keep_recording(store, wiring, kept.Place("1", 6), "again.wav", TAKEN)
        return found

    monkeypatch.setattr(kept, "get_heard", then_replace)
    assert bench.find()["recordings"][0]["name"] == "a.wav", "the answer, looked up before it was replaced"


def test_what_cannot_be_is_refused_in_words(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(content: bytes, folder: Path) -> Taken:
        raise InputError("the recording", "not readable as sound", "WAV")

    bench.bring("1", 6)
    assert "two or more" in str(bench.find(422))
    place = {"setting": "1", "string": 6, "name": "a.wav"}
    assert "0 bytes" in str(bench.ask("POST", "/recordings", 422, params=place))
    bench.ask("POST", "/recordings", 422, params={**place, "string": 40}, content=b"x")
    bench.ask("GET", "", 404, params={"wiring": "none"})
    bench.ask("POST", "/recordings", 404, params={**place, "wiring": "none"}, content=b"x")
    bench.ask("PUT", "", 422, json={"hand": "x" * 400})
    monkeypatch.setattr(routes, "take_recording", broken)
    assert "not readable" in str(bench.ask("POST", "/recordings", 422, params=place, content=b"x"))
    assert names(bench.ask("GET")) == {("1", 6): "a.wav"}, "what was there stays"
    monkeypatch.setattr(kept, "MOST_RECORDINGS", 1)
    monkeypatch.setattr(routes, "take_recording", lambda content, folder: TAKEN)
    place = {"setting": "2", "string": 6, "name": "b.wav"}
    assert "at most 1" in str(bench.ask("POST", "/recordings", 413, params=place, content=b"x"))


def test_a_customer_comes_to_none_of_it(data: Path, bench: Bench) -> None:
    with client_of(data, host="192.0.2.7", key=KEY) as guest:
        assert guest.get("/api/sensitivity", params={"wiring": bench.wiring}).status_code in (401, 403)


# --- a whole guitar, found and taken


@pytest.fixture(scope="module")
def guitar(client: TestClient, tmp_path_factory: pytest.TempPathFactory) -> tuple[Bench, dict[str, Any]]:
    """Find the coils of a guitar whose bridge coil is 4 dB louder, the lowest string in three positions."""
    folder = tmp_path_factory.mktemp("plucked")
    bench = Bench(client)
    text = client.get(f"/api/versions/{bench.version}").json()["text"]
    wiring = read_wiring(parse_tree(text, "w"), "w")
    one = with_strings(wiring, (0,))
    settings = [one.setting(position) for position in ("1", "2", "3")]
    gains = np.array([[4.0 if name == "bridge" else 0.0] for name in one.coils])
    plucks = []
    for k, samples in enumerate(Player(one, settings, 3, 861).record_all(Truth(gains, np.ones(2)), 861)):
        path = folder / f"{k + 1}.wav"
        soundfile.write(path, samples, RATE_HZ, subtype="FLOAT")
        said, flac = _read(path)
        plucks.append(Pluck(Sound(path.name, str(k + 1), said["peak"], flac), 6))
    plucks += [replace(plucks[0], string=9), Pluck(replace(plucks[0].sound, setting="4"), 0)]
    return bench, find_sensitivities_of(text, plucks, {"reference": "neck"}, date(2026, 11, 30))


def test_recordings_of_what_the_wiring_has_no_longer_are_left_out(
    guitar: tuple[Bench, dict[str, Any]],
) -> None:
    _, found = guitar
    assert [one["setting"] for one in found["recordings"]] == ["1", "2", "3"]
    assert found["gone"] == [{"setting": "1", "string": 9}, {"setting": "4", "string": None}]


def test_kept_sounds_tell_the_louder_coil(guitar: tuple[Bench, dict[str, Any]]) -> None:
    _, found = guitar
    (coil,) = found["coils"]
    assert coil["change_db"] == pytest.approx(4.0, abs=coil["within_db"])
    assert [(one["wired"], one["heard"]) for one in found["polarities"]] == [("in phase", "in phase")]
    assert list(found["take"]) == ["bridge"]
    assert found["take"]["bridge"]["comment"].startswith("sensitivity 2026-11-30: plucked strings")


def change(bench: Bench, found: dict[str, Any], edits: list[Any]) -> Any:
    what = {"do": "take sensitivities", "coils": found["take"], "against": found["against"]}
    draft = {"version": bench.version, "edits": edits}
    return bench.client.post("/api/draft/change", json={"draft": draft, "change": what})


def test_values_are_taken_as_one_deed_with_a_comment(guitar: tuple[Bench, dict[str, Any]]) -> None:
    bench, found = guitar
    answer = change(bench, found, [])
    assert answer.status_code == 200, answer.text
    done = answer.json()
    assert done["name"] == "sensitivity of bridge"
    text = bench.client.get(f"/api/versions/{bench.version}").json()["text"]
    edited = WiringText(text, "w")
    edited.change([(edit["path"], edit["value"]) for edit in done["edits"]])
    assert f"# {found['take']['bridge']['comment']}" in edited.dump()
    before, after = (WiringText(one, "w").wiring() for one in (text, edited.dump()))
    assert after.coils["bridge"].sensitivity == found["take"]["bridge"]["sensitivity"]
    assert basis_of(after) == basis_of(before) == found["basis"], "what was compared is the same wiring"
    assert values_of(before) == found["sensed"] == bench.plan()["sensed"]
    assert values_of(after)["bridge"]["sensitivity"] == found["take"]["bridge"]["sensitivity"], "and not that"


def test_values_are_not_taken_against_a_coil_that_has_changed(guitar: tuple[Bench, dict[str, Any]]) -> None:
    bench, found = guitar
    edit = {"path": ["parts", "neck", "sensitivity"], "value": "0.2"}
    answer = change(bench, found, [edit])
    assert answer.status_code == 422
    assert "find the values again" in answer.text


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"reference": "middle"}, "neck, bridge"),
        ({"hand": "toe"}, "thin pick"),
        ({"frets": "1"}, "6 frets"),
        ({"cable": "long"}, "the cable"),
    ],
)
def test_a_field_that_cannot_be_read_is_refused(
    guitar: tuple[Bench, dict[str, Any]], fields: dict[str, str], words: str
) -> None:
    bench, _ = guitar
    text = bench.client.get(f"/api/versions/{bench.version}").json()["text"]
    with pytest.raises(InputError, match=words):
        find_sensitivities_of(text, [], fields, date(2026, 11, 30))
