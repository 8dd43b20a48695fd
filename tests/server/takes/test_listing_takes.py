"""The list of takes waits for no recording, and a bad take is its own problem everywhere."""

from __future__ import annotations

import errno
import json
import os
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import bad_decoders
import numpy as np
import pytest
import soundfile
from click.testing import CliRunner
from fastapi.testclient import TestClient
from server_client import client_of

from dsp.errors import InputError
from server.cli import main
from server.files.existing import path_kind
from server.paths import demo_folder
from server.takes import folder_takes, routes
from server.takes import load as take_load
from server.takes.folders import find_takes

RATE = 48000
HEAD = "format: 1\nname: Own\nkind: mono\n"
GOOD = HEAD + "audio: riff.wav\nsource: flat\n"


def write_sound(path: Path) -> None:
    times_s = np.arange(RATE) / RATE
    soundfile.write(path, 0.3 * np.sin(2 * np.pi * 220.0 * times_s) * np.exp(-times_s), RATE)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A served folder with one good take."""
    found = tmp_path / "served"
    found.mkdir()
    write_sound(found / "riff.wav")
    (found / "good.yaml").write_text(GOOD)
    return found


@pytest.fixture
def client(tmp_path: Path, folder: Path) -> TestClient:
    return client_of(tmp_path / "data", places=(folder,), demo=True)


def row(client: TestClient, take_id: str) -> dict[str, Any]:
    """A take's row as the list has it."""
    found: dict[str, Any] = next(one for one in client.get("/api/takes").json() if one["id"] == take_id)
    return found


def draft_of(client: TestClient) -> dict[str, Any]:
    """The newest version of the demo's commission, without edits."""
    commission = client.get("/api/commissions").json()[0]["id"]
    wiring = client.get(f"/api/commissions/{commission}").json()["wirings"][0]
    return {"version": wiring["versions"][-1]["id"], "edits": []}


def positions(client: TestClient) -> int:
    answer = client.post("/api/draft/facts", json={"draft": draft_of(client)})
    assert answer.status_code == 200, answer.text
    return len(answer.json()["positions"])


