"""The process that started this one, as its child sees it."""

from __future__ import annotations

import contextlib
import os
import queue
import sys
import threading
from collections.abc import Iterator

from server.processes.frames import pack, read_frames


class Parent:
    """Frames to and from the parent; its end is the end of this process.

    The parent alone holds the other end of standard input. When the parent ends, however it ends,
    the input ends too, and a thread that reads it ends this process in the middle of its work.
    """

    def __init__(self) -> None:
        self._input = os.dup(0)
        self._output = os.dup(1)
        with contextlib.suppress(OSError):
            os.dup2(2, 1)  # what a library prints must not look like a frame
        sys.stdout = sys.stderr
        self._frames: queue.SimpleQueue[bytes] = queue.SimpleQueue()
        threading.Thread(target=self._read, name="lifeline", daemon=True).start()

    def _read(self) -> None:
        with contextlib.suppress(OSError):
            for frame in read_frames(lambda count: os.read(self._input, min(count, 1 << 20))):
                self._frames.put(frame)
        os._exit(1)

    def frames(self) -> Iterator[bytes]:
        """Frames as the parent sends them, without end."""
        while True:
            yield self._frames.get()

    def send(self, content: bytes) -> None:
        """Send a frame. If nobody can receive it, this process ends."""
        view = memoryview(pack(content))
        try:
            while view:
                view = view[os.write(self._output, view) :]
        except OSError:
            os._exit(1)
