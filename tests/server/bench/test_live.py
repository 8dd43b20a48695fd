"""The live connection to the real server: answers, refusals, newest wins, access."""

from __future__ import annotations

import contextlib
import http.client
import json
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.request import urlopen

import numpy as np
import pytest
from numpy.typing import NDArray
from server_process import Running, started
from websockets.exceptions import ConnectionClosed, InvalidStatus
from websockets.sync.client import ClientConnection, connect

TAKE = "demo:low_riff"
PATIENCE_S = 60.0
"""On a busy machine the first play of a score takes seconds."""


def version_of(server: Running, word: str) -> str:
    """Return the latest version of the demo wiring with a word in its name."""
    with urlopen(f"{server.url}/api/commissions") as answer:
        rows = json.load(answer)
    return next(str(w["version"]) for row in rows for w in row["wirings"] if word in w["name"])


def address(server: Running) -> str:
    return server.url.replace("http", "ws") + "/api/live"


@pytest.fixture
def live(shared_server: Running) -> Iterator[ClientConnection]:
    with connect(address(shared_server), origin=shared_server.url) as one:  # type: ignore[arg-type]
        yield one


def ask(live: ClientConnection, number: int, draft: Any, setting: Any, take: str | None = None) -> None:
    live.send(json.dumps({"id": number, "draft": draft, "setting": setting, "take": take}))


def frame(live: ClientConnection) -> NDArray[np.float64]:
    data = live.recv(timeout=PATIENCE_S)
    assert isinstance(data, bytes), data
    return np.frombuffer(data, "<f8")


def test_a_setting_comes_back_as_filters(shared_server: Running, live: ClientConnection) -> None:
    """The frame equals that of a single request."""
    draft = {"version": version_of(shared_server, "Baritone"), "edits": []}
    setting = {"position": "4", "knobs": {"tone": 2.5, "volume": 9.0}, "switches": {}}
    ask(live, 7, draft, setting)
    found = frame(live)
    host = shared_server.url.removeprefix("http://")
    connection = http.client.HTTPConnection(host)
    body = json.dumps({"id": 7, "draft": draft, "setting": setting})
    headers = {"Content-Type": "application/json", "X-Presolder": "1"}
    connection.request("POST", "/api/draft/filters", body, headers)
    single = np.frombuffer(connection.getresponse().read(), "<f8")
    connection.close()
    assert found[0] == 7
    assert np.array_equal(found, single, equal_nan=True)
    assert len(found) == 8 + 2 * found[2] + 2 * found[1] * found[2] + found[1] * found[3]


def test_the_level_follows_when_the_take_has_been_played(tmp_path: Path) -> None:
    server = started(tmp_path, PRESOLDER_CACHE=str(tmp_path / "cache"))  # nothing has been played yet
    try:
        draft = {"version": version_of(server, "Twelve"), "edits": []}
        with connect(address(server), origin=server.url) as live:  # type: ignore[arg-type]
            ask(live, 1, draft, {"position": "1"}, TAKE)
            first = frame(live)
            second = frame(live)
            ask(live, 2, draft, {"position": "2"}, TAKE)
            third = frame(live)
    finally:
        server.stop()
    assert np.isnan(first[7])
    assert first[0] == second[0] == 1
    assert np.isfinite(second[7])
    assert np.array_equal(first[8:], second[8:])
    assert third[0] == 2
    assert np.isfinite(third[7])


def test_impossible_settings_are_refused_and_the_connection_stays(
    shared_server: Running, live: ClientConnection
) -> None:
    draft = {"version": version_of(shared_server, "Baritone"), "edits": []}
    bad_edit = [{"path": ["parts", "tone_cap", "capacitance"], "value": "33 nX"}]
    for number, (setting, edits, take, got) in enumerate(
        [
            ({"position": "9"}, [], None, "'9'"),
            ({"position": "1", "knobs": {"tone": 10.5}}, [], None, "10.5"),
            ({"position": "1"}, bad_edit, None, "'33 nX'"),
            ({"position": "1"}, [], "demo:none", "'demo:none'"),
        ],
        start=1,
    ):
        ask(live, number, {**draft, "edits": edits}, setting, take)
        while isinstance(data := live.recv(timeout=PATIENCE_S), bytes):
            pass  # the last one's filters are right, its take is not
        answer = json.loads(data)
        assert answer["id"] == number
        assert answer["problems"][0]["got"] == got
        assert answer["problems"][0]["allowed"]
    ask(live, 99, draft, {"position": "1"})
    assert frame(live)[0] == 99


@pytest.mark.parametrize(
    "text", ["", "{", "[]", '{"id": 1}', '{"id": -1, "draft": 3}', "[" * 10_000, '{"id": NaN}']
)
def test_a_message_that_is_not_a_request_is_refused(live: ClientConnection, text: str) -> None:
    live.send(text)
    answer = json.loads(live.recv(timeout=PATIENCE_S))
    assert answer["id"] is None
    assert answer["problems"]


def test_a_binary_message_is_refused_and_the_connection_stays(
    shared_server: Running, live: ClientConnection
) -> None:
    before = len(shared_server.printed())
    live.send(b"\x00\x01")
    answer = json.loads(live.recv(timeout=PATIENCE_S))
    assert answer["problems"][0]["got"] == "binary data"
    ask(live, 8, {"version": version_of(shared_server, "Baritone"), "edits": []}, {"position": "1"})
    assert frame(live)[0] == 8
    assert "Traceback" not in shared_server.printed()[before:]


