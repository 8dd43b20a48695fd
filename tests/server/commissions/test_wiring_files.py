"""Wiring files as commissions: imported once, saved to, and checked for changes by others."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient
from server_client import client_of
from server_process import ROOT

from server.commissions import versions
from server.commissions.wiring_files import import_wiring_files
from server.database.store import Store
from server.files.whole import write_text

DEMO = ROOT / "demo_audio"
CAP = {"path": ["parts", "tone_cap", "capacitance"], "value": "33 nF"}


class Bench:
    """`presolder serve` on some places, without a socket."""

    def __init__(self, data: Path, *places: Path) -> None:
        store = Store(data)
        self.left_out = [str(problem) for problem in import_wiring_files(store, places)]
        store.close()
        self.client: TestClient = client_of(data, places=places)

    def get(self, path: str) -> Any:
        """Return an answer's JSON."""
        return self.client.get(f"/api/{path}").json()

    def only_wiring(self) -> dict[str, Any]:
        """Return the one wiring of the one commission."""
        (commission,) = self.get("commissions")
        (wiring,) = self.get(f"commissions/{commission['id']}")["wirings"]
        found: dict[str, Any] = wiring
        return found

    def save(self, wiring: dict[str, Any], base: str | None = None) -> Any:
        """Save a changed capacitor and return the answer."""
        body = {"base": base or wiring["versions"][-1]["id"], "edits": [CAP]}
        return self.client.post(f"/api/wirings/{wiring['id']}/versions", json=body)


@pytest.fixture
def serve(tmp_path: Path) -> Callable[..., Bench]:
    """Serve places, each time from the same data."""
    return lambda *places: Bench(tmp_path / "data", *places)


@pytest.fixture
def file(tmp_path: Path) -> Path:
    """Copy a wiring file for the test."""
    return Path(shutil.copy(DEMO / "baritone.yaml", tmp_path / "mine.yaml"))


def test_a_file_changed_by_another_program_is_not_overwritten(serve: Any, file: Path) -> None:
    bench = serve(file)
    wiring = bench.only_wiring()
    write_text(file, file.read_text().replace("22 nF", "10 nF"))
    answer = bench.save(wiring)
    assert answer.status_code == 409
    assert answer.json()["newer"]["number"] == 2
    assert "10 nF" in file.read_text()
    theirs = answer.json()["newer"]["id"]
    assert "10 nF" in bench.get(f"versions/{theirs}")["text"]
    assert bench.save(wiring, theirs).json()["number"] == 3
    assert "33 nF" in file.read_text()


