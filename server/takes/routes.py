"""Requests for takes: the list, and the upload of a recording."""

from __future__ import annotations

import asyncio
from collections.abc import Mapping
from dataclasses import asdict
from typing import Annotated, Any, Literal, TypeVar

from fastapi import APIRouter, Query, Request
from fastapi.concurrency import run_in_threadpool
from pydantic import Field, StringConstraints, TypeAdapter, ValidationError

from dsp.errors import InputError
from dsp.takes.reading.midi import MOST_TRACKS
from dsp.wiring.reading.wiring import read_wiring
from server.commissions import versions
from server.database.store import Store
from server.files.yaml_text import parse_tree
from server.refusals import TooSlow
from server.takes.examine import examine
from server.takes.folder_takes import READY, TakeRow
from server.takes.intake import Through, Upload, UploadForm, keep_upload, open_upload
from server.takes.library import Library
from server.takes.looking import look
from server.web.bodies import FILE_BODY
from server.web.errors import problems_json
from server.web.fields import Body, Id, Line, Name

router = APIRouter(prefix="/api", tags=["takes"])
PIECE = 1 << 20
"""Bytes written to the disk at a time."""
ARRIVE_S = 3600.0
"""Most seconds of a whole upload: 200 MB at 0.5 Mbit/s. A slower one would keep its place from others."""
EXAMINE_WAIT_S = 10.0
"""How long an answer waits for an examination; the page then asks for the next take."""


Channel = Annotated[Line, StringConstraints(min_length=1)]


LONGEST_KNOBS = 4000
T = TypeVar("T")
_KNOBS: TypeAdapter[Mapping[str, float]] = TypeAdapter(dict[str, float])
_SWITCHES: TypeAdapter[Mapping[str, str]] = TypeAdapter(dict[str, str])
Controls = Annotated[str, StringConstraints(max_length=LONGEST_KNOBS)]
"""Settings of controls, as JSON."""


Tracks = Annotated[
    list[Annotated[int, Field(ge=1, le=MOST_TRACKS)]], Field(default_factory=list, max_length=64)
]
"""Tracks of a MIDI file that are played; all if empty."""


class TakeForm(Body):
    """A person's description of a recording, in the address.

    ``source`` is a flat sensor, or the wiring of ``source_version`` at its position, knobs and
    switches.
    """

    name: Name
    kind: Literal["mono", "coils", "strings", "midi"] = "mono"
    line: Literal["single", "chords"] = "chords"
    source: Literal["flat", "wiring"] = "flat"
    source_version: Id | None = None
    source_position: Line = ""
    source_knobs: Controls = "{}"
    source_switches: Controls = "{}"
    channels: Annotated[list[Channel], Field(default_factory=list, max_length=64)]
    strings: Literal["hand", "channels", "tracks"] = "hand"
    tracks: Tracks

    def form(self, store: Store) -> UploadForm:
        """Convert the request, with the text of the source's version.

        Raises
        ------
        InputError
            If fields do not go together.
        Unknown
            If there is no such version.
        """
        if self.kind != "midi" and (self.tracks or self.strings != "hand"):
            raise InputError("tracks, strings", f"kind: {self.kind}", "kind: midi, where they are given")
        through, channels = self._through(store), tuple(self.channels)
        return UploadForm(
            self.name, self.kind, self.line, through, channels, self.strings, tuple(self.tracks)
        )

    def _through(self, store: Store) -> Through | None:
        if self.source == "flat":
            if self.source_version is not None:
                raise InputError("source", "flat", "wiring, where a version is named")
            return None
        if self.kind != "mono" or self.source_version is None:
            allowed = "kind: mono and the version of the wiring, as source_version"
            raise InputError(
                "source", f"a wiring, kind: {self.kind}, version: {self.source_version}", allowed
            )
        return Through(
            str(versions.get_version(store, self.source_version)["text"]),
            self.source_position,
            _controls(_KNOBS, self.source_knobs, "source_knobs"),
            _controls(_SWITCHES, self.source_switches, "source_switches"),
        )


def _controls(shape: TypeAdapter[T], text: str, where: str) -> T:
    """Parse the settings of controls from the JSON of an address."""
    try:
        return shape.validate_json(text)
    except ValidationError as error:
        got = text if len(text) <= 60 else f"{text[:57]}..."
        raise InputError(where, got, "a JSON map of control names to settings") from error


def _library(request: Request) -> Library:
    library: Library = request.app.state.library
    return library


@router.get("/takes")
def list_takes(request: Request) -> list[dict[str, Any]]:
    """Takes: the demo's, those of served folders, those brought in.

    A take is `waiting`, known by its name alone, until somebody has asked for it.
    """
    return [_row_json(one) for one in _library(request).list_takes()]


@router.get("/takes/{take}")
def examine_take(request: Request, take: Id) -> dict[str, Any]:
    """One take, examined; still waiting if that takes longer than 10 s."""
    return _row_json(_library(request).examine(take, EXAMINE_WAIT_S))


@router.get("/takes/{take}/notes")
def tell_notes(request: Request, take: Id, version: Id) -> dict[str, list[str]]:
    """Return what a version's instrument changes or leaves out of a take."""
    library = _library(request)
    text = str(versions.get_version(library.store, version)["text"])
    performance = library.performance(take)
    if not performance.take.played:  # a recording would be tracked for that, which takes minutes
        return {"notes": []}
    return {"notes": list(performance.notes(read_wiring(parse_tree(text, "wiring"), "wiring")))}


def _row_json(row: TakeRow) -> dict[str, Any]:
    return {**asdict(row), **problems_json(row.problems)}


@router.post(
    "/takes",
    status_code=201,
    openapi_extra=FILE_BODY,
)
async def bring_take(request: Request, take: Annotated[TakeForm, Query()]) -> dict[str, Any]:
    """Bring a recording or a MIDI file: the file is the body."""
    library = _library(request)
    form = await run_in_threadpool(take.form, library.store)
    with open_upload(library) as upload:
        await _stream(request, upload)
        return await run_in_threadpool(_examine_and_keep, library, upload, form)


class MidiForm(Body):
    """Asks how the instrument of a version plays a MIDI file.

    ``tracks`` are those that are played; all if empty.
    """

    version: Id
    tracks: Tracks


@router.post("/takes/midi", openapi_extra=FILE_BODY)
async def look_at_midi(request: Request, asked: Annotated[MidiForm, Query()]) -> dict[str, Any]:
    """Look at a MIDI file, the body, and keep nothing: its parts, its strings, what cannot be played."""
    library = _library(request)
    version = await run_in_threadpool(versions.get_version, library.store, asked.version)
    with open_upload(library) as upload:
        await _stream(request, upload)
        return await run_in_threadpool(look, upload, str(version["text"]), asked.tracks)


def _examine_and_keep(library: Library, upload: Upload, form: UploadForm) -> dict[str, Any]:
    upload.finish(form)
    kept = keep_upload(library, upload, form, examine(upload, form.kind))
    return {**asdict(kept), "state": READY, "problems": []}


async def _stream(request: Request, upload: Upload) -> None:
    """Write the body to the disk as it arrives.

    Raises
    ------
    TooSlow
    """
    held = bytearray()
    try:
        async with asyncio.timeout(ARRIVE_S):
            async for piece in request.stream():
                held += piece
                if len(held) >= PIECE:
                    await run_in_threadpool(upload.write, bytes(held))
                    held.clear()
    except TimeoutError as error:
        got = f"an end later than {ARRIVE_S / 60:g} minutes"
        raise TooSlow("the recording", got, "a whole recording in that time") from error
    await run_in_threadpool(upload.write, bytes(held))
