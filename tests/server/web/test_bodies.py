"""Files that come as the body of a request: too large, too late, or whole."""

from __future__ import annotations

import asyncio

import pytest
from fastapi import FastAPI, Request

from server.refusals import TooLarge, TooOften, TooSlow
from server.web.bodies import one_of_few, read_body

MB = 1 << 20


def sent(*pieces: bytes, late_s: float = 0.0) -> Request:
    """Return a request whose body comes in pieces, the last of them late."""
    waiting = list(pieces)

    async def receive() -> dict[str, object]:
        if len(waiting) == 1:
            await asyncio.sleep(late_s)
        return {"type": "http.request", "body": waiting.pop(0), "more_body": bool(waiting)}

    return Request({"type": "http", "method": "POST", "headers": []}, receive)


def test_a_body_of_the_largest_size_is_read_whole() -> None:
    half = b"x" * (MB // 2)
    assert asyncio.run(read_body(sent(half, half), "picture", MB, 5.0)) == half + half


def test_one_byte_more_is_refused_by_name() -> None:
    with pytest.raises(TooLarge, match="picture: got more than 1 MB"):
        asyncio.run(read_body(sent(b"x" * MB, b"y"), "picture", MB, 5.0))


def test_a_body_that_ends_too_late_is_refused() -> None:
    with pytest.raises(TooSlow, match=r"picture: got an end later than 0\.05 s"):
        asyncio.run(read_body(sent(b"x", b"y", late_s=30.0), "picture", MB, 0.05))


def test_of_files_on_their_way_one_too_many_is_refused_and_each_that_ends_makes_room() -> None:
    request = Request({"type": "http", "method": "POST", "headers": [], "app": FastAPI()})
    with one_of_few(request, "coming", "recording", 2), one_of_few(request, "coming", "recording", 2):
        with (
            pytest.raises(TooOften, match="recording: got 2 recordings on their way already"),
            one_of_few(request, "coming", "recording", 2),
        ):
            raise AssertionError("a third came in")
        with one_of_few(request, "others", "table", 1):
            pass
    with pytest.raises(KeyError), one_of_few(request, "coming", "recording", 1):
        raise KeyError
    with one_of_few(request, "coming", "recording", 1):
        pass
