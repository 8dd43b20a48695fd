"""Locks between processes. The system releases a lock when its holder ends, however it ends."""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Iterator
from pathlib import Path

WORKER_LOCK = "worker.lock"
FAR = 1 << 30
"""Byte that is locked where a lock is of bytes: beyond the content, which others may then still read."""

if sys.platform == "win32":
    import msvcrt

    def try_lock(handle: int) -> bool:
        """Lock an open file; see below."""
        os.lseek(handle, FAR, os.SEEK_SET)
        try:
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        except PermissionError:
            return False
        finally:
            os.lseek(handle, 0, os.SEEK_SET)
        return True

else:
    import fcntl

    def try_lock(handle: int) -> bool:
        """Lock an open file or folder until it is closed.

        Returns
        -------
        bool
            False if another process holds the lock.

        Raises
        ------
        OSError
            If the disk knows no locks.
        """
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        return True


@contextlib.contextmanager
def sole_worker(folder: Path) -> Iterator[bool]:
    """Hold the lock of the one worker of a folder.

    Parameters
    ----------
    folder : Path
        Made if needed.

    Yields
    ------
    bool
        False if another process holds it, or the disk knows no locks.
    """
    folder.mkdir(parents=True, exist_ok=True)
    with (folder / WORKER_LOCK).open("w") as file:
        alone = False
        with contextlib.suppress(OSError):
            alone = try_lock(file.fileno())
        yield alone