@pytest.fixture
def examined(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The takes that were loaded or examined, in order; examinations run in this process."""
    seen: list[str] = []
    load = take_load.load_take

    def noted(path: Path) -> Any:
        seen.append(path.stem)
        return load(path)

    monkeypatch.setattr(folder_takes, "load_take", noted)
    monkeypatch.setattr(
        folder_takes.FolderTakes, "_ask", lambda self, helper, path: folder_takes.examine_take(path)
    )
    monkeypatch.setattr(routes, "EXAMINE_WAIT_S", None)
    return seen


def test_the_list_and_the_positions_examine_no_take(client: TestClient, examined: list[str]) -> None:
    listed = client.get("/api/takes").json()
    assert [one["id"] for one in listed][-1] == "file:good"
    assert {one["state"] for one in listed} == {"waiting"}
    assert row(client, "file:good")["name"] == "Own"
    assert positions(client) == 6
    assert examined == []
    assert client.get("/api/takes/file:good").json()["seconds"] == 1.0
    assert examined == ["good"]
    assert row(client, "file:good")["state"] == "ready"


def test_a_take_that_hangs_delays_itself_alone(
    client: TestClient, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """No clock decides here: the examination that hangs ends when everything else has been seen."""
    over = threading.Event()
    examine = folder_takes.examine_take
    (folder / "hangs.yaml").write_text(GOOD)

    def hanging(path: Path) -> Any:
        if path.stem == "hangs":
            assert over.wait(60.0)
        return examine(path)

    monkeypatch.setattr(folder_takes, "examine_take", hanging)
    monkeypatch.setattr(folder_takes.FolderTakes, "_ask", lambda self, helper, path: hanging(path))
    monkeypatch.setattr(routes, "EXAMINE_WAIT_S", 0.05)
    assert client.get("/api/takes/file:hangs").json()["state"] == "waiting"
    assert row(client, "file:hangs")["state"] == "waiting"
    assert positions(client) == 6
    monkeypatch.setattr(routes, "EXAMINE_WAIT_S", 60.0)
    assert client.get("/api/takes/file:good").json()["state"] == "ready"
    answer = client.get("/api/stems", params={"version": draft_of(client)["version"], "take": "file:hangs"})
    assert answer.status_code == 200  # it is played as soon as it is loaded; the rest of its row waits
    over.set()
    assert client.get("/api/takes/file:hangs").json()["state"] == "ready"


def test_an_examination_that_runs_is_not_begun_again(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    begun: list[Path] = []
    over = threading.Event()
    examine = folder_takes.examine_take

    def slow(self: object, helper: object, path: Path) -> Any:
        begun.append(path)
        assert over.wait(60.0)
        return examine(path)

    monkeypatch.setattr(folder_takes.FolderTakes, "_ask", slow)
    takes = client.app.state.library
    assert [takes.examine("file:good", 0.01).state for _ in range(3)] == ["waiting"] * 3
    over.set()
    assert takes.examine("file:good").state == "ready"
    assert len(begun) == 1


def test_examinations_run_in_a_process_that_ends_with_the_last(client: TestClient) -> None:
    library = client.app.state.library
    for one in client.get("/api/takes").json():
        assert library.examine(one["id"]).state == "ready"
    inside = library._in_folders
    assert (inside._free, inside._busy) == ([], set())
    library.close()


def test_a_recording_that_hangs_is_given_up_and_its_process_replaced(
    client: TestClient, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (folder / "hangs.yaml").write_text(GOOD)
    library = client.app.state.library
    monkeypatch.setattr(folder_takes, "examine_take", bad_decoders.sleep_at_hanging_takes)
    monkeypatch.setattr(folder_takes, "LONGEST_S", 1.0)
    found = library.examine("file:hangs")
    assert found.state == "broken"
    [problem] = found.problems
    assert (problem.where, "still being read after" in problem.got) == (str(folder / "hangs.yaml"), True)
    with pytest.raises(InputError, match="still being read after"):  # nobody else hangs at it
        library.performance("file:hangs")
    monkeypatch.setattr(folder_takes, "LONGEST_S", 60.0)
    assert library.examine("file:good").state == "ready"
    monkeypatch.setattr(folder_takes, "examine_take", bad_decoders.die_at_hanging_takes)
    [problem] = library.examine("file:hangs").problems
    assert "broke off" in problem.got
    monkeypatch.setattr(folder_takes, "examine_take", bad_decoders.examine_take)
    assert library.examine("file:hangs").state == "ready"
    assert library.performance("file:hangs").seconds == 1.0
    library.close()


def test_who_waits_without_end_gets_the_next_free_process(
    client: TestClient, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """No examination runs in the server itself: a fourth one waits for one of the three processes."""
    for name in "abcd":
        (folder / f"{name}.yaml").write_text(GOOD)
    over, running, most = threading.Event(), [], []
    lock = threading.Lock()

    def slow(self: object, helper: object, path: Path) -> Any:
        with lock:
            running.append(helper)
            most.append(len(running))
        if len(most) >= folder_takes.MOST_AT_ONCE:
            over.set()
        assert over.wait(60.0)
        with lock:
            running.remove(helper)
        return folder_takes.examine_take(path)

    monkeypatch.setattr(folder_takes.FolderTakes, "_ask", slow)
    library = client.app.state.library
    library.list_takes()
    with ThreadPoolExecutor(4) as pool:
        states = list(pool.map(lambda name: library.examine(f"file:{name}").state, "abcd"))
    assert states == ["ready"] * 4
    assert max(most) == folder_takes.MOST_AT_ONCE


def test_a_take_that_another_request_loads_for_too_long_is_told(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    library = client.app.state.library
    library.list_takes()
    monkeypatch.setattr(folder_takes, "LOADING_S", 0.01)
    one = library._in_folders._takes()["file:good"]
    with one.loading, pytest.raises(InputError, match="still being read"):
        library.performance("file:good")
    assert library.performance("file:good").seconds == 1.0


def loop_of_links(folder: Path, name: str) -> None:
    (folder / name).symlink_to(folder / f"{name}_back")
    (folder / f"{name}_back").symlink_to(folder / name)


def long_name(folder: Path) -> str:
    return "x" * 300 + ".wav"


def a_folder(folder: Path) -> str:
    (folder / "sounds.wav").mkdir()
    return "sounds.wav"


def a_loop(folder: Path) -> str:
    loop_of_links(folder, "loop.wav")
    return "loop.wav"


def nothing(folder: Path) -> str:
    return "gone.wav"


AUDIO = {
    "a name of 300 characters": (long_name, "name too long"),
    "a folder": (a_folder, "a folder"),
    "a loop of links": (a_loop, "symbolic links"),
    "nothing": (nothing, "no such file"),
}


@pytest.fixture(params=list(AUDIO.values()), ids=list(AUDIO))
def bad(request: pytest.FixtureRequest, folder: Path) -> tuple[Path, str]:
    """A take whose recording cannot be opened, and words of the reason."""
    make, words = request.param
    path = folder / "bad.yaml"
    path.write_text(f"{HEAD}audio: {make(folder)}\nsource: flat\n")
    return path, words


def test_the_bench_opens_beside_a_bad_take(client: TestClient, bad: tuple[Path, str]) -> None:
    path, words = bad
    assert row(client, "file:bad")["state"] == "waiting"
    found = client.get("/api/takes/file:bad").json()
    assert (found["state"], found["name"]) == ("broken", "Own")
    [problem] = found["problems"]
    assert f"{path}:4" in problem["where"]
    assert words in problem["got"].lower()
    assert row(client, "file:bad")["problems"] == [problem]
    answer = client.get("/api/stems", params={"version": draft_of(client)["version"], "take": "file:bad"})
    assert (answer.status_code, answer.json()["problems"]) == (422, [problem])
    assert client.get("/api/takes/file:good").json()["state"] == "ready"
    assert positions(client) == 6


def test_a_bad_take_that_was_mended_is_found_good(client: TestClient, folder: Path) -> None:
    (folder / "bad.yaml").write_text(HEAD + "audio: gone.wav\nsource: flat\n")
    assert client.get("/api/takes/file:bad").json()["state"] == "broken"
    (folder / "bad.yaml").write_text(GOOD)
    found = client.get("/api/takes/file:bad").json()
    assert (found["state"], found["problems"]) == ("ready", [])


def printed(*arguments: str) -> Any:
    """A command's result; an exception that it does not report fails the test."""
    done = CliRunner().invoke(main, arguments)
    assert done.exception is None or isinstance(done.exception, SystemExit), done.exc_info
    return done


def test_the_command_lists_the_good_and_reports_the_bad(folder: Path, bad: tuple[Path, str]) -> None:
    path, words = bad
    done = printed("takes", str(folder), "--json")
    assert done.exit_code == 1
    rows = {Path(one["file"]).name: one for one in json.loads(done.stdout)["takes"]}
    assert rows["good.yaml"]["seconds"] == 1.0
    assert words in rows["bad.yaml"]["problems"][0].lower()
    assert str(path) in rows["bad.yaml"]["problems"][0]


def test_render_reports_a_bad_take(folder: Path, bad: tuple[Path, str], tmp_path: Path) -> None:
    path, words = bad
    wiring = str(demo_folder() / "baritone.yaml")
    done = printed("render", wiring, "--take", str(path), "--out", str(tmp_path / "out"))
    assert done.exit_code == 1
    assert words in done.output.lower()
    assert "bad.yaml:4" in done.output


NAMED: dict[str, Callable[[Path], Path]] = {
    "a name of 300 characters": lambda folder: folder / ("x" * 300 + ".yaml"),
    "a folder of a name too long": lambda folder: folder / ("x" * 300),
    "a loop of links": lambda folder: folder / "loop.yaml",
}


@pytest.mark.parametrize("command", ["takes", "render", "serve"])
@pytest.mark.parametrize("name", NAMED.values(), ids=NAMED.keys())
def test_a_named_path_that_cannot_be_opened_is_its_own_problem(
    folder: Path, tmp_path: Path, name: Callable[[Path], Path], command: str
) -> None:
    loop_of_links(folder, "loop.yaml")
    path = name(folder)
    if command == "serve":  # what it does with places before it listens
        served = client_of(tmp_path / "data", places=(path, folder))
        assert row(served, "file:good")["state"] == "waiting"
        return
    wiring = str(demo_folder() / "baritone.yaml")
    more = (
        [wiring, "--take", str(path), "--out", str(tmp_path / "out")] if command == "render" else [str(path)]
    )
    done = printed(command, *more)
    assert done.exit_code == 1
    assert path.name[:40] in done.output


@pytest.fixture
def locked(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder that may not be listed; patched, because the superuser may list any."""
    found = tmp_path / "locked"
    found.mkdir()
    listing = Path.iterdir

    def refusing(self: Path) -> Iterator[Path]:
        if self.name == "locked":
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(self))
        return listing(self)

    monkeypatch.setattr(Path, "iterdir", refusing)
    return found


def test_a_folder_that_cannot_be_listed_is_one_entry_with_its_problem(
    tmp_path: Path, folder: Path, locked: Path
) -> None:
    client = client_of(tmp_path / "data", places=(locked, folder))
    found = row(client, "file:locked")
    assert found["state"] == "broken"
    assert "permission denied" in found["problems"][0]["got"]
    assert row(client, "file:good")["state"] == "waiting"
    done = printed("takes", str(locked), str(folder))
    assert done.exit_code == 1
    assert "permission denied" in done.output
    assert "good.yaml" in done.output


def test_the_wirings_of_a_folder_that_cannot_be_listed_are_its_problem(
    tmp_path: Path, folder: Path, locked: Path
) -> None:
    from server.commissions.wiring_files import import_wiring_files

    client = client_of(tmp_path / "data")
    (folder / "own.yaml").write_text((demo_folder() / "baritone.yaml").read_text())
    problems = import_wiring_files(client.app.state.store, [locked, folder, folder / ("x" * 300)])
    assert [problem.got for problem in problems] == ["permission denied", "file name too long"]
    assert len(client.get("/api/commissions").json()) == 1


def test_a_name_that_is_no_text_is_a_problem_and_no_crash(tmp_path: Path, folder: Path) -> None:
    try:
        (folder / os.fsdecode(b"r\xff.yaml")).write_text(GOOD)
    except OSError:
        pytest.skip("this file system refuses such names")
    client = client_of(tmp_path / "data", places=(folder,))
    answer = client.get("/api/takes")
    assert answer.status_code == 200
    [found] = [one for one in answer.json() if "udcff" in one["id"]]
    shown = client.get(f"/api/takes/{found['id']}").json()
    assert (shown["state"], "UTF-8" in shown["problems"][0]["got"]) == ("broken", True)


def test_a_long_file_name_makes_an_id_that_an_address_holds(tmp_path: Path, folder: Path) -> None:
    for end in "ab":
        (folder / f"{'riff' * 40}{end}.yaml").write_text(GOOD)
    client = client_of(tmp_path / "data", places=(folder,))
    ids = [one["id"] for one in client.get("/api/takes").json() if "riffriff" in one["id"]]
    assert len(set(ids)) == 2
    assert max(map(len, ids)) <= 64
    assert {client.get(f"/api/takes/{one}").json()["state"] for one in ids} == {"ready"}


def test_an_error_of_the_system_while_a_take_loads_is_its_problem(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*arguments: object) -> None:
        raise OSError(errno.EIO, os.strerror(errno.EIO), str(folder / "riff.wav"))

    monkeypatch.setitem(take_load.LOADERS, "mono", broken)
    [found] = find_takes([folder])
    assert found.error is not None
    [problem] = found.error.problems
    assert (problem.where, problem.got) == (str(folder / "riff.wav"), "input/output error")


def test_an_unknown_take_is_told(client: TestClient) -> None:
    for take_id in ("none", "demo:none", "x" * 64):
        assert client.get(f"/api/takes/{take_id}").status_code == 404
    assert client.get(f"/api/takes/{'x' * 65}").status_code == 422


@pytest.mark.parametrize("name", ["a\0b", "\ud800", "x" * 300, "loop"], ids=["NUL", "half", "long", "loop"])
def test_what_the_system_cannot_look_up_is_a_problem_of_the_path(tmp_path: Path, name: str) -> None:
    loop_of_links(tmp_path, "loop")
    with pytest.raises(InputError) as told:
        path_kind(tmp_path / name)
    assert told.value.problems[0].where == str(tmp_path / name)
    assert path_kind(tmp_path / "gone") == path_kind(tmp_path / "gone" / "in") == "nothing"