def test_five_hundred_removals_in_one_message_end_in_clear_sentences(
    shared_server: Running, live: ClientConnection
) -> None:
    before = len(shared_server.printed())
    version = version_of(shared_server, "Baritone")
    edits = [{"path": ["joints", str(k)], "value": None} for k in range(250)]
    edits += [{"path": ["parts", f"part{k}"], "value": None} for k in range(245)]
    edits += [{"path": ["parts", name], "value": None} for name in ("volume", "tone", "tone_cap", "neck_a")]
    ask(live, 5, {"version": version, "edits": edits}, {"position": "1"})
    answer = json.loads(live.recv(timeout=PATIENCE_S))
    assert answer["id"] == 5
    assert 1 <= len(answer["problems"]) <= 21
    assert all(problem["got"] and problem["allowed"] for problem in answer["problems"])
    ask(live, 6, {"version": version, "edits": [*edits, *edits[:2]]}, {"position": "1"})
    [problem] = json.loads(live.recv(timeout=PATIENCE_S))["problems"]
    assert "at most 500" in problem["allowed"]
    ask(live, 8, {"version": version, "edits": []}, {"position": "1"})
    assert frame(live)[0] == 8
    assert "Traceback" not in shared_server.printed()[before:]


def test_the_newest_of_many_settings_is_answered_and_old_ones_are_skipped(
    shared_server: Running, live: ClientConnection
) -> None:
    draft = {"version": version_of(shared_server, "Baritone"), "edits": []}
    for i in range(400):
        ask(live, i, draft, {"position": "2", "knobs": {"tone": i / 40.0, "volume": 3.21}})
    answered = []
    while not answered or answered[-1] != 399:
        answered.append(int(frame(live)[0]))
    assert answered == sorted(set(answered))
    assert len(answered) < 200  # a design takes milliseconds, reading a message much less


def test_a_page_of_another_site_is_refused(shared_server: Running) -> None:
    elsewhere: Any = "http://elsewhere.example"
    with (
        pytest.raises((InvalidStatus, ConnectionClosed)),
        connect(address(shared_server), origin=elsewhere) as one,
    ):
        one.recv(timeout=PATIENCE_S)


def test_everybody_without_the_key_is_refused(tmp_path: Path) -> None:
    key = "a key for this test"
    server = started(tmp_path, "demo", "--key", key)
    try:
        with connect(address(server), origin=server.url) as one, pytest.raises(ConnectionClosed) as closed:  # type: ignore[arg-type]
            one.recv(timeout=PATIENCE_S)
        assert closed.value.rcvd is not None
        assert closed.value.rcvd.code == 4403
        host = http.client.HTTPConnection(server.url.removeprefix("http://"))
        headers = {"Content-Type": "application/json", "X-Presolder": "1"}
        host.request("POST", "/api/access", json.dumps({"key": key}), headers)
        answer = host.getresponse()
        answer.read()
        cookie = str(answer.headers["set-cookie"]).split(";")[0]
        host.close()
        with connect(address(server), origin=server.url, additional_headers={"Cookie": cookie}) as one:  # type: ignore[arg-type]
            one.send("{")
            assert json.loads(one.recv(timeout=PATIENCE_S))["problems"]
    finally:
        server.stop()


def test_pages_that_leave_midway_do_no_harm(shared_server: Running) -> None:
    draft = {"version": version_of(shared_server, "Baritone"), "edits": []}
    for i in range(20):
        with connect(address(shared_server), origin=shared_server.url) as one:  # type: ignore[arg-type]
            ask(one, i, draft, {"position": "3", "knobs": {"tone": i / 3.0}}, TAKE)
    with connect(address(shared_server), origin=shared_server.url) as one:  # type: ignore[arg-type]
        ask(one, 5, draft, {"position": "1"})
        assert frame(one)[0] == 5
    assert "Traceback" not in shared_server.printed()


def test_scores_are_played_in_a_process_that_ends_with_the_server(tmp_path: Path) -> None:
    """Answers stay fast meanwhile: the server's own thread does not play."""
    server = started(tmp_path, PRESOLDER_CACHE=str(tmp_path / "cache"))
    try:
        assert server.process is not None
        draft = {"version": version_of(server, "Baritone"), "edits": []}
        with connect(address(server), origin=server.url) as live:  # type: ignore[arg-type]
            ask(live, 1, draft, {"position": "1"}, "demo:open_chords")
            assert np.isnan(frame(live)[7])
            answered = []
            children: list[int] = []
            while not children:
                children = playing_processes(server.process.pid)
            for i in range(20):
                begun = time.perf_counter()
                ask(live, 2 + i, draft, {"position": "2", "knobs": {"tone": i / 2.0}})
                assert frame(live)[0] == 2 + i
                answered.append(time.perf_counter() - begun)
    finally:
        server.stop()
    assert sorted(answered)[10] < 0.5  # a play takes many seconds
    for child in children:
        assert not Path(f"/proc/{child}").exists() or "Z" in Path(f"/proc/{child}/stat").read_text()
    assert "Traceback" not in server.printed()


def playing_processes(parent: int) -> list[int]:
    """Return the helper processes that a server has started."""
    found = []
    for stat in Path("/proc").glob("[0-9]*/stat"):
        with contextlib.suppress(OSError, IndexError):
            fields = stat.read_text().rpartition(")")[2].split()
            command = (stat.parent / "cmdline").read_bytes()
            if int(fields[1]) == parent and b"server.processes.helper" in command:
                found.append(int(stat.parent.name))
    return found
