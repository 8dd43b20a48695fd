"""Requests of the bench about recordings of a finished guitar, beside its sign-off."""

from __future__ import annotations

import contextlib
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request, Response
from fastapi.responses import FileResponse
from pydantic import StringConstraints
from starlette.concurrency import run_in_threadpool

from dsp.checking.points import setting_text
from dsp.checking.readings_text import read_setting
from dsp.errors import InputError
from dsp.wiring.model import Wiring
from server.bench.forms import bench_of
from server.bench.hearing import Draft
from server.database.store import Store
from server.proposals.clip_files import MEDIA, clip_path
from server.proposals.queue import clips_of
from server.proposals.store import items_of, takes_of
from server.proposals.ways import ways_of
from server.proposals.wirings import wirings_of
from server.refusals import Unknown
from server.verifying import store as kept
from server.verifying.arriving import take_body
from server.verifying.intake import take_recording
from server.verifying.verdict import CAUTIONS, STEPS, settings_to_record
from server.verifying.work import Sound, Verdicts
from server.web.bodies import FILE_BODY
from server.web.fields import Body, Line, Name
from server.web.per_app import closing, one_per_app

FLAC = "audio/flac"
Typed = Annotated[Line, StringConstraints(max_length=60)]


router = APIRouter(prefix="/api/verifying", tags=["verifying"], lifespan=closing("verdicts"))


class Fields(Body):
    """What was typed beside the recordings.

    Empty is open strings, and the wiring's own load.
    """

    frets: Typed = ""
    cable: Typed = ""
    input: Typed = ""


class Brought(Body):
    """Says in the address what a file is that the body brings."""

    setting: Name
    name: Name


def _store(request: Request) -> Store:
    store: Store = request.app.state.store
    return store


def _signed_wiring(request: Request, proposal: str) -> tuple[kept.Kept, str, Wiring]:
    """What is kept, the text of the signed version, and the wiring that it says."""
    found = kept.get_kept(_store(request), proposal)
    parsed = bench_of(request).read(Draft(found.signoff["version"], ()))
    return found, parsed.text, parsed.wiring


@router.get("/{proposal}")
def get_guitar(request: Request, proposal: str) -> dict[str, Any]:
    """What to record of a signed guitar, what was recorded, the verdict."""
    found, _, wiring = _signed_wiring(request, proposal)
    sounds, heard = _sounds(_store(request), proposal, found, wiring)
    planned = [setting_text(wiring, one) for one in settings_to_record(wiring)]
    texts = list(dict.fromkeys([*sounds, *planned, *found.recordings]))
    return {
        "cautions": list(CAUTIONS),
        "steps": list(STEPS),
        "settings": [
            {
                "setting": text,
                "label": wiring.labels.get(text.split(" ")[0], ""),
                "sound": sounds.get(text),
                "recording": found.recordings.get(text),
            }
            for text in texts
        ],
        **heard,
        "fields": Fields(**found.fields).model_dump(),
        "verdict": found.verdict,
    }


def _sounds(
    store: Store, proposal: str, found: kept.Kept, wiring: Wiring
) -> tuple[dict[str, dict[str, Any]], dict[str, Any]]:
    """Return the signed sounds by setting with their clips, and the takes and ways of these."""
    with store.read() as db:
        items = {one["number"]: one for one in items_of(db, proposal)}
        clips: dict[int, list[dict[str, Any]]] = {}
        for clip in clips_of(db, proposal):
            one = {"take": clip["take_id"], "way": clip["way"], "lufs": clip["loudness_lufs"]}
            clips.setdefault(clip["number"], []).append(one)
        heard = {
            "takes": [{"id": one["take_id"], "name": one["name"]} for one in takes_of(db, proposal)],
            "ways": ways_of(db, proposal),
        }
        numbers = [found.signoff["number"]]
        if found.signoff["of"] == "wiring":
            offered = wirings_of(db, proposal)
            numbers = next(one["sounds"] for one in offered if one["number"] == found.signoff["number"])
    sounds: dict[str, dict[str, Any]] = {}
    for number in numbers:
        item = items[number]
        with contextlib.suppress(InputError):
            setting = wiring.setting(item["position"], item["knobs"], item["switches"])
            sounds[setting_text(wiring, setting)] = {
                "number": number,
                "label": item["label"],
                "clips": clips.get(number, []),
            }
    return sounds, heard


@router.put("/{proposal}")
def put_fields(request: Request, proposal: str, fields: Fields) -> dict[str, Any]:
    """Keep what was typed."""
    kept.keep_fields(_store(request), proposal, fields.model_dump())
    return get_guitar(request, proposal)


@router.post("/{proposal}/recordings", openapi_extra=FILE_BODY)
async def bring_recording(
    request: Request, proposal: str, brought: Annotated[Brought, Query()]
) -> dict[str, Any]:
    """Bring a recording of one setting: the file is the body."""
    setting = await run_in_threadpool(_setting_of, request, proposal, brought.setting)
    store = _store(request)

    def take(content: bytes) -> None:
        kept.keep_recording(store, proposal, setting, brought.name, take_recording(content, store.folder))

    await take_body(request, take)
    return await run_in_threadpool(get_guitar, request, proposal)


def _setting_of(request: Request, proposal: str, text: str) -> str:
    """The setting as tables name it, before its file comes."""
    _, _, wiring = _signed_wiring(request, proposal)
    return setting_text(wiring, read_setting(wiring, text, "setting"))


@router.delete("/{proposal}/recordings")
def drop_recording(request: Request, proposal: str, setting: Line) -> dict[str, Any]:
    """Throw one recording away."""
    kept.drop_recording(_store(request), proposal, setting)
    return get_guitar(request, proposal)


@router.post("/{proposal}/verdict")
def judge(request: Request, proposal: str) -> dict[str, Any]:
    """Judge what was recorded, and keep the verdict with it."""
    store = _store(request)
    found, text, _ = _signed_wiring(request, proposal)
    sounds = [
        Sound(one["name"], setting, one["peak"], kept.read_sound(store, proposal, setting))
        for setting, one in found.recordings.items()
    ]
    verdict = one_per_app(request.app, "verdicts", Verdicts).judge(text, sounds, found.fields)
    kept.keep_verdict(store, proposal, verdict, found)
    return get_guitar(request, proposal)


@router.get("/{proposal}/recordings/sound", response_class=Response, responses={200: {"content": {FLAC: {}}}})
def get_sound(request: Request, proposal: str, setting: Line) -> Response:
    """The sound of one recording."""
    sound = kept.read_sound(_store(request), proposal, setting)
    return Response(sound, media_type=FLAC, headers={"Cache-Control": "private, no-store"})


@router.get("/{proposal}/clips/{number}", response_class=FileResponse)
def get_clip(request: Request, proposal: str, number: int, take: Line, way: Line) -> FileResponse:
    """The clip of a signed sound with a take, as it is heard in a way.

    Raises
    ------
    Unknown
        If there is none.
    """
    with _store(request).read() as db:
        clips = [
            one for one in clips_of(db, proposal, way) if (one["number"], one["take_id"]) == (number, take)
        ]
    if not clips:
        got = f"none of sound {number} with this take, {way}"
        raise Unknown("clip", got, "a sound that was signed for, with a take and a way of its proposal")
    path = clip_path(request.app.state.settings.data, clips[0]["flac_sha256"], "flac")
    return FileResponse(path, media_type=MEDIA["flac"])
