"""What an application has one of, made when it is first asked for."""

from __future__ import annotations

import contextlib
import threading
from collections.abc import AsyncIterator, Callable
from typing import TypeVar

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool

One = TypeVar("One")
_making = threading.Lock()


def one_per_app(app: Starlette, name: str, make: Callable[[], One]) -> One:
    """Return what the application's state holds under a name, or make it.

    Requests run on threads: two first ones at once get the same one. What is made must not ask for
    another one here.
    """
    with _making:
        if not hasattr(app.state, name):
            setattr(app.state, name, make())
        found: One = getattr(app.state, name)
        return found


def closing(*names: str) -> Callable[[Starlette], contextlib.AbstractAsyncContextManager[None]]:
    """Return a lifespan that closes what an application has by these names.

    No process outlives the server.
    """

    @contextlib.asynccontextmanager
    async def running(app: Starlette) -> AsyncIterator[None]:
        yield
        for name in names:
            if hasattr(app.state, name):
                await run_in_threadpool(getattr(app.state, name).close)

    return running
