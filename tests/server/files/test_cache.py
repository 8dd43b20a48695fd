"""Results cached by content: read bit for bit or made again, never harmful, never partial."""

from __future__ import annotations

import contextlib
import os
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from places import ROOT

from dsp.takes.performance import AT_ONCE
from server.files import cache
from server.takes.load import load_take
from server.wirings.text import load_wiring

Floats = NDArray[np.float64]
DEMO = ROOT / "demo_audio"
BLOCKS = [np.random.default_rng(n).standard_normal((2, 500 + n)) for n in range(4)]
WANT = np.concatenate(BLOCKS, axis=1).astype(np.float32).astype(float)


class Maker:
    """Makes the blocks and counts how often."""

    def __init__(self) -> None:
        self.times = 0

    def __call__(self) -> Iterator[Floats]:
        self.times += 1
        yield from BLOCKS


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Make a cache of the test's own."""
    monkeypatch.setenv(cache.ENVIRONMENT, str(tmp_path / "kept"))
    return tmp_path / "kept"


def stream(
    make: Callable[[], Iterator[Floats]], name: str = "n", rows: int = 2, at_once: int = 300
) -> Floats:
    return np.concatenate(list(cache.kept_stream("stems", name, make, rows=rows, at_once=at_once)), axis=1)


def files(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.rglob("*") if path.is_file())


# --- purpose


def test_the_second_use_reads_the_first_ones_samples_bit_for_bit(folder: Path) -> None:
    make = Maker()
    for _ in range(3):
        np.testing.assert_array_equal(stream(make), WANT)
    assert make.times == 1
    assert files(folder) == ["n.npy"]
    assert stream(make, "other").shape == WANT.shape
    assert make.times == 2


def test_an_array_is_kept_and_mapped(folder: Path) -> None:
    made: list[int] = []

    def make() -> NDArray[np.float32]:
        made.append(1)
        return WANT.astype(np.float32)

    first, second = cache.kept("pitch", "n", make), cache.kept("pitch", "n", make)
    np.testing.assert_array_equal(first, second)
    assert len(made) == 1
    assert isinstance(second, np.memmap)
    assert files(folder / "pitch") == ["n.npy"]


def test_digests_differ_where_anything_does() -> None:
    parts: list[tuple[Any, ...]] = [("a", "bc"), ("ab", "c"), (), ("",), ((1,),), (1,), (1.0,), ("1",)]
    parts += [(0.1,), (0.1 + 2**-56,)]
    assert len({cache.digest(*one) for one in parts}) == len(parts)
    assert cache.digest("a", 1.5) == cache.digest("a", 1.5)


def test_without_a_variable_it_lies_where_the_platform_says(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv(cache.ENVIRONMENT)
    for name in ("HOME", "LOCALAPPDATA"):
        monkeypatch.setenv(name, str(tmp_path))
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "c"))
    found = cache.cache_folder()
    assert found is not None
    assert found.name == "presolder"
    assert not found.exists(), "asking for the folder does not make it"


def test_tests_write_nothing_to_the_users_own_cache(own_cache: Path) -> None:
    assert cache.cache_folder() == own_cache


@pytest.mark.parametrize("kept", [True, False])
def test_a_score_is_played_once_for_what_its_sound_depends_on(
    folder: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path, kept: bool
) -> None:
    """Parts without influence on the strings change nothing; a coil's place does."""
    if not kept:
        monkeypatch.setenv(cache.ENVIRONMENT, "")
    text = (DEMO / "baritone.yaml").read_text(encoding="utf-8")
    take = tmp_path / "s.yaml"
    take.write_text(
        "format: 1\nname: T\nkind: score\ntempo: 99\ntail: 0.2 s\nevents: [{beat: 0, string: 3}]\n"
    )
    sounds = []
    for i, (old, new) in enumerate([("", ""), ("4.1 kΩ", "4.3 kΩ"), ("at: 176 mm", "at: 150 mm")]):
        path = tmp_path / f"w{i}.yaml"
        path.write_text(text.replace(old, new) if old else text, encoding="utf-8")
        assert not old or old in text
        sounds.append(np.concatenate(list(load_take(take).stems(load_wiring(path), 48_000)), axis=1))
    np.testing.assert_array_equal(sounds[0], sounds[1])
    assert np.any(sounds[0] != sounds[2])
    assert len(files(folder)) == (2 if kept else 0)
    np.testing.assert_array_equal(sounds[0], sounds[0].astype(np.float32))


