"""A recording comes as the body of a request, a few at a time."""

from __future__ import annotations

from collections.abc import Callable

from fastapi import Request
from starlette.concurrency import run_in_threadpool

from dsp.errors import InputError
from server.processes.outside_file import NAME
from server.web.bodies import one_of_few, read_body

LARGEST = 80 << 20
"""Bytes of a recording: three minutes of two channels at 48 kHz in 32 bits."""
ARRIVE_S = 600.0
MOST_COMING = 4
"""Recordings on their way at a time."""


async def take_body(request: Request, take: Callable[[bytes], None]) -> None:
    """Hand a request's body to what reads and keeps it, on a thread.

    Raises
    ------
    InputError
        For an empty body, and as ``take``.
    TooOften
        If others are on their way already.
    TooLarge, TooSlow
        As `read_body`.
    """
    with one_of_few(request, "guitar_recordings_coming", NAME, MOST_COMING):
        content = await read_body(request, NAME, LARGEST, ARRIVE_S)
        if not content:
            raise InputError(NAME, "0 bytes", "a sound file")
        await run_in_threadpool(take, content)
