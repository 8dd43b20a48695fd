"""Wait for a proposal to change. One look at the database serves everybody who waits."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import Any
from weakref import WeakKeyDictionary

from fastapi import FastAPI, Request
from starlette.concurrency import run_in_threadpool
from starlette.requests import ClientDisconnect

from server.database.store import Store
from server.proposals.store import changes, changes_of_each
from server.refusals import Unavailable
from server.web.per_app import one_per_app

LONGEST_WAIT_S = 25.0
"""Below the minute after which proxies give up (common practice)."""
LOOK_EVERY_S = 0.25
"""Another process may write too: a command that keeps a proposal, say."""


class News:
    """Tells those who wait in one event loop that a proposal has changed.

    Parameters
    ----------
    is_ending : callable
        Whether the server stops: then nobody waits any longer.
    """

    def __init__(self, store: Store, is_ending: Callable[[], bool] = lambda: False) -> None:
        self._store, self._is_ending = store, is_ending
        self._waiting: dict[asyncio.Future[int], tuple[str, int]] = {}
        self._looking: asyncio.Task[None] | None = None

    async def wait(self, proposal: str, after: int) -> dict[str, Any]:
        """Return once a proposal has changed, or after 25 s.

        Parameters
        ----------
        after : int
            How often it had changed when it was last looked at.

        Returns
        -------
        dict
            `after`, how often now, and whether it `changed`.

        Raises
        ------
        Unknown
            If there is no such proposal.
        """
        found = await run_in_threadpool(changes, self._store, proposal)
        if found == after:
            found = await self._next(proposal, after)
        return {"after": found, "changed": found != after}

    async def _next(self, proposal: str, after: int) -> int:
        told: asyncio.Future[int] = asyncio.get_running_loop().create_future()
        self._waiting[told] = (proposal, after)
        if self._looking is None or self._looking.done():
            self._looking = asyncio.create_task(self._look())
        try:
            async with asyncio.timeout(LONGEST_WAIT_S):
                return await told
        except TimeoutError:
            return after
        finally:
            del self._waiting[told]

    async def _look(self) -> None:
        """Look while anybody waits."""
        while self._waiting:
            await asyncio.sleep(LOOK_EVERY_S)
            names = {proposal for proposal, _ in self._waiting.values()}
            try:
                counts = await run_in_threadpool(changes_of_each, self._store, names)
            except Unavailable:
                continue  # the next look may find it
            for told, (proposal, after) in list(self._waiting.items()):
                found = counts.get(proposal, after)
                if (found != after or self._is_ending()) and not told.done():
                    told.set_result(found)


async def wait_for_news(request: Request, proposal: str, after: int) -> dict[str, Any]:
    """Return as `News.wait`, unless whoever asks has gone.

    Raises
    ------
    Unknown
        If there is no such proposal.
    ClientDisconnect
        If nobody waits any more: a page that was loaded again, say.
    """
    told = asyncio.create_task(_news_of(request.app).wait(proposal, after))
    gone = asyncio.create_task(_until_gone(request))
    try:
        await asyncio.wait((told, gone), return_when=asyncio.FIRST_COMPLETED)
        if not told.done():
            raise ClientDisconnect
        return told.result()
    finally:
        told.cancel()
        gone.cancel()


async def _until_gone(request: Request) -> None:
    while (await request.receive())["type"] != "http.disconnect":
        pass


def _news_of(app: FastAPI) -> News:
    """Return the news of an application, for the loop that runs now."""
    by_loop: WeakKeyDictionary[asyncio.AbstractEventLoop, News] = one_per_app(app, "news", WeakKeyDictionary)
    news = News(app.state.store, lambda: getattr(app.state, "ending", False))
    return by_loop.setdefault(asyncio.get_running_loop(), news)
