"""Saved results of searches: found again by their digest; those unused for longest are deleted."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from server.files.cache import ENVIRONMENT
from server.searches import results

SIZE = 1000


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty cache folder that holds three results of `SIZE` bytes and not a fourth."""
    monkeypatch.setenv(ENVIRONMENT, str(tmp_path))
    monkeypatch.setattr(results, "MOST_BYTES", 3 * SIZE + SIZE // 2)
    return tmp_path / results.FOLDER


def result(mark: str, size: int = SIZE) -> dict[str, object]:
    """A result whose file has about `size` bytes."""
    return {"values": {"mark": mark}, "texts": {"map": "x" * (size - 50)}}


def save(folder: Path, name: str, used_s: float, size: int = SIZE) -> None:
    """Save a result, and set when it was last used."""
    results.save("range", name, result(name, size))
    os.utime(folder / f"range-{name}.json", (used_s, used_s))


def names(folder: Path) -> set[str]:
    return {path.stem.removeprefix("range-") for path in folder.iterdir()}


def test_a_saved_result_is_found_by_kind_and_name(folder: Path) -> None:
    results.save("range", "a", result("a"))
    assert results.load("range", "a") == result("a")
    assert results.load("range", "b") is None
    assert results.load("lugs", "a") is None


def test_the_results_unused_for_longest_are_deleted(folder: Path) -> None:
    for used_s, name in ((3000.0, "a"), (1000.0, "b"), (2000.0, "c")):
        save(folder, name, used_s)
    assert names(folder) == {"a", "b", "c"}
    results.save("range", "d", result("d"))
    assert names(folder) == {"a", "c", "d"}
    results.save("range", "e", result("e", 2 * SIZE))
    assert names(folder) == {"d", "e"}


def test_a_result_in_use_outlives_newer_ones(folder: Path) -> None:
    for used_s, name in ((1000.0, "a"), (2000.0, "b"), (3000.0, "c")):
        save(folder, name, used_s)
    assert results.load("range", "a") == result("a")
    results.save("range", "d", result("d"))
    assert names(folder) == {"a", "c", "d"}


def test_a_result_too_large_for_the_cache_is_the_only_one_left(folder: Path) -> None:
    save(folder, "a", 1000.0)
    results.save("range", "large", result("large", 5 * SIZE))
    assert names(folder) == {"large"}


@pytest.mark.parametrize("text", ["", "no JSON", "[]", '{"values": {}}'])
def test_a_broken_file_is_no_result(folder: Path, text: str) -> None:
    results.save("range", "a", result("a"))
    (folder / "range-a.json").write_text(text)
    assert results.load("range", "a") is None
