"""The list of clips beside them, ``clips.json``: later renders add to it."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from server.files.whole import write_text

LIST_NAME = "clips.json"
Entry = dict[str, Any]


def write_list(out: Path, entries: Sequence[Entry], *, note: Callable[[str], None] | None = None) -> None:
    """Put entries into a folder's list; the entries of other clips stay.

    A file that is not a list of clips is not ours: it is renamed, never overwritten.

    Parameters
    ----------
    entries : sequence of dict
        Each with its ``file``.
    note : callable
        Called with a sentence if a file had to be renamed.

    Raises
    ------
    InputError
        If the list cannot be written; see `write_text`.
    OSError
        If the other file cannot be renamed.
    """
    path = out / LIST_NAME
    old = _read(path)
    if old is None:
        aside = _put_aside(path)
        old = []
        if note:
            note(f"{path} was not a list of clips; it is now {aside.name}")
    new = {entry["file"] for entry in entries}
    others = [entry for entry in old if entry["file"] not in new and (out / entry["file"]).exists()]
    write_text(path, json.dumps({"clips": [*others, *entries]}, indent=1, ensure_ascii=False) + "\n")


def _read(path: Path) -> list[Entry] | None:
    """Return the entries of a list: none if there is no file, None if the file is not a list."""
    if path.exists() and not path.is_file():
        return None
    try:
        clips = json.loads(path.read_text(encoding="utf-8"))["clips"]
        found = [entry for entry in clips if isinstance(entry["file"], str)]
    except FileNotFoundError:
        return []
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return None
    return found if len(found) == len(clips) else None


def _put_aside(path: Path) -> Path:
    """Rename a file to a free name beside it."""
    number = 1
    while (aside := path.with_name(f"{path.stem}.unreadable-{number}{path.suffix}")).exists():
        number += 1
    return path.rename(aside)