def test_a_kept_take_comes_in_blocks(folder: Path) -> None:
    long = [np.ones((2, AT_ONCE)), np.ones((2, 10))]
    for _ in range(2):
        blocks = list(cache.kept_stream("stems", "n", lambda: iter(long), rows=2, at_once=AT_ONCE))
        assert [block.shape for block in blocks] == [(2, AT_ONCE), (2, 10)]


# --- damage


def test_a_file_cut_short_is_made_again(folder: Path) -> None:
    make = Maker()
    stream(make)
    path = folder / "stems" / "n.npy"
    whole = path.read_bytes()
    lengths = [0, 1, 6, 10, 64, 127, 128, 200, len(whole) // 2, len(whole) - 1]
    for times, kept in enumerate([*(whole[:length] for length in lengths), whole + b"\0"], 2):
        path.write_bytes(kept)
        np.testing.assert_array_equal(stream(make), WANT)
        assert make.times == times
        assert path.read_bytes() == whole, "a whole file replaces it"


@pytest.mark.parametrize("sign", [b"\x00", b"\xff", b"9", b"(", b"'", b"\n"])
def test_a_header_with_a_wrong_byte_never_gets_through(folder: Path, sign: bytes) -> None:
    make = Maker()
    stream(make)
    path = folder / "stems" / "n.npy"
    whole = path.read_bytes()
    for at in range(0, 128, 3):
        path.write_bytes(whole[:at] + sign + whole[at + 1 :])
        np.testing.assert_array_equal(stream(make), WANT)


@pytest.mark.parametrize(
    "content", [b"PK\x03\x04" + bytes(100), b"\x80\x04]\x94.", b"text", bytes(5000)], ids=repr
)
def test_other_files_in_its_place_are_replaced(folder: Path, content: bytes) -> None:
    path = folder / "stems" / "n.npy"
    path.parent.mkdir(parents=True)
    path.write_bytes(content)
    np.testing.assert_array_equal(stream(Maker()), WANT)
    np.save(path, WANT.T)  # doubles, not floats
    np.testing.assert_array_equal(stream(Maker()), WANT)
    np.save(path, WANT.T.astype(np.float32)[:, :1])  # of another wiring
    np.testing.assert_array_equal(stream(Maker()), WANT)
    path.unlink()
    path.mkdir()
    np.testing.assert_array_equal(stream(Maker()), WANT)


# --- places that cannot be written


def test_an_empty_variable_keeps_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(cache.ENVIRONMENT, "")
    monkeypatch.chdir(tmp_path)
    make = Maker()
    for _ in range(2):
        np.testing.assert_array_equal(stream(make), WANT)
    assert make.times == 2
    assert cache.kept("pitch", "n", lambda: np.ones(3, np.float32)).sum() == 3.0
    assert not list(tmp_path.rglob("*"))


def test_a_folder_that_cannot_be_made_is_done_without(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "file").write_text("no folder")
    monkeypatch.setenv(cache.ENVIRONMENT, str(tmp_path / "file" / "kept"))
    make = Maker()
    for _ in range(2):
        np.testing.assert_array_equal(stream(make), WANT)
        assert cache.kept("pitch", "n", lambda: np.ones(3, np.float32)).sum() == 3.0
    assert make.times == 2


def test_a_folder_that_may_only_be_read_still_serves(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The superuser may write everywhere, so the test makes the refusals itself."""
    make = Maker()
    stream(make)

    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "touch", refuse)
    np.testing.assert_array_equal(stream(make), WANT)
    assert make.times == 1
    np.testing.assert_array_equal(stream(make, "new"), WANT)
    assert files(folder) == ["n.npy"]


class Full:
    """A disk without room: the second write is incomplete."""

    def __init__(self, short: bool) -> None:
        self.short, self.calls = short, 0

    def __enter__(self) -> Full:
        return self

    def __exit__(self, *_: object) -> None:
        return None

    def write(self, data: bytes) -> int:
        self.calls += 1
        if self.calls > 1 and not self.short:
            raise OSError(28, "No space left on device")
        return len(data) - (self.calls > 1)


@pytest.mark.parametrize("short", [True, False])
def test_a_full_disk_costs_the_cache_not_the_sound(
    folder: Path, monkeypatch: pytest.MonkeyPatch, short: bool
) -> None:
    monkeypatch.setattr(tempfile, "TemporaryFile", lambda *_, **__: Full(short))
    np.testing.assert_array_equal(stream(Maker()), WANT)
    assert files(folder) == []


def test_no_place_for_temporary_files_either(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def none(*_: object, **__: object) -> None:
        raise FileNotFoundError(2, "No usable temporary directory found")

    monkeypatch.setattr(tempfile, "TemporaryFile", none)
    np.testing.assert_array_equal(stream(Maker()), WANT)


# --- bound


def test_files_unused_for_longest_are_deleted_first(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    size = WANT.size * 4 + 128
    monkeypatch.setattr(cache, "MOST_BYTES", 3 * size + 100)
    for age, name in enumerate("abc"):
        stream(Maker(), name)
        os.utime(folder / "stems" / f"{name}.npy", (1000 + age, 1000 + age))
    stream(Maker(), "a")  # read again: now the last used
    stream(Maker(), "d")
    assert files(folder) == ["a.npy", "c.npy", "d.npy"]
    monkeypatch.setattr(cache, "MOST_BYTES", 10)
    stream(Maker(), "e")
    assert files(folder) == ["e.npy"], "the newest stays, however large"


def test_the_bound_leaves_files_of_others_alone(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (folder / "stems").mkdir(parents=True)
    (folder / "stems" / "notes.txt").write_text("mine")
    (folder / "own.npy").write_bytes(bytes(1000))
    monkeypatch.setattr(cache, "MOST_BYTES", 10)
    stream(Maker())
    assert files(folder) == ["n.npy", "notes.txt", "own.npy"]


# --- interruptions


def test_parts_that_a_crash_left_are_cleared_away(folder: Path) -> None:
    """Recent parts belong to a process still at work."""
    (folder / "stems").mkdir(parents=True)
    old, young = (folder / "stems" / f".{name}.npy.0123.part" for name in ("old", "young"))
    for path in (old, young):
        path.write_bytes(bytes(100))
    os.utime(old, (1000, 1000))
    stream(Maker())
    assert files(folder) == [young.name, "n.npy"]


def test_a_take_left_in_the_middle_leaves_nothing(folder: Path) -> None:
    blocks = cache.kept_stream("stems", "n", Maker(), rows=2, at_once=300)
    next(blocks)
    blocks.close()  # type: ignore[attr-defined]
    assert files(folder) == []


def test_a_take_that_fails_leaves_nothing_and_raises(folder: Path) -> None:
    def failing() -> Iterator[Floats]:
        yield BLOCKS[0]
        raise RuntimeError("no more")

    with pytest.raises(RuntimeError, match="no more"):
        stream(failing)
    assert files(folder) == []
    np.testing.assert_array_equal(stream(Maker()), WANT)


TWO = """
import sys, time
import numpy as np
from server.files.cache import kept_stream
def make():
    for n in range(6):
        time.sleep(0.02)
        yield np.full((3, 1000), n + 0.25)
for _ in range(5):
    blocks = list(kept_stream("stems", sys.argv[1], make, rows=3, at_once=700))
    found = np.concatenate(blocks, axis=1)
    assert found.shape == (3, 6000) and found.sum() == 3000 * (15 + 1.5), found.shape
"""


def test_two_processes_at_once(folder: Path) -> None:
    """Both make it and put it in place; a reader sees a whole file or none."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    both = [
        subprocess.Popen([sys.executable, "-c", TWO, "n"], env=environment, stderr=subprocess.PIPE, text=True)
        for _ in range(2)
    ]
    try:
        ended = [(one.communicate(timeout=60)[1], one.returncode) for one in both]
    finally:
        for one in both:
            with contextlib.suppress(OSError):
                one.kill()
    assert [code for _, code in ended] == [0, 0], ended
    assert files(folder) == ["n.npy"]
