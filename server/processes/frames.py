"""Messages through a pipe: four bytes that give a length, then so many bytes."""

from __future__ import annotations

import struct
from collections.abc import Callable, Iterator

HEAD = struct.Struct("!I")


def pack(content: bytes) -> bytes:
    """The frame that carries some bytes, at most 4 GiB."""
    return HEAD.pack(len(content)) + content


def read_frames(read: Callable[[int], bytes]) -> Iterator[bytes]:
    """Read frames until the stream ends.

    A frame that the end cuts off is dropped.

    Parameters
    ----------
    read : callable
        Returns at most so many bytes, and none at the end.
    """
    while (head := _read_all(read, HEAD.size)) is not None:
        content = _read_all(read, *HEAD.unpack(head))
        if content is None:
            return
        yield content


def _read_all(read: Callable[[int], bytes], count: int) -> bytes | None:
    """So many bytes, or None if the stream ends first."""
    parts: list[bytes] = []
    while count:
        part = read(count)
        if not part:
            return None
        parts.append(part)
        count -= len(part)
    return b"".join(parts)
