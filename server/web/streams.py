"""Large answers, sent piece by piece, and how many of them at once."""

from __future__ import annotations

import asyncio
import contextlib
import re
from collections.abc import AsyncIterator, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray
from starlette.responses import Response
from starlette.types import Receive, Scope, Send

from server.refusals import TooOften
from server.web.errors import answer_to

BYTES = "application/octet-stream"
PIECE_BYTES = 1 << 16


@dataclass
class _Slot:
    free: asyncio.Semaphore
    users: int = field(default=0)


class Transfers:
    """Limits how many transfers of one name run at once; a few may wait.

    Parameters
    ----------
    waiting : int
        How many may wait.
    wait_s : float
        How long each waits.
    """

    def __init__(self, at_once: int, waiting: int = 6, wait_s: float = 20.0) -> None:
        self._at_once, self._most, self._wait_s = at_once, at_once + waiting, wait_s
        self._slots: dict[str, _Slot] = {}

    @contextlib.asynccontextmanager
    async def hold(self, name: str) -> AsyncIterator[None]:
        """Run the block once one of the name's transfers has ended.

        Raises
        ------
        TooOften
            If too many wait already, or none ended in time.
        """
        slot = self._slots.setdefault(name, _Slot(asyncio.Semaphore(self._at_once)))
        if slot.users >= self._most:
            raise _refusal(slot.users)
        slot.users += 1
        try:
            try:
                async with asyncio.timeout(self._wait_s):
                    await slot.free.acquire()
            except TimeoutError:
                raise _refusal(slot.users) from None
            try:
                yield
            finally:
                slot.free.release()
        finally:
            slot.users -= 1
            if not slot.users:
                self._slots.pop(name, None)


def _refusal(users: int) -> TooOften:
    return TooOften("the transfer", f"{users} of this link at once", "a few at a time: try again in a minute")


class PiecesResponse(Response):
    """Bytes, sent as fast as the reader takes them.

    They are shared with whoever made them, and not copied: a hundred slow readers of the same stems cost
    one array.

    Parameters
    ----------
    transfers, name : Transfers, str, optional
        What the answer waits for, and under which name it counts.
    """

    media_type = BYTES

    def __init__(
        self,
        content: memoryview,
        headers: Mapping[str, str],
        *,
        status: int = 200,
        transfers: Transfers | None = None,
        name: str = "",
    ) -> None:
        self._bytes = content
        super().__init__(status_code=status, headers={**headers, "Content-Length": str(len(content))})
        self._transfers, self._name = transfers, name

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Send the bytes, or the refusal if its turn does not come."""
        if self._transfers is None:
            await self._send(send)
            return
        try:
            async with self._transfers.hold(self._name):
                await self._send(send)
        except TooOften as error:
            await answer_to(error)(scope, receive, send)

    async def _send(self, send: Send) -> None:
        await send({"type": "http.response.start", "status": self.status_code, "headers": self.raw_headers})
        for start in range(0, max(len(self._bytes), 1), PIECE_BYTES):
            piece = bytes(self._bytes[start : start + PIECE_BYTES])
            more = start + PIECE_BYTES < len(self._bytes)
            await send({"type": "http.response.body", "body": piece, "more_body": more})


class ArrayResponse(PiecesResponse):
    """An array of floats as 32-bit floats, little endian, row after row."""

    def __init__(self, samples: NDArray[Any], headers: Mapping[str, str]) -> None:
        super().__init__(np.ascontiguousarray(samples, "<f4").reshape(-1).data.cast("B"), headers)


def part_of(
    content: bytes, headers: Mapping[str, str], wanted: str
) -> tuple[memoryview, dict[str, str], int]:
    """Return what a request wants of a content, the headers and the status.

    Parameters
    ----------
    wanted : str
        The request's ``Range``. "From here to the end" is understood, which goes on with a transfer that
        was interrupted (RFC 9110, section 14); anything else gets all.
    """
    told = {**headers, "Accept-Ranges": "bytes"}
    found = re.fullmatch(r"bytes=(\d{1,12})-", wanted)
    start = int(found[1]) if found else 0
    if not found or start >= len(content):
        return memoryview(content), told, 200
    told["Content-Range"] = f"bytes {start}-{len(content) - 1}/{len(content)}"
    return memoryview(content)[start:], told, 206
