"""Bodies of requests that are files: read whole, within a size and a time."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import Iterator

from fastapi import Request

from server.refusals import TooLarge, TooOften, TooSlow

_BYTES = {"application/octet-stream": {"schema": {"type": "string", "format": "binary"}}}
FILE_BODY = {"requestBody": {"content": _BYTES}}
"""How the API's description says that a body is a file."""


@contextlib.contextmanager
def one_of_few(request: Request, key: str, name: str, most: int) -> Iterator[None]:
    """Count a file while it comes; each lies in memory until it is read.

    Parameters
    ----------
    key : str
        Of the files that are counted together.
    name : str
        What refusals call the file.

    Raises
    ------
    TooOften
        If ``most`` are on their way already.
    """
    state = request.app.state
    coming = getattr(state, key, 0)
    if coming >= most:
        got = f"{coming} recordings on their way already"
        raise TooOften(name, got, f"{most} at a time", "send it again in a minute")
    setattr(state, key, coming + 1)
    try:
        yield
    finally:
        setattr(state, key, getattr(state, key) - 1)


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
