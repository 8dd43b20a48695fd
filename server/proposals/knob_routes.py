"""Requests of a customer who turns the knobs of an offered sound: its knobs, stems and filters.

A link plays the sounds and takes of its proposal alone. A sign-off is for an item as offered,
whatever was turned.
"""

from __future__ import annotations

import hashlib
from typing import Annotated, Any
from urllib.parse import urlencode

from fastapi import APIRouter, Depends, Request, Response
from pydantic import Field

from dsp.errors import InputError
from server.bench.forms import bench_of
from server.bench.hearing import LONGEST_S
from server.database.store import Store
from server.proposals.forms import MOST_STANDS, Knob, Number
from server.proposals.knobs import clip_gain_db, get_sound, require_take, turned_frame, turned_setting
from server.proposals.voices import make_voice, sent_stems
from server.web.fields import Body, Id, Line
from server.web.links import check_link, limit_turns, limits_of
from server.web.streams import BYTES, ArrayResponse, PiecesResponse, part_of

router = APIRouter(
    prefix="/api/p/{token}/live/{number}", tags=["customer"], dependencies=[Depends(limit_turns)]
)


FLAC = "audio/flac"
ASK_AGAIN = "private, no-cache"
Part = Annotated[int, Field(ge=0, lt=1000)]


class KnobsForm(Body):
    """Asks for an item's filters; a knob left out stands as offered."""

    take: Id
    knobs: dict[Line, Knob] = Field(default_factory=dict, max_length=MOST_STANDS)
    id: Annotated[int, Field(ge=0, le=2**53)] = 0


def _store(request: Request) -> Store:
    store: Store = request.app.state.store
    return store


@router.get("")
def get_knobs(request: Request, token: str, number: Number) -> dict[str, Any]:
    """An item's knobs as offered, and which item has its stems."""
    with check_link(request):
        sound = get_sound(_store(request), token, number)
    wiring = bench_of(request).wiring(sound.hearing.draft)
    knobs = [
        {"name": name, "value": value, "detent": wiring.clicks(name)}
        for name, value in sound.hearing.knobs.items()
    ]
    return {"knobs": knobs, "strings": sound.same_stems_as, "longest_s": LONGEST_S}


@router.get("/stems", response_class=Response, responses={200: {"content": {BYTES: {}}}, 304: {}})
def get_stems(request: Request, token: str, number: Number, take: Id) -> Response:
    """What a take induces in every coil, 32-bit float volts, coil after coil.

    Raises
    ------
    InputError
        If the take is too long to be played live.
    """
    with check_link(request, stems=True):
        sound = get_sound(_store(request), token, number)
        require_take(_store(request), token, take)
    stems = bench_of(request).stems(sound.hearing.draft, take)
    if stems.seconds > LONGEST_S:
        raise InputError("take", f"{stems.seconds:.0f} s", f"up to {LONGEST_S:.0f} s for live knobs")
    headers = {
        "ETag": f'"{stems.digest}"',
        "Cache-Control": "private, no-cache",
        "X-Samples": str(stems.samples.shape[1]),
    }
    if headers["ETag"] in request.headers.get("if-none-match", ""):
        return Response(status_code=304, headers=headers)
    transfers = limits_of(request).transfers
    return ArrayResponse(stems.samples, headers, transfers=transfers, name=token)


@router.post("/filters", response_class=Response, responses={200: {"content": {BYTES: {}}}})
def post_filters(request: Request, token: str, number: Number, form: KnobsForm) -> Response:
    """An item's filters with its knobs turned, its level in the frame."""
    with check_link(request):
        sound = get_sound(_store(request), token, number)
        gain_db = clip_gain_db(_store(request), token, number, form.take)
    hearing = turned_setting(sound, form.knobs, form.take)
    frame = turned_frame(bench_of(request), hearing, gain_db, form.id)
    return Response(frame, media_type=BYTES, headers={"Cache-Control": "no-store"})


@router.get("/voice")
def get_voice(request: Request, token: str, number: Number, take: Id) -> dict[str, Any]:
    """What a page needs to play an item on a take with its knobs turned.

    Raises
    ------
    InputError
        If the take is too long to be played live.
    Conflict
        If the clip has not been rendered yet.
    """
    with check_link(request):
        sound = get_sound(_store(request), token, number)
        clip_db = clip_gain_db(_store(request), token, number, take)
    voice = make_voice(bench_of(request), sound, take, clip_db)
    address = f"/api/p/{token}/live"
    first = f"{address}/{sound.same_stems_as}/stems"
    files = [f"{first}/{part}?{urlencode({'take': take})}" for part in range(len(voice.stems.files))]
    return voice.told(f"{address}/{number}/model", files)


@router.get("/model", response_class=Response, responses={200: {"content": {BYTES: {}}}, 304: {}})
def get_model(request: Request, token: str, number: Number) -> Response:
    """An item at every knob value, as `dsp.live.model` packs it."""
    with check_link(request):
        sound = get_sound(_store(request), token, number)
    model = bench_of(request).model(sound.hearing)
    headers = {"ETag": f'"{hashlib.sha256(model).hexdigest()}"', "Cache-Control": ASK_AGAIN}
    if headers["ETag"] in request.headers.get("if-none-match", ""):
        return Response(status_code=304, headers=headers)
    return Response(model, media_type=BYTES, headers=headers)


@router.get(
    "/stems/{part}", response_class=Response, responses={200: {"content": {FLAC: {}}}, 206: {}, 304: {}}
)
def get_stems_file(request: Request, token: str, number: Number, part: Part, take: Id) -> Response:
    """What a take induces in two coils, whole or from a byte on.

    Raises
    ------
    InputError
        If the take is too long to be played live, or has no such part.
    """
    with check_link(request, stems=True):
        sound = get_sound(_store(request), token, number)
        require_take(_store(request), token, take)
    sent = sent_stems(bench_of(request), sound, take)
    files = sent.files
    if part >= len(files):
        raise InputError("part", str(part), f"0 to {len(files) - 1}")
    headers = {"ETag": f'"{sent.digest}-{part}"', "Cache-Control": ASK_AGAIN, "Content-Type": FLAC}
    if headers["ETag"] in request.headers.get("if-none-match", ""):
        return Response(status_code=304, headers=headers)
    content, told, status = part_of(files[part], headers, request.headers.get("range", ""))
    transfers = limits_of(request).transfers
    return PiecesResponse(content, told, status=status, transfers=transfers, name=token)
