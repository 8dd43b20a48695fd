"""The list of clips that lies beside them: `clips.json`, kept from render to render."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from server.files.whole import write_text

LIST_NAME = "clips.json"
Entry = dict[str, Any]


def write_list(out: Path, entries: Sequence[Entry], *, told: Callable[[str], None] | None = None) -> None:
    """Put entries into a folder's list; those of other clips stay.

    A list that cannot be understood is no longer ours: it is renamed, never overwritten.

    Parameters
    ----------
    out : Path
    entries : sequence of dict
        Each with its ``file``.
    told : callable
        Called with a sentence where a list had to be put aside.

    Raises
    ------
    InputError
        When the list cannot be written; see `write_text`.
    OSError
        When one that cannot be understood cannot be renamed.
    """
    path = out / LIST_NAME
    old = _read(path)
    if old is None:
        aside = _put_aside(path)
        old = []
        if told:
            told(f"{path} was no list of clips and now is {aside.name}")
    new = {entry["file"] for entry in entries}
    kept = [entry for entry in old if entry["file"] not in new and (out / entry["file"]).exists()]
    write_text(path, json.dumps({"clips": [*kept, *entries]}, indent=1, ensure_ascii=False) + "\n")


def _read(path: Path) -> list[Entry] | None:
    """Entries of a list; none where there is no file, None where it is no list."""
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
    """Rename a file to a name beside it that is free."""
    number = 1
    while (aside := path.with_name(f"{path.stem}.unreadable-{number}{path.suffix}")).exists():
        number += 1
    return path.rename(aside)
