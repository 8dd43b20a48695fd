"""What took long to compute, kept by content: the second use is instant.

A key is everything the result depends on, the version of the method included; its digest is
the file's name. A file is written whole or not at all, and a folder grown beyond its bound
loses what was not used for longest. Whatever goes wrong with the cache, the result is computed.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
from collections.abc import Callable
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from dsp.errors import InputError
from server.storage.whole_files import whole_file

ENVIRONMENT = "PRESOLDER_CACHE"
"""Variable that names another folder; empty for no cache at all."""
MOST_BYTES = 2 << 30


def cache_folder() -> Path | None:
    """Where results are kept, by the platform's custom; None if they are not."""
    named = os.environ.get(ENVIRONMENT)
    if named is not None:
        return Path(named) if named else None
    import platformdirs

    return Path(platformdirs.user_cache_dir("presolder"))


def digest(*parts: object) -> str:
    """Name for the result of inputs, each given by value.

    Parameters
    ----------
    *parts : object
        Numbers, texts, frozen dataclasses of such: whatever ``repr`` tells in full.
    """
    return hashlib.sha256("\x1f".join(map(repr, parts)).encode()).hexdigest()


def kept(kind: str, name: str, make: Callable[[], NDArray[np.float32]]) -> NDArray[np.float32]:
    """An array of the cache, or made now and kept.

    Parameters
    ----------
    kind : str
        Folder within the cache, such as ``stems``.
    name : str
        From `digest`.
    make : callable

    Returns
    -------
    ndarray, any shape
        As made. Mapped from disk where it was kept: it takes no memory until read.
    """
    folder = cache_folder()
    if folder is None:
        return make()
    path = folder / kind / f"{name}.npy"
    with contextlib.suppress(OSError, ValueError, EOFError):
        found: NDArray[np.float32] = np.load(path, mmap_mode="r")
        path.touch()  # its time says when it was last used
        return found
    made = make()
    with contextlib.suppress(OSError, InputError):
        path.parent.mkdir(parents=True, exist_ok=True)
        with whole_file(path) as beside, beside.open("wb") as file:
            np.save(file, made)
        _bound(folder, keep=path)
    return made


def _bound(folder: Path, *, keep: Path) -> None:
    """Delete what was not used for longest until the folder is within its bound."""
    files = sorted(
        (entry.stat().st_mtime, entry.stat().st_size, entry)
        for entry in folder.glob("*/*.npy")
        if entry != keep
    )
    size = sum(one[1] for one in files) + keep.stat().st_size
    for _, bytes_of, path in files:
        if size <= MOST_BYTES:
            break
        path.unlink(missing_ok=True)
        size -= bytes_of
