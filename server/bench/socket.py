"""The live connection: settings come in, filters go out; the newest setting wins."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import Iterable

from fastapi import APIRouter, WebSocket, WebSocketDisconnect
from pydantic import ValidationError

from dsp.errors import InputError, Problem
from server.bench.forms import FiltersForm, draft_of, drafts_of, takes_of
from server.bench.frames import Asked, Filters
from server.web.access import socket_allowed
from server.web.errors import of_pydantic, problems_json

router = APIRouter()
REFUSED = 4403
"""Close code for a page that is not ours or has not given the key."""
LARGEST = 256 * 1024
"""Characters of one message."""


def asked_of(form: FiltersForm) -> Asked:
    """A request as it is answered."""
    setting = form.setting
    return Asked(form.id, draft_of(form.draft), setting.position, setting.knobs, setting.switches, form.take)


@router.websocket("/api/live")
async def live(socket: WebSocket) -> None:
    """Answer settings with filters until the page goes."""
    await socket.accept()
    if not socket_allowed(socket):
        await socket.close(REFUSED, "the bench's key is needed")
        return
    session = _Session(socket, Filters(drafts_of(socket), takes_of(socket)))
    try:
        await session.run()
    except (WebSocketDisconnect, RuntimeError):  # the latter: sent to a page that has just gone
        return


class _Session:
    """One page's connection: while one answer is being worked out, only the latest request waits."""

    def __init__(self, socket: WebSocket, filters: Filters) -> None:
        self._socket = socket
        self._filters = filters
        self._newest: Asked | None = None
        self._came = asyncio.Event()
        self._lacking: Asked | None = None
        self._levelling: asyncio.Task[None] | None = None

    async def run(self) -> None:
        """Answer until the page goes."""
        answering = asyncio.create_task(self._answer())
        try:
            async for text in self._socket.iter_text():
                await self._take(text)
        finally:
            for task in (answering, self._levelling):
                if task is not None:
                    task.cancel()
                    with contextlib.suppress(asyncio.CancelledError, WebSocketDisconnect, RuntimeError):
                        await task

    async def _take(self, text: str) -> None:
        """Put a message in the place of the one that waits."""
        try:
            if len(text) > LARGEST:
                raise InputError("message", f"{len(text)} characters", f"at most {LARGEST}")
            self._newest = asked_of(FiltersForm.model_validate_json(text))
            self._came.set()
        except ValidationError as error:
            await self._refuse(None, map(of_pydantic, error.errors(include_url=False)))
        except InputError as error:
            await self._refuse(None, error.problems)

    async def _answer(self) -> None:
        while True:
            await self._came.wait()
            self._came.clear()
            asked = self._newest
            assert asked is not None  # set before the event
            self._lacking = None if await self._send(asked, wait=False) else asked
            if self._lacking and (self._levelling is None or self._levelling.done()):
                self._levelling = asyncio.create_task(self._level())

    async def _level(self) -> None:
        """Play the take, then send the newest frame again with its level in it."""
        while (asked := self._lacking) is not None:
            try:
                frame, _ = await asyncio.to_thread(self._filters.frame, asked, wait=True)
            except InputError as error:
                self._lacking = None if self._lacking is asked else self._lacking
                await self._refuse(asked.id, error.problems)
                continue
            if self._lacking is asked:  # else a newer one wants its level by now, and finds the take ready
                self._lacking = None
                await self._socket.send_bytes(frame)

    async def _send(self, asked: Asked, *, wait: bool) -> bool:
        """Send one answer; whether it needs no other."""
        try:
            frame, whole = await asyncio.to_thread(self._filters.frame, asked, wait=wait)
        except InputError as error:
            await self._refuse(asked.id, error.problems)
            return True
        await self._socket.send_bytes(frame)
        return whole

    async def _refuse(self, number: int | None, problems: Iterable[Problem]) -> None:
        await self._socket.send_json({"id": number, **problems_json(problems)})
