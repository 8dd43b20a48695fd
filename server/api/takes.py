"""Takes: the list, and bringing a recording."""

from __future__ import annotations

from dataclasses import asdict
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Query, Request
from fastapi.concurrency import run_in_threadpool
from pydantic import Field, StringConstraints

from server.api.models import Body, Line, Name
from server.jobs.take_examiner import examine
from server.storage.take_intake import Coming, Said, coming, keep
from server.storage.take_library import Library

router = APIRouter(prefix="/api", tags=["takes"])
PIECE = 1 << 20
"""Bytes handed to the disk in one go."""


Channel = Annotated[Line, StringConstraints(min_length=1)]
SOUND = {"content": {"application/octet-stream": {"schema": {"type": "string", "format": "binary"}}}}


class TakeSaid(Body):
    """What the person says of a recording, in the address."""

    name: Name
    kind: Literal["mono", "coils", "strings"] = "mono"
    line: Literal["single", "chords"] = "chords"
    source: Literal["flat"] = "flat"
    channels: Annotated[list[Channel], Field(default_factory=list, max_length=64)]

    def said(self) -> Said:
        """The same for the library."""
        return Said(self.name, self.kind, self.line, self.source, tuple(self.channels))


def _library(request: Request) -> Library:
    library: Library = request.app.state.library
    return library


@router.get("/takes")
def list_takes(request: Request) -> list[dict[str, Any]]:
    """Takes: the demo's, those of served folders, those brought in."""
    return [asdict(one) for one in _library(request).listed()]


@router.post(
    "/takes",
    status_code=201,
    openapi_extra={"requestBody": SOUND},
)
async def bring_take(request: Request, take: Annotated[TakeSaid, Query()]) -> dict[str, Any]:
    """Bring a recording: the sound file is the body."""
    with coming(_library(request)) as came:
        await _stream(request, came)
        return await run_in_threadpool(_kept, _library(request), came, take.said())


def _kept(library: Library, came: Coming, said: Said) -> dict[str, Any]:
    """Examine what came and keep it."""
    came.described(said)
    return asdict(keep(library, came, said, examine(came)))


async def _stream(request: Request, came: Coming) -> None:
    """Write the body to the disk as it comes."""
    held = bytearray()
    async for piece in request.stream():
        held += piece
        if len(held) >= PIECE:
            await run_in_threadpool(came.write, bytes(held))
            held.clear()
    await run_in_threadpool(came.write, bytes(held))
