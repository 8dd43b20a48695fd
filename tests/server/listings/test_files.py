"""A listing's folder as the server sends it: in pieces, under any name, without other files."""

from __future__ import annotations

import zipfile
from pathlib import Path
from urllib.parse import unquote

import pytest
from hostile import KEPT

from server.listings.files import ListingZip, files_of
from server.listings.making.folder import OWN
from server.refusals import Unknown
from server.web.answers import attached

LARGE = 64 << 20
PIECE = 1 << 20


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Make a listing's folder: a large file, a record, an unfinished file, a link that leads out."""
    folder = tmp_path / "listing"
    for path in ("a/index.html", f"{OWN}/record.jsonl", "a/.x.flac.0123456789ab.part", "ä ö/☃.flac"):
        (folder / path).parent.mkdir(parents=True, exist_ok=True)
        (folder / path).write_text(path, encoding="utf-8")
    with (folder / "a" / "large.wav").open("wb") as file:
        file.truncate(LARGE)
    (tmp_path / "secret.html").write_text("secret")
    (folder / "link.html").symlink_to(tmp_path / "secret.html")
    return folder


def test_only_its_own_whole_files_are_sent(folder: Path) -> None:
    found = [path.relative_to(folder).as_posix() for path in files_of(folder)]
    assert found == ["a/index.html", "a/large.wav", "ä ö/☃.flac"]


def test_a_zip_comes_in_pieces_and_has_its_stated_size(folder: Path, tmp_path: Path) -> None:
    zipped, largest, size = ListingZip(folder, "Spring"), 0, 0
    with (tmp_path / "it.zip").open("wb") as file:
        for piece in zipped:
            largest, size = max(largest, len(piece)), size + len(piece)
            file.write(piece)
    assert size == zipped.size > LARGE
    assert largest <= PIECE
    with zipfile.ZipFile(tmp_path / "it.zip") as read:
        assert read.testzip() is None
        assert read.namelist() == ["Spring/a/index.html", "Spring/a/large.wav", "Spring/ä ö/☃.flac"]
        assert read.read("Spring/ä ö/☃.flac") == "ä ö/☃.flac".encode()


def test_an_empty_folder_makes_no_zip(tmp_path: Path) -> None:
    with pytest.raises(Unknown, match="no file"):
        ListingZip(tmp_path, "Spring")


@pytest.mark.parametrize("name", KEPT.values(), ids=KEPT)
def test_a_name_stays_within_its_header(name: str) -> None:
    header = attached(f"{name}.zip")
    assert header.isascii()
    assert header.isprintable()
    assert header.count('"') == 2
    plain, own = header.removeprefix("attachment; ").split("; filename*=UTF-8''")
    assert plain.startswith('filename="')
    assert plain.endswith('.zip"')
    assert unquote(own) == f"{name}.zip"
