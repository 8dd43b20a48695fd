"""What took long to compute, kept by content: the second use is instant.

A key is everything the result depends on, the version of the method included; its digest is
the file's name. A file is written whole or not at all, and a folder grown beyond its bound
loses what was not used for longest. Whatever goes wrong with the cache, the result is computed.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import shutil
import tempfile
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from tokenize import TokenError
from typing import IO, BinaryIO

import numpy as np
from numpy.typing import NDArray

from dsp.errors import InputError
from server.files.whole import reason, whole_file
from server.paths import PACKAGES

Floats = NDArray[np.float64]
ENVIRONMENT = "PRESOLDER_CACHE"
"""Variable that names another folder; empty for no cache at all."""
MOST_BYTES = 2 << 30
ABANDONED_S = 86_400.0


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
        Folder within the cache, such as ``pitch``.
    name : str
        From `digest`.
    make : callable

    Returns
    -------
    ndarray, any shape
        As made. Mapped from disk where it was kept: it takes no memory until read.
    """
    folder = cache_folder()
    found = None if folder is None else _found(folder / kind / f"{name}.npy")
    if found is not None:
        return found
    made = make()
    if folder is not None:
        with contextlib.suppress(OSError, InputError), _room(folder, kind, name) as file:
            np.save(file, made)
    return made


def kept_stream(
    kind: str, name: str, make: Callable[[], Iterator[Floats]], *, rows: int, at_once: int
) -> Iterator[Floats]:
    """Blocks of samples from the cache, or made now and kept as they pass.

    Parameters
    ----------
    kind, name : str
        As for `kept`.
    make : callable
        Gives the blocks, each of shape (rows, n).
    rows : int
    at_once : int
        Samples in a block read from the cache.

    Yields
    ------
    ndarray, shape (rows, n)
        As made, to 32 bits: the first use hears what every later one does.
    """
    folder = cache_folder()
    found = None if folder is None else _found(folder / kind / f"{name}.npy")
    if found is not None and found.ndim == 2 and found.shape[1] == rows and len(found):
        for start in range(0, len(found), at_once):
            yield np.ascontiguousarray(found[start : start + at_once].T, dtype=float)
        return
    if folder is None:
        for block in make():
            yield block.astype(np.float32).astype(float)
        return
    yield from _keeping(folder, kind, name, make, rows)


@dataclass(frozen=True)
class Cache:
    """The cache as an object, for computations that know no files."""

    def kept(
        self, kind: str, key: tuple[object, ...], make: Callable[[], NDArray[np.float32]]
    ) -> NDArray[np.float32]:
        """Return an array of the cache, or make and keep it; see `kept`.

        The array has any shape.

        Parameters
        ----------
        kind : str
        key : tuple
            For `digest`.
        make : callable
        """
        return kept(kind, digest(*key), make)

    def kept_stream(
        self,
        kind: str,
        key: tuple[object, ...],
        make: Callable[[], Iterator[Floats]],
        *,
        rows: int,
        at_once: int,
    ) -> Iterator[Floats]:
        """Return blocks, shape (rows, n), of the cache, or make and keep them.

        Parameters
        ----------
        kind : str
        key : tuple
            For `digest`.
        make : callable
        rows, at_once : int
        """
        return kept_stream(kind, digest(*key), make, rows=rows, at_once=at_once)


def _keeping(
    folder: Path, kind: str, name: str, make: Callable[[], Iterator[Floats]], rows: int
) -> Iterator[Floats]:
    """Blocks as they are made; kept whole if they could be, to the end.

    Samples go to a plain file first, for their number is known at the end only.
    """
    with contextlib.ExitStack() as stack:
        plain, length = _plain_file(stack), 0
        for block in make():
            samples = np.ascontiguousarray(block.T, dtype=np.float32)
            try:
                if plain is not None and plain.write(data := samples.tobytes()) != len(data):
                    plain = None  # no room for all of it
            except OSError:
                plain = None
            length += len(samples)
            yield samples.T.astype(float)
        if plain is None:
            return
        with contextlib.suppress(OSError, InputError), _room(folder, kind, name) as file:
            plain.seek(0)
            shape = {"descr": "<f4", "fortran_order": False, "shape": (length, rows)}
            np.lib.format.write_array_header_1_0(file, shape)
            shutil.copyfileobj(plain, file, 1 << 22)


def _plain_file(stack: contextlib.ExitStack) -> IO[bytes] | None:
    """A file without a name, gone when the stack closes; None where there is no room for one."""
    with contextlib.suppress(OSError):
        return stack.enter_context(tempfile.TemporaryFile(buffering=0))
    return None


def _found(path: Path) -> NDArray[np.float32] | None:
    """What was kept, or None; anything else than a whole array of 32-bit floats was not."""
    try:
        found = np.lib.format.open_memmap(path, mode="r")
        size = path.stat().st_size
    except (OSError, ValueError, SyntaxError, TokenError, OverflowError, TypeError):
        return None
    whole = found.dtype == np.float32 and found.flags.c_contiguous and size == found.offset + found.nbytes
    if not whole:
        return None
    with contextlib.suppress(OSError):  # what may only be read is used all the same
        path.touch()  # its time says when it was last used
    return found


@contextlib.contextmanager
def _room(folder: Path, kind: str, name: str) -> Iterator[BinaryIO]:
    """A file of the cache to be written, whole or not at all."""
    path = folder / kind / f"{name}.npy"
    path.parent.mkdir(parents=True, exist_ok=True)
    with whole_file(path) as beside, beside.open("wb") as file:
        yield file
    _bound(folder, keep=path)


def _bound(folder: Path, *, keep: Path) -> None:
    """Delete what was not used for longest until the folder is within its bound.

    And what a machine that went down while writing has left behind: parts that old are nobody's.
    """
    for part in folder.glob("*/.*.npy.*.part"):
        if keep.stat().st_mtime - part.stat().st_mtime > ABANDONED_S:
            part.unlink(missing_ok=True)
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


def digest_of(path: Path) -> str:
    """SHA-256 of a file's content.

    Raises
    ------
    InputError
        If it cannot be read.
    """
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as error:
        raise InputError(str(path), reason(error), "a file that can be read") from error


def sources_digest(rooms: Sequence[str]) -> str:
    """Digest of the program's text in some of its rooms."""
    whole = hashlib.sha256()
    for room in rooms:
        for path in sorted((PACKAGES / room).rglob("*.py")):
            whole.update(str(path.relative_to(PACKAGES)).encode())
            whole.update(path.read_bytes())
    return whole.hexdigest()
