"""Requests of the bench about strings plucked in several positions: how sensitive coils are by them."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from pydantic import Field, StringConstraints
from starlette.concurrency import run_in_threadpool

from dsp.checking.points import setting_text
from dsp.errors import InputError
from dsp.strings.pluck import HANDS
from dsp.takes.player import instrument_of
from dsp.verifying.expected import HAND
from server.bench.forms import DraftForm, bench_of
from server.database.store import Store
from server.verifying import sensitivity_store as kept
from server.verifying.arriving import take_body
from server.verifying.intake import take_recording
from server.verifying.sensitivity import STEPS, settings_to_pluck, strings_to_pluck
from server.verifying.sensitivity_store import Place
from server.verifying.sensitivity_work import Finder, Pluck, basis_of, coils_that_hear, values_of
from server.verifying.verdict import CAUTIONS
from server.verifying.work import Sound
from server.web.bodies import FILE_BODY
from server.web.fields import Body, Id, Line, Name
from server.web.per_app import closing, one_per_app

MOST_STRINGS = 24
TOLD = ("id", "name", "came", "setting", "string", "seconds", "strums")
"""What a page shows of a recording."""
Typed = Annotated[Line, StringConstraints(max_length=100)]
Number = Annotated[int, Field(ge=0, le=MOST_STRINGS)]
"""Of a string, 1 the highest; 0 for strums of all."""

router = APIRouter(prefix="/api/sensitivity", tags=["sensitivity"], lifespan=closing("finder"))


class Fields(Body):
    """What was typed and chosen beside the recordings.

    Without strings those that are advised; no reference is the coil heard most. Empty texts are open
    strings, and the wiring's own load.
    """

    strings: Annotated[list[Number], Field(max_length=MOST_STRINGS + 1)] = Field(default_factory=list)
    hand: Typed = HAND
    reference: Typed = ""
    frets: Typed = ""
    cable: Typed = ""
    input: Typed = ""


class DraftAsked(Body):
    """The wiring at the bench."""

    draft: DraftForm


class Brought(Body):
    """Says in the address what a file is that the body brings."""

    wiring: Id
    setting: Name
    string: Number
    name: Name


def _store(request: Request) -> Store:
    store: Store = request.app.state.store
    return store


@router.post("/plan")
def get_plan(request: Request, asked: DraftAsked) -> dict[str, Any]:
    """What to heed, and what to record of a guitar wired as the draft."""
    wiring = bench_of(request).wiring(asked.draft.draft())
    strings = instrument_of(wiring.instrument)[0].strings
    return {
        "cautions": list(CAUTIONS),
        "steps": list(STEPS),
        "settings": [
            {"setting": setting_text(wiring, one), "label": wiring.labels.get(one.position, "")}
            for one in settings_to_pluck(wiring)
        ],
        "strings": [{"string": len(strings) - k, "note": one.note} for k, one in enumerate(strings)],
        "advised": list(strings_to_pluck(wiring)),
        "coils": coils_that_hear(wiring),
        "hands": list(HANDS),
        "basis": basis_of(wiring),
        "sensed": values_of(wiring),
    }


@router.get("")
def get_sensitivities(request: Request, wiring: Id) -> dict[str, Any]:
    """What was recorded of a wiring's guitar, typed, and found."""
    found = kept.get_heard(_store(request), wiring)
    return {
        "recordings": [_told(one) for one in found.recordings.values()],
        "fields": Fields(**found.fields).model_dump(),
        "result": found.result,
        "removed": None if found.removed is None else _told(found.removed),
    }


def _called(row: Mapping[str, Any]) -> str:
    """What problems call a recording: files of several settings may have one name."""
    string = f"string {row['string']}" if row["string"] else "all strings"
    return f"{row['name']} ({string} at {row['setting']})"


def _told(row: Mapping[str, Any]) -> dict[str, Any]:
    return {key: row[key] for key in TOLD}


@router.put("")
def put_fields(request: Request, wiring: Id, fields: Fields) -> dict[str, Any]:
    """Keep what was typed and chosen."""
    kept.keep_fields(_store(request), wiring, fields.model_dump())
    return get_sensitivities(request, wiring)


@router.post("/recordings", openapi_extra=FILE_BODY)
async def bring_recording(request: Request, brought: Annotated[Brought, Query()]) -> dict[str, Any]:
    """Bring a recording of a string, or of strums: the file is the body."""
    store = _store(request)
    await run_in_threadpool(kept.get_heard, store, brought.wiring)  # refused before its file comes
    place = Place(brought.setting, brought.string)

    def take(content: bytes) -> None:
        taken = take_recording(content, store.folder)
        kept.keep_recording(store, brought.wiring, place, brought.name, taken)

    await take_body(request, take)
    return await run_in_threadpool(get_sensitivities, request, brought.wiring)


@router.delete("/recordings")
def drop_recording(request: Request, wiring: Id, setting: Line, string: Number) -> dict[str, Any]:
    """Take one recording away; for a while it can be brought back."""
    kept.drop_recording(_store(request), wiring, Place(setting, string))
    return get_sensitivities(request, wiring)


@router.post("/recordings/{recording}/restore")
def restore_recording(request: Request, recording: Id, wiring: Id) -> dict[str, Any]:
    """Bring a recording back that was taken away or replaced."""
    kept.restore_recording(_store(request), wiring, recording)
    return get_sensitivities(request, wiring)


@router.post("/find")
def find(request: Request, wiring: Id, asked: DraftAsked) -> dict[str, Any]:
    """Find the sensitivities by what was recorded, and keep them with it.

    Raises
    ------
    InputError
        For fewer than two recordings, and as `Finder.find`.
    """
    store = _store(request)
    text = bench_of(request).read(asked.draft.draft()).text
    found, sounds = kept.get_with_sounds(store, wiring)
    if len(found.recordings) < 2:
        raise InputError("recordings", f"{len(found.recordings)}", "two or more: positions are compared")
    plucks = [
        Pluck(Sound(_called(one), place.setting, one["peak"], sounds[one["id"]]), place.string)
        for place, one in found.recordings.items()
    ]
    fields = Fields(**found.fields).model_dump()
    result = one_per_app(request.app, "finder", Finder).find(text, plucks, fields, date.today())
    kept.keep_result(store, wiring, result, found)
    return get_sensitivities(request, wiring)
