"""What a search has found, kept by content in the cache folder, so that it is there again at once."""

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


def found(kind: str, name: str) -> dict[str, Any] | None:
    """An answer that was kept, or None.

    Parameters
    ----------
    kind : str
    name : str
        A digest of all that the answer depends on.
    """
    folder = cache_folder()
    if folder is None:
        return None
    path = folder / FOLDER / f"{kind}-{name}.json"
    try:
        answer: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
        if not {"told", "large"} <= answer.keys():
            return None
        path.touch()  # its time says when it was last used
    except (OSError, ValueError, AttributeError):
        return None
    return answer


def keep(kind: str, name: str, answer: Mapping[str, Any]) -> None:
    """Keep an answer if there is a folder; the longest unused give way."""
    folder = cache_folder()
    if folder is None:
        return
    path = folder / FOLDER / f"{kind}-{name}.json"
    with contextlib.suppress(OSError, InputError):
        path.parent.mkdir(parents=True, exist_ok=True)
        write_text(path, json.dumps(answer, ensure_ascii=False))
        others = [one for one in path.parent.glob("*.json") if one != path]
        files = sorted((one.stat().st_mtime, one.stat().st_size, one) for one in others)
        size = sum(one[1] for one in files) + path.stat().st_size
        for _, bytes_of, old in files:
            if size <= MOST_BYTES:
                break
            old.unlink(missing_ok=True)
            size -= bytes_of
