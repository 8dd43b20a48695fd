"""The live connection: settings come in, filters go out; the newest setting wins."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Generic, TypeVar

from fastapi import APIRouter, WebSocket, WebSocketDisconnect
from pydantic import ValidationError

from dsp.errors import InputError, Problem
from server.bench.forms import LiveForm, bench_of
from server.bench.hearing import Bench, Hearing
from server.web.access import socket_allowed
from server.web.errors import of_pydantic, problems_json

router = APIRouter()
REFUSED = 4403
"""Close code for a page of another origin, or one without the bench's key."""
LARGEST = 256 * 1024
"""Characters of one message."""
REST_S = 0.25
"""Nothing newer must come for so long before a take is run through a way that bends: that takes a second of a
core, which the filters of a moving knob need."""

Item = TypeVar("Item")


class Newest(Generic[Item]):
    """A place for one waiting item: a newer item replaces it."""

    def __init__(self) -> None:
        self._item: Item | None = None
        self._came = asyncio.Event()

    def put(self, item: Item) -> None:
        """Replace the item."""
        self._item = item
        self._came.set()

    def clear(self) -> None:
        """Drop the item."""
        self._item = None
        self._came.clear()

    async def wait(self) -> Item:
        """Return the newest item as soon as one waits; each is returned once at most."""
        while True:
            await self._came.wait()
            self._came.clear()
            if self._item is not None:  # else dropped since
                return self._item

    def holds(self, item: Item) -> bool:
        """Whether no newer item has come, and the item was not dropped."""
        return self._item is item


@dataclass(frozen=True, eq=False)
class _Request:
    """A hearing and the number that its answer repeats."""

    number: int
    hearing: Hearing


@router.websocket("/api/live")
async def live(socket: WebSocket) -> None:
    """Answer settings with filters until the page goes."""
    await socket.accept()
    if not socket_allowed(socket):
        await socket.close(REFUSED, "the bench's key is needed")
        return
    session = _Session(socket, bench_of(socket))
    try:
        await session.run()
    except (WebSocketDisconnect, RuntimeError):  # the latter: sent to a page that has just gone
        return


class _Session:
    """One page's connection.

    While one answer is computed, only the newest request waits. A request whose take has not
    been played is answered at once without its level, and again with it as soon as it is known,
    unless a newer request has been answered by then.
    """

    def __init__(self, socket: WebSocket, bench: Bench) -> None:
        self._socket, self._bench = socket, bench
        self._requests: Newest[_Request] = Newest()
        self._without_level: Newest[_Request] = Newest()

    async def run(self) -> None:
        """Answer until the page goes."""
        tasks = [asyncio.create_task(self._answer()), asyncio.create_task(self._level())]
        try:
            while True:
                await self._receive(await self._read())
        finally:
            for task in tasks:
                task.cancel()
                with contextlib.suppress(asyncio.CancelledError, WebSocketDisconnect, RuntimeError):
                    await task

    async def _read(self) -> str | None:
        """Return the next message, None for a binary one.

        Raises
        ------
        WebSocketDisconnect
        """
        message = await self._socket.receive()
        if message["type"] == "websocket.disconnect":
            raise WebSocketDisconnect(message["code"])
        text: str | None = message.get("text")
        return text

    async def _receive(self, text: str | None) -> None:
        """Put a message in the place of the one that waits."""
        try:
            if text is None:
                raise InputError("message", "binary data", "JSON as text")
            if len(text) > LARGEST:
                raise InputError("message", f"{len(text)} characters", f"at most {LARGEST}")
            form = LiveForm.model_validate_json(text)
            self._requests.put(_Request(form.id, form.hearing()))
        except ValidationError as error:
            await self._refuse(None, map(of_pydantic, error.errors(include_url=False)))
        except InputError as error:
            await self._refuse(None, error.problems)

    async def _answer(self) -> None:
        """Send the frame of the newest request at once."""
        while True:
            request = await self._requests.wait()
            try:
                frame, has_level = await self._frame(request, wait=False)
            except InputError as error:
                self._without_level.clear()
                await self._refuse(request.number, error.problems)
                continue
            await self._socket.send_bytes(frame)
            if has_level:
                self._without_level.clear()
            else:
                self._without_level.put(request)

    async def _level(self) -> None:
        """Play the take of the newest request without a level, then send its frame again."""
        while True:
            request = await self._without_level.wait()
            if request.hearing.through.bends:
                await asyncio.sleep(REST_S)
                if not self._without_level.holds(request):
                    continue
            try:
                frame, _ = await self._frame(request, wait=True)
            except InputError as error:
                await self._refuse(request.number, error.problems)
                continue
            if self._without_level.holds(request):  # else a newer one finds the take ready
                await self._socket.send_bytes(frame)

    async def _frame(self, request: _Request, *, wait: bool) -> tuple[bytes, bool]:
        return await asyncio.to_thread(self._bench.frame, request.hearing, request.number, wait=wait)

    async def _refuse(self, number: int | None, problems: Iterable[Problem]) -> None:
        await self._socket.send_json({"id": number, **problems_json(problems)})
