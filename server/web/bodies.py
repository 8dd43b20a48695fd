"""Bodies of requests that are files: read whole, within a size and a time."""

from __future__ import annotations

import asyncio

from fastapi import Request

from server.refusals import TooLarge, TooSlow


async def read_body(request: Request, name: str, largest: int, longest_s: float) -> bytes:
    """Return the body of a request.

    Parameters
    ----------
    name : str
        What refusals call the file.
    largest : int
        Bytes, a whole number of MB.
    longest_s : float

    Raises
    ------
    TooLarge
    TooSlow
        If its end comes later.
    """
    content = bytearray()
    try:
        async with asyncio.timeout(longest_s):
            async for piece in request.stream():
                content += piece
                if len(content) > largest:
                    raise TooLarge(name, f"more than {largest >> 20} MB", f"up to {largest >> 20} MB")
    except TimeoutError as error:
        got = f"an end later than {longest_s:g} s"
        raise TooSlow(name, got, "a whole file in that time") from error
    return bytes(content)
