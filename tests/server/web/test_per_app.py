"""What an application has one of."""

from __future__ import annotations

import asyncio
import threading
from concurrent.futures import ThreadPoolExecutor

from starlette.applications import Starlette

from server.web.per_app import closing, one_per_app


def test_two_first_requests_at_once_get_the_same_one() -> None:
    app, together = Starlette(), threading.Barrier(2)
    made: list[object] = []

    def make() -> object:
        threading.Event().wait(0.05)  # long enough for the other to ask
        made.append(object())
        return made[-1]

    def ask() -> object:
        together.wait()
        return one_per_app(app, "thing", make)

    with ThreadPoolExecutor(2) as pool:
        first, second = pool.submit(ask), pool.submit(ask)
        assert first.result() is second.result()
    assert len(made) == 1


def test_each_application_has_its_own() -> None:
    one, other = Starlette(), Starlette()
    assert one_per_app(one, "thing", object) is one_per_app(one, "thing", object)
    assert one_per_app(one, "thing", object) is not one_per_app(other, "thing", object)


def test_what_was_made_is_closed_at_the_end_and_nothing_else() -> None:
    app, closed = Starlette(), list[str]()

    class Thing:
        def close(self) -> None:
            closed.append("thing")

    async def run() -> None:
        async with closing("thing", "never made")(app):
            one_per_app(app, "thing", Thing)
            assert closed == []

    asyncio.run(run())
    assert closed == ["thing"]
