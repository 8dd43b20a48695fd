"""The folder of compiled code: numba's cache of the functions that the pitch tracker calls.

Two processes that compile at the same time can leave a cache that ends every later process: one
function's code calls another's by a name that the second process has replaced. A cache is
therefore filled by one process at a time, and marked once it is whole. From then on it is only read.
"""

from __future__ import annotations

import contextlib
import os
import tempfile
import time
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path

from server.files.cache import cache_folder, digest
from server.files.lock import try_lock
from server.files.whole import reason
from server.refusals import Unavailable

VARIABLE = "NUMBA_CACHE_DIR"
"""Environment variable in which numba finds the folder."""
LOCK = "compiling.lock"
LONGEST_S, AGAIN_S = 900.0, 0.1
"""How long to wait for another process that compiles, and between two looks."""


def fill_once(versions: tuple[object, ...], fill: Callable[[], None]) -> None:
    """Fill the folder of compiled code unless it is whole already.

    The folder is that of the environment, or one in the user's cache; from now on the environment
    of this process and its children names it.

    Parameters
    ----------
    versions : tuple
        Everything that the compiled code depends on.
    fill : callable
        Compiles. It runs while no other process does.

    Raises
    ------
    Unavailable
        If the folder cannot be written, or another process compiles without end.
    """
    folder = _folder()
    os.environ[VARIABLE] = str(folder)
    whole = folder / f"whole-{digest(*versions)[:16]}"
    if whole.exists():
        return
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with _alone(folder):
            if not whole.exists():
                fill()
                whole.touch()
    except OSError as error:
        raise Unavailable(str(folder), reason(error), "a folder that can be written") from error


def _folder() -> Path:
    named = os.environ.get(VARIABLE)
    if named:
        return Path(named)
    kept = cache_folder()
    return Path(_own_folder().name) if kept is None else kept / "compiled"


@cache
def _own_folder() -> tempfile.TemporaryDirectory[str]:
    """Make a folder that goes with this process, for those who want no cache."""
    return tempfile.TemporaryDirectory(prefix="presolder-compiled-")


@contextlib.contextmanager
def _alone(folder: Path) -> Iterator[None]:
    """Wait until no other process holds the folder, and hold it.

    A disk that knows no locks is used without.
    """
    end = time.monotonic() + LONGEST_S
    with (folder / LOCK).open("w") as file:
        while not _locked(file.fileno()):
            if time.monotonic() > end:
                raise Unavailable(str(folder), "another process still compiles", "one that ends")
            time.sleep(AGAIN_S)
        yield


def _locked(handle: int) -> bool:
    try:
        return try_lock(handle)
    except OSError:
        return True
