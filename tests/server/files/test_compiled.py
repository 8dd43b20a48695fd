"""Compiled code is made by one process at a time, and marked once it is whole."""

from __future__ import annotations

import os
import threading
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from server.files import compiled
from server.files.cache import ENVIRONMENT
from server.files.compiled import VARIABLE, fill_once
from server.files.lock import try_lock
from server.refusals import Unavailable

VERSIONS = ("compiler", "1.0")


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv(VARIABLE, str(tmp_path / "compiled"))
    return tmp_path / "compiled"


def test_of_many_at_once_one_fills_and_the_others_wait() -> None:
    filled, beside = [], []

    def fill() -> None:
        beside.append(len(filled))
        waiting.wait(1.0)
        filled.append(True)

    waiting = threading.Event()
    with ThreadPoolExecutor(4) as pool:
        asked = [pool.submit(fill_once, VERSIONS, fill) for _ in range(4)]
        waiting.set()
        for one in asked:
            one.result()
            assert filled == [True]  # nobody goes on before the folder is whole
    assert beside == [0]


def test_other_versions_are_compiled_anew() -> None:
    filled: list[str] = []
    for version in ("1.0", "1.1", "1.0"):
        fill_once(("compiler", version), lambda version=version: filled.append(version))  # type: ignore[misc]
    assert filled == ["1.0", "1.1"]


def test_a_fill_that_fails_is_tried_again(folder: Path) -> None:
    def fail() -> None:
        raise Unavailable("the pitch tracker", "it could not be compiled", "librosa")

    with pytest.raises(Unavailable, match="could not be compiled"):
        fill_once(VERSIONS, fail)
    filled: list[bool] = []
    fill_once(VERSIONS, lambda: filled.append(True))
    assert filled == [True]


def test_another_process_that_never_ends_is_told(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(compiled, "LONGEST_S", 0.05)
    folder.mkdir()
    with (folder / compiled.LOCK).open("w") as file:
        assert try_lock(file.fileno())
        with pytest.raises(Unavailable, match="another process still compiles"):
            fill_once(VERSIONS, lambda: None)


def test_a_folder_that_cannot_be_written_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "file").write_text("")
    monkeypatch.setenv(VARIABLE, str(tmp_path / "file"))
    with pytest.raises(Unavailable, match="file"):
        fill_once(VERSIONS, lambda: None)


@pytest.mark.parametrize("cache", [True, False], ids=["with a cache", "without"])
def test_children_find_the_folder_by_the_environment(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, cache: bool
) -> None:
    monkeypatch.delenv(VARIABLE)
    monkeypatch.setenv(ENVIRONMENT, str(tmp_path / "cache") if cache else "")
    fill_once(VERSIONS, lambda: None)
    told = Path(os.environ[VARIABLE])
    assert told.is_dir()
    assert (told == tmp_path / "cache" / "compiled") is cache
