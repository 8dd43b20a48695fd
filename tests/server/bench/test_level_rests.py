"""A take is run through a way that bends once the knob rests, not for every place that it passes."""

from __future__ import annotations

import asyncio
import json
from typing import Any

import pytest

from server.bench import socket

MOVES = 6


class Page:
    """A page that turns a knob and goes after a while."""

    def __init__(self, way: str) -> None:
        self.way, self.sent, self.number = way, 0, 0

    async def receive(self) -> dict[str, Any]:
        if self.number == MOVES:
            await asyncio.sleep(0.5)
            return {"type": "websocket.disconnect", "code": 1000}
        await asyncio.sleep(0.02)
        self.number += 1
        through = {"way": self.way, "lowered_db": 0.0}
        setting = {"position": "1", "knobs": {"tone": self.number}, "switches": {}}
        asked = {"id": self.number, "draft": {"version": "v", "edits": []}, "setting": setting, "take": "t"}
        return {"type": "websocket.receive", "text": json.dumps({**asked, "through": through})}

    async def send_bytes(self, _: bytes) -> None:
        self.sent += 1


class Levels:
    """A bench that has no level at once, and counts what it is asked to wait for."""

    def __init__(self) -> None:
        self.waited: list[int] = []

    def frame(self, _: Any, number: int, *, wait: bool) -> tuple[bytes, bool]:
        if wait:
            self.waited.append(number)
        return b"frame", wait


async def _turn(way: str) -> tuple[Page, Levels]:
    page, bench = Page(way), Levels()
    with pytest.raises(socket.WebSocketDisconnect):
        await socket._Session(page, bench).run()  # type: ignore[arg-type]
    return page, bench


@pytest.mark.parametrize(
    ("way", "rest_s", "most"), [("driven", 0.1, 1), ("driven", 0.0, MOVES), ("clean", 0.1, MOVES)]
)
def test_only_the_knob_at_rest_gets_its_level(
    monkeypatch: pytest.MonkeyPatch, way: str, rest_s: float, most: int
) -> None:
    monkeypatch.setattr(socket, "REST_S", rest_s)
    page, bench = asyncio.run(_turn(way))
    assert bench.waited[-1] == MOVES, "the last always gets it"
    assert 1 <= len(bench.waited) <= most
    assert page.sent == MOVES + len(bench.waited)
    if most > 1:
        assert len(bench.waited) > 1, "without a rest, and where nothing bends, others have it too"
