"""A cache of long computations, by content.

A key is everything that the result depends on, the version of the method included; its digest
is the file's name. A file is written whole or not at all. A folder beyond its bound loses the
files unused for longest. If the cache fails in any way, the result is computed.
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
"""Environment variable that names another folder; empty for no cache at all."""
MOST_BYTES = 2 << 30
MOST_TEXT_BYTES = 64 << 20
ABANDONED_S = 86_400.0


def cache_folder() -> Path | None:
    """Return the platform's folder for caches; None for no cache."""
    named = os.environ.get(ENVIRONMENT)
    if named is not None:
        return Path(named) if named else None
    import platformdirs

    return Path(platformdirs.user_cache_dir("presolder"))


def digest(*parts: object) -> str:
    """Return the name for the result of inputs, each given by value.

    Parameters
    ----------
    *parts : object
        Numbers, texts, frozen dataclasses of these: anything that ``repr`` writes in full.
    """
    return hashlib.sha256("\x1f".join(map(repr, parts)).encode()).hexdigest()


def kept(kind: str, name: str, make: Callable[[], NDArray[np.float32]]) -> NDArray[np.float32]:
    """Return an array from the cache, or make it and cache it.

    Parameters
    ----------
    kind : str
        Folder within the cache, such as ``pitch``.
    name : str
        From `digest`.

    Returns
    -------
    ndarray, any shape
        As made. From the cache it is mapped from disk and takes no memory until read.
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
    """Yield blocks of samples from the cache, or make and cache them.

    Parameters
    ----------
    kind, name : str
        As for `kept`.
    make : callable
        Returns the blocks, each of shape (rows, n).
    at_once : int
        Samples in a block read from the cache.

    Yields
    ------
    ndarray, shape (rows, n)
        Rounded to 32 bits, so that the first use gets the samples of every later one.
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


def kept_text(kind: str, name: str, ending: str, make: Callable[[], str]) -> str:
    """Return a text from the cache, or make it and cache it.

    Parameters
    ----------
    kind : str
        Folder within the cache, such as ``pictures``. Its oldest files give way beyond `MOST_TEXT_BYTES`.
    name : str
        From `digest`.
    ending : str
        Of the file's name.
    """
    found = kept_bytes(kind, name, ending, lambda: make().encode(), MOST_TEXT_BYTES)
    try:
        return found.decode()
    except ValueError:  # damaged
        return make()


def found_text(kind: str, name: str, ending: str) -> str | None:
    """Return a text that `kept_text` keeps, if it is there and whole."""
    found = _found_bytes(kind, name, ending)
    try:
        return None if found is None else found.decode()
    except ValueError:
        return None


def _found_bytes(kind: str, name: str, ending: str) -> bytes | None:
    folder = cache_folder()
    if folder is None:
        return None
    path = folder / kind / f"{name}.{ending}"
    with contextlib.suppress(OSError):
        found = path.read_bytes()
        path.touch()  # the time of its last use
        return found or None
    return None


def kept_bytes(kind: str, name: str, ending: str, make: Callable[[], bytes], most_bytes: int) -> bytes:
    """Return a file's content from the cache, or make and cache it.

    Parameters
    ----------
    kind : str
        Folder within the cache. Its files unused for longest give way beyond ``most_bytes``.
    name : str
        From `digest`.
    ending : str
        Of the file's name.
    """
    folder = cache_folder()
    if folder is None:
        return make()
    found = _found_bytes(kind, name, ending)
    if found is not None:
        return found
    path = folder / kind / f"{name}.{ending}"
    made = make()
    with contextlib.suppress(OSError, InputError):
        path.parent.mkdir(parents=True, exist_ok=True)
        with whole_file(path) as beside:
            beside.write_bytes(made)
        _bound_beside(path, most_bytes)
    return made


def _bound_beside(keep: Path, most_bytes: int) -> None:
    """Delete the files beside one that are unused for longest, until all are within their bound."""
    others = [one for one in keep.parent.glob(f"*{keep.suffix}") if one != keep]
    files = sorted((one.stat().st_mtime, one.stat().st_size, one) for one in others)
    size = sum(one[1] for one in files) + keep.stat().st_size
    for _, bytes_of, old in files:
        if size <= most_bytes:
            break
        old.unlink(missing_ok=True)
        size -= bytes_of


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
        key : tuple
            For `digest`.
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
        key : tuple
            For `digest`.
        """
        return kept_stream(kind, digest(*key), make, rows=rows, at_once=at_once)


def _keeping(
    folder: Path, kind: str, name: str, make: Callable[[], Iterator[Floats]], rows: int
) -> Iterator[Floats]:
    """Yield blocks as they are made; cache them once the last one has passed.

    Samples go to a plain file first, because their number is known only at the end.
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
    """Open a nameless file that goes with the stack; None if the disk has no room."""
    with contextlib.suppress(OSError):
        return stack.enter_context(tempfile.TemporaryFile(buffering=0))
    return None


def _found(path: Path) -> NDArray[np.float32] | None:
    """Return a cached array, or None if the file is not a whole array of 32-bit floats."""
    try:
        found = np.lib.format.open_memmap(path, mode="r")
        size = path.stat().st_size
    except (OSError, ValueError, SyntaxError, TokenError, OverflowError, TypeError):
        return None
    whole = found.dtype == np.float32 and found.flags.c_contiguous and size == found.offset + found.nbytes
    if not whole:
        return None
    with contextlib.suppress(OSError):  # a read-only cache still serves
        path.touch()  # the time of its last use
    return found


@contextlib.contextmanager
def _room(folder: Path, kind: str, name: str) -> Iterator[BinaryIO]:
    """Open a file of the cache for writing, whole or not at all."""
    path = folder / kind / f"{name}.npy"
    path.parent.mkdir(parents=True, exist_ok=True)
    with whole_file(path) as beside, beside.open("wb") as file:
        yield file
    _bound(folder, keep=path)


def _bound(folder: Path, *, keep: Path) -> None:
    """Delete the files unused for longest until the folder is within its bound.

    Old parts go too: a machine that went down while writing has left them behind.
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
    """Return the SHA-256 of a file's content.

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
    """Return the digest of the program's text in some of its rooms."""
    whole = hashlib.sha256()
    for room in rooms:
        for path in sorted((PACKAGES / room).rglob("*.py")):
            whole.update(str(path.relative_to(PACKAGES)).encode())
            whole.update(path.read_bytes())
    return whole.hexdigest()