def test_a_file_changed_in_the_middle_of_a_save_is_not_overwritten(
    serve: Any, file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Another program writes after the server has looked at the file and before it replaces it."""
    bench = serve(file)
    wiring, theirs = bench.only_wiring(), file.read_text().replace("22 nF", "10 nF")
    add_version = versions.add_version

    def write_between(*given: Any) -> versions.Saved:
        write_text(file, theirs)
        return add_version(*given)

    with monkeypatch.context() as patched:
        patched.setattr(versions, "add_version", write_between)
        answer = bench.save(wiring)
    assert answer.status_code == 409
    assert str(file) in answer.json()["problems"][0]["where"]
    assert file.read_text() == theirs
    assert len(bench.only_wiring()["versions"]) == 1
    newer = bench.save(wiring).json()["newer"]  # the next save finds their version
    assert "10 nF" in bench.get(f"versions/{newer['id']}")["text"]


def test_a_file_that_is_no_longer_a_wiring_is_reported_and_left(serve: Any, file: Path) -> None:
    bench = serve(file)
    file.write_text("format: 1\nparts: {}\n")
    answer = bench.save(bench.only_wiring())
    assert answer.status_code == 409
    assert str(file) in answer.json()["problems"][0]["where"]
    assert file.read_text() == "format: 1\nparts: {}\n"
    assert len(bench.only_wiring()["versions"]) == 1


def test_a_missing_file_is_written_again(serve: Any, file: Path) -> None:
    bench = serve(file)
    file.unlink()
    assert bench.save(bench.only_wiring()).json()["file"] == str(file)
    assert "33 nF" in file.read_text()


def test_where_the_file_cannot_be_written_nothing_is_saved(serve: Any, tmp_path: Path) -> None:
    folder = tmp_path / "gone"
    folder.mkdir()
    bench = serve(Path(shutil.copy(DEMO / "baritone.yaml", folder)))
    shutil.rmtree(folder)
    answer = bench.save(bench.only_wiring())
    assert answer.status_code == 422
    assert str(folder) in answer.json()["problems"][0]["where"]
    assert len(bench.only_wiring()["versions"]) == 1


def test_a_refused_save_leaves_the_file(serve: Any, file: Path) -> None:
    bench = serve(file)
    before, wiring = file.read_bytes(), bench.only_wiring()
    nonsense = {"base": wiring["versions"][0]["id"], "edits": [{**CAP, "value": "a lot"}]}
    assert bench.client.post(f"/api/wirings/{wiring['id']}/versions", json=nonsense).status_code == 422
    assert file.read_bytes() == before


def test_a_change_between_two_runs_is_the_next_version(serve: Any, file: Path) -> None:
    serve(file)
    assert [one["number"] for one in serve(file).only_wiring()["versions"]] == [1]
    write_text(file, file.read_text().replace("22 nF", "10 nF"))
    versions = serve(file).only_wiring()["versions"]
    assert [one["number"] for one in versions] == [1, 2]
    assert "mine.yaml" in versions[1]["note"]
    assert len(serve(file).only_wiring()["versions"]) == 2


def test_a_file_ahead_of_the_database_after_a_crash_is_imported(serve: Any, file: Path) -> None:
    """The file is written before the version is committed, so a crash can leave it ahead."""
    serve(file)
    write_text(file, file.read_text().replace("22 nF", "33 nF"))
    bench = serve(file)
    latest = bench.only_wiring()["versions"][-1]["id"]
    assert "33 nF" in bench.get(f"versions/{latest}")["text"]


def test_a_file_added_to_a_folder_joins_its_commission(serve: Any, tmp_path: Path) -> None:
    folder = tmp_path / "job"
    folder.mkdir()
    shutil.copy(DEMO / "baritone.yaml", folder)
    serve(folder)
    shutil.copy(DEMO / "twelve.yaml", folder)
    (commission,) = serve(folder).get("commissions")
    assert len(commission["wirings"]) == 2


def test_an_archived_commission_returns_when_it_is_served_again(serve: Any, file: Path) -> None:
    bench = serve(file)
    (commission,) = bench.get("commissions")
    bench.client.patch(f"/api/commissions/{commission['id']}", json={"archived": True})
    assert bench.get("commissions") == []
    assert [one["id"] for one in serve(file).get("commissions")] == [commission["id"]]


def test_a_copy_of_a_commission_has_no_file(serve: Any, file: Path) -> None:
    bench = serve(file)
    (commission,) = bench.get("commissions")
    copy = bench.client.post(f"/api/commissions/{commission['id']}/copy").json()["id"]
    (wiring,) = bench.get(f"commissions/{copy}")["wirings"]
    before = file.read_bytes()
    assert bench.save(wiring).json()["file"] is None
    assert file.read_bytes() == before


def test_files_that_are_not_wirings_are_reported_and_the_rest_is_served(serve: Any, tmp_path: Path) -> None:
    for name, text in (("a.yaml", "- no\n"), ("b.yaml", "x: ["), ("e.yaml", "")):
        (tmp_path / name).write_text(text)
    shutil.copy(DEMO / "twelve.yaml", tmp_path / "good.yaml")
    (tmp_path / "empty").mkdir()
    names = ("a.yaml", "b.yaml", "e.yaml", "none.yaml", "empty")
    bench = serve(*(tmp_path / name for name in (*names, "good.yaml")))
    assert len(bench.get("commissions")) == 1
    for name in names:
        assert any(line.startswith(str(tmp_path / name)) for line in bench.left_out)


def test_a_hostile_file_name_is_only_a_name(serve: Any, tmp_path: Path) -> None:
    file = Path(
        shutil.copy(DEMO / "baritone.yaml", tmp_path / "<img src=x onerror=alert(1)> '$(id)' %s.yaml")
    )
    bench = serve(file)
    assert bench.only_wiring()["file"] == str(file)
    assert bench.save(bench.only_wiring()).json()["file"] == str(file)


@pytest.mark.parametrize("name", [b"half\xff.yaml", b"line\nend.yaml", b"bell\x07.yaml"])
def test_a_name_that_cannot_be_shown_is_reported(serve: Any, tmp_path: Path, name: bytes) -> None:
    file = tmp_path / os.fsdecode(name)
    shutil.copy(DEMO / "baritone.yaml", file)
    bench = serve(file, tmp_path)
    assert bench.get("commissions") == []
    assert len([line for line in bench.left_out if "a readable name" in line]) == 2
