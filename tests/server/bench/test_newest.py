"""The newest request wins: a place for one item, in which a newer one replaces the one that waits."""

from __future__ import annotations

import asyncio

from server.bench.socket import Newest


def test_only_the_newest_of_what_waits_is_returned() -> None:
    async def run() -> list[str]:
        place: Newest[str] = Newest()
        for item in ("old", "older", "new"):
            place.put(item)
        first = await asyncio.wait_for(place.wait(), 1.0)
        waiting = asyncio.create_task(place.wait())
        await asyncio.sleep(0)
        assert not waiting.done()  # each is returned once
        place.put("next")
        return [first, await asyncio.wait_for(waiting, 1.0)]

    assert asyncio.run(run()) == ["new", "next"]


def test_a_dropped_item_is_never_returned_even_to_one_already_woken() -> None:
    async def run() -> str:
        place: Newest[str] = Newest()
        waiting = asyncio.create_task(place.wait())
        await asyncio.sleep(0)
        place.put("dropped")  # wakes the one that waits ...
        place.clear()  # ... which runs only now
        await asyncio.sleep(0)
        assert not waiting.done()
        place.put("kept")
        return await asyncio.wait_for(waiting, 1.0)

    assert asyncio.run(run()) == "kept"


def test_an_item_is_held_until_a_newer_one_comes_or_it_is_dropped() -> None:
    async def run() -> None:
        place: Newest[str] = Newest()
        place.put("a")
        assert await place.wait() == "a"
        assert place.holds("a")
        place.put("b")
        assert not place.holds("a")
        place.clear()
        assert not place.holds("b")

    asyncio.run(run())
