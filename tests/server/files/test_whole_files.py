"""Files are written whole or not at all."""

from __future__ import annotations

import contextlib
import errno
import os
import resource
import stat

import pytest

from dsp.errors import InputError
from server.files import whole as whole_files
from server.files.whole import whole_file, write_bytes, write_text


def names(folder):
    """Return the names in a folder, hidden files included."""
    return sorted(path.name for path in folder.iterdir())


def test_text_is_written_and_replaced(tmp_path):
    path = tmp_path / "wiring.yaml"
    write_text(path, "name: Ω\r\n")
    assert path.read_bytes() == "name: Ω\r\n".encode()
    write_bytes(path, b"new")
    assert path.read_bytes() == b"new"
    assert names(tmp_path) == ["wiring.yaml"]


def test_the_old_file_stands_until_the_new_one_is_whole(tmp_path):
    path = tmp_path / "a.txt"
    write_text(path, "old")
    with whole_file(path) as beside:
        assert beside.parent == tmp_path
        beside.write_text("new")
        assert path.read_text() == "old"
    assert path.read_text() == "new"


def fail_midway(path):
    with whole_file(path) as beside:
        beside.write_text("half")
        raise ZeroDivisionError


def test_an_exception_midway_leaves_the_old_file_and_nothing_else(tmp_path):
    path = tmp_path / "a.txt"
    write_text(path, "old")
    with pytest.raises(ZeroDivisionError):
        fail_midway(path)
    assert path.read_text() == "old"
    assert names(tmp_path) == ["a.txt"]


def test_an_error_of_another_file_is_not_blamed_on_this_one(tmp_path):
    with pytest.raises(FileNotFoundError, match="source"), whole_file(tmp_path / "a.txt"):
        (tmp_path / "source.txt").read_text()
    assert names(tmp_path) == []


@pytest.mark.parametrize("place", ["missing/a.txt", "file.txt/a.txt"])
def test_a_folder_that_cannot_be_written_is_named(tmp_path, place):
    (tmp_path / "file.txt").write_text("not a folder")
    with pytest.raises(InputError, match=place):
        write_text(tmp_path / place, "x")
    assert names(tmp_path) == ["file.txt"]


@pytest.mark.skipif(os.geteuid() == 0, reason="the superuser may write anywhere")
def test_a_folder_without_permission_is_named(tmp_path):
    tmp_path.chmod(0o500)
    with pytest.raises(InputError, match=str(tmp_path)):
        write_text(tmp_path / "a.txt", "x")
    tmp_path.chmod(0o700)


def test_a_system_folder_that_takes_no_files_is_named():
    with pytest.raises(InputError, match=r"/proc/a\.txt"):
        write_text(whole_files.Path("/proc/a.txt"), "x")


def test_a_path_that_is_a_folder_is_refused(tmp_path):
    (tmp_path / "clips").mkdir()
    with pytest.raises(InputError, match="directory"):
        write_text(tmp_path / "clips", "x")
    assert names(tmp_path) == ["clips"]


@contextlib.contextmanager
def little_room():
    """Limit files of this process to 1000 bytes, as a full disk would.

    The limit ends with the test; it would hold for the test runner's report as well.
    """
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (1000, before[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)


def test_no_room_leaves_the_old_file(tmp_path):
    path = tmp_path / "a.bin"
    write_bytes(path, b"old")
    with little_room(), pytest.raises(InputError, match=r"a\.bin"):
        write_bytes(path, bytes(5000))
    assert path.read_bytes() == b"old"
    assert names(tmp_path) == ["a.bin"]


def test_a_disk_that_fills_up_at_the_flush_leaves_the_old_file(tmp_path, monkeypatch):
    path = tmp_path / "a.txt"
    write_text(path, "old")

    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(whole_files.os, "fsync", full)
    with pytest.raises(InputError, match="no space left"):
        write_text(path, "new")
    assert path.read_text() == "old"
    assert names(tmp_path) == ["a.txt"]


def test_a_new_file_has_the_usual_permissions(tmp_path):
    (tmp_path / "usual.txt").touch()
    write_text(tmp_path / "ours.txt", "x")
    modes = {stat.S_IMODE((tmp_path / name).stat().st_mode) for name in ("usual.txt", "ours.txt")}
    assert len(modes) == 1


def test_a_symbolic_link_stays_one(tmp_path):
    (tmp_path / "real.txt").write_text("old")
    (tmp_path / "link.txt").symlink_to("real.txt")
    write_text(tmp_path / "link.txt", "new")
    assert (tmp_path / "link.txt").is_symlink()
    assert (tmp_path / "real.txt").read_text() == "new"


def test_a_long_name_leaves_room_for_the_temporary_one(tmp_path):
    write_text(tmp_path / ("ü" * 120 + ".txt"), "x")
    assert len(names(tmp_path)) == 1
