"""Large answers, sent piece by piece, and how many of them at once."""

from __future__ import annotations

import asyncio
import contextlib
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


class ArrayResponse(Response):
    """The bytes of an array, sent as fast as the reader takes them.

    The array is shared with whoever made it, and not copied: a hundred slow readers of the same
    stems cost one array.

    Parameters
    ----------
    samples : ndarray of float
        Sent as 32-bit floats, little endian, row after row.
    transfers, name : Transfers, str, optional
        What the answer waits for, and under which name it counts.
    """

    media_type = BYTES

    def __init__(
        self,
        samples: NDArray[Any],
        headers: Mapping[str, str],
        *,
        transfers: Transfers | None = None,
        name: str = "",
    ) -> None:
        self._bytes = np.ascontiguousarray(samples, "<f4").reshape(-1).data.cast("B")
        super().__init__(headers={**headers, "Content-Length": str(len(self._bytes))})
        self._transfers, self._name = transfers, name

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Send the array, or the refusal if its turn does not come."""
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
