"""Results of searches in the cache folder, by a digest of the question, so that they are there at once."""

from __future__ import annotations

import contextlib
import json
from collections.abc import Mapping
from typing import Any

from dsp.errors import InputError
from server.files.cache import cache_folder
from server.files.whole import write_text

FOLDER = "answers"
MOST_BYTES = 200 << 20


def load(kind: str, name: str) -> dict[str, Any] | None:
    """A saved result, or None.

    Parameters
    ----------
    name : str
        A digest of all that the result depends on.
    """
    folder = cache_folder()
    if folder is None:
        return None
    path = folder / FOLDER / f"{kind}-{name}.json"
    try:
        result: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
        if not {"values", "texts"} <= result.keys():
            return None
        path.touch()  # its time says when it was last used
    except (OSError, ValueError, AttributeError):
        return None
    return result


def save(kind: str, name: str, result: Mapping[str, Any]) -> None:
    """Save a result if there is a cache folder.

    Results unused for longest give way.
    """
    folder = cache_folder()
    if folder is None:
        return
    path = folder / FOLDER / f"{kind}-{name}.json"
    with contextlib.suppress(OSError, InputError):
        path.parent.mkdir(parents=True, exist_ok=True)
        write_text(path, json.dumps(result, ensure_ascii=False))
        others = [one for one in path.parent.glob("*.json") if one != path]
        files = sorted((one.stat().st_mtime, one.stat().st_size, one) for one in others)
        size = sum(one[1] for one in files) + path.stat().st_size
        for _, bytes_of, old in files:
            if size <= MOST_BYTES:
                break
            old.unlink(missing_ok=True)
            size -= bytes_of
