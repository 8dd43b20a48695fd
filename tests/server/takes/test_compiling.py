"""The pitch tracker is compiled once, by one process; everybody else reads what it left."""

from __future__ import annotations

import os
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from server_client import client_of

from server.files.cache import ENVIRONMENT
from server.files.compiled import VARIABLE
from server.paths import demo_folder
from server.takes.compiling import compile_tracker
from server.takes.load import demo_listener, load_take

SLIDE = demo_folder() / "e_slide.yaml"
TRACK = (
    "import sys; from pathlib import Path\n"
    "from server.takes.load import demo_listener, load_take\n"
    "take = load_take(Path(sys.argv[1]))\n"
    "print(take.coil_places(demo_listener()))"
)


def track(folder: Path) -> str:
    """Track the demo's slide in a process of its own, without a cache of results."""
    environment = {**os.environ, VARIABLE: str(folder), ENVIRONMENT: ""}
    words = [sys.executable, "-c", TRACK, str(SLIDE)]
    ended = subprocess.run(words, env=environment, capture_output=True, text=True, timeout=900)
    assert ended.returncode == 0, ended.stderr
    return ended.stdout


def code_files(folder: Path) -> set[str]:
    return {str(path.relative_to(folder)) for path in folder.rglob("*.nb?")}


def test_a_tracked_take_compiles_nothing_more() -> None:
    compile_tracker()
    folder = Path(os.environ[VARIABLE])
    before = code_files(folder)
    take = load_take(SLIDE)
    assert take.coil_places(demo_listener())
    assert before
    assert code_files(folder) == before


@pytest.mark.long
def test_processes_that_start_together_leave_whole_code(tmp_path: Path) -> None:
    """Without the lock about four such starts in ten ended every later process."""
    with ThreadPoolExecutor(3) as pool:
        first = list(pool.map(track, [tmp_path] * 3))
    files = code_files(tmp_path)
    assert files
    assert [track(tmp_path)] * 3 == first
    assert code_files(tmp_path) == files


@pytest.mark.long
def test_the_first_upload_of_an_installation_is_examined(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its child may write no file, so that it cannot keep what it compiles."""
    monkeypatch.setenv(VARIABLE, str(tmp_path / "compiled"))
    client: TestClient = client_of(tmp_path / "data")
    sound = (demo_folder() / "e_slide.flac").read_bytes()
    said = {"name": "Slide", "source": "flat", "line": "single"}
    answer = client.post("/api/takes", params=said, content=sound)
    assert answer.status_code == 201, answer.text
