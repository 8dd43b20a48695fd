"""A scratch folder that is always deleted, inside the folder of the finished files.

On the same disk a finished file is renamed, not copied. The folder is locked while its process
lives; the next process deletes the unlocked folder of a killed one.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import signal
import tempfile
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from types import FrameType
from typing import Any

from dsp.errors import InputError
from server.files.lock import try_lock
from server.files.whole import allowed_after, reason

PREFIX = ".presolder-"
FRESH_S = 60.0
"""A folder younger than this may not be locked yet by the process that made it."""
ENDINGS = tuple(getattr(signal, name) for name in ("SIGTERM", "SIGHUP") if hasattr(signal, name))


@contextlib.contextmanager
def scratch_folder(out: Path) -> Iterator[Path]:
    """Make a folder inside another, and delete it when the block ends.

    In the main thread, SIGTERM and SIGHUP end the block as well.

    Parameters
    ----------
    out : Path
        Made if it does not exist.

    Raises
    ------
    InputError
        If the system refuses something in the block; it names `out`.
    SystemExit
        If a signal ended the process.
    """
    try:
        out.mkdir(parents=True, exist_ok=True)
        _sweep(out)
        with contextlib.ExitStack() as stack:
            stack.enter_context(endings_unwind())
            made = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix=PREFIX, dir=out)))
            stack.enter_context(_locked(made))
            yield made
    except OSError as error:
        allowed = allowed_after(error, "a folder that can be written to")
        raise InputError(str(out), reason(error), allowed) from error


@contextlib.contextmanager
def _locked(folder: Path) -> Iterator[bool]:
    """Hold a folder's lock; yield False if another process has it, or the disk has no locks."""
    try:
        handle = os.open(folder, os.O_RDONLY)
    except PermissionError:  # Windows opens no folder
        yield False
        return
    try:
        yield _lock(handle)
    finally:
        os.close(handle)


def _lock(handle: int) -> bool:
    try:
        return try_lock(handle)
    except OSError:
        return False


def _sweep(out: Path) -> None:
    """Delete scratch folders whose process has ended."""
    for folder in out.glob(f"{PREFIX}*"):
        with contextlib.suppress(OSError):
            if time.time() - folder.stat().st_mtime < FRESH_S:
                continue
            with _locked(folder) as free:
                if free:
                    shutil.rmtree(folder)


@contextlib.contextmanager
def endings_unwind() -> Iterator[None]:
    """Let a signal raise SystemExit, so that blocks clean up."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    held = [one for one in ENDINGS if signal.getsignal(one) not in (signal.SIG_IGN, None)]  # nohup stays
    before: dict[signal.Signals, Any] = {one: signal.signal(one, _leave) for one in held}
    try:
        yield
    finally:
        for one, handler in before.items():
            signal.signal(one, handler)


def _leave(number: int, frame: FrameType | None) -> None:
    raise SystemExit(128 + number)
