"""Requests of a customer who turns the knobs of an offered sound: its model and its stems.

The page makes the filters itself. A link plays the sounds and takes of its proposal alone. A sign-off
is for an item as offered, whatever was turned.
"""

from __future__ import annotations

import hashlib
from typing import Annotated, Any
from urllib.parse import urlencode

from fastapi import APIRouter, Request, Response
from pydantic import Field

from dsp.errors import InputError
from server.bench.forms import bench_of
from server.database.store import Store
from server.proposals.forms import Number, WayName
from server.proposals.knobs import clip_level, get_sound, require_take
from server.proposals.voices import make_voice, sent_stems
from server.web.fields import Id
from server.web.links import check_link, limits_of
from server.web.streams import BYTES, PiecesResponse, part_of

router = APIRouter(prefix="/api/p/{token}/live/{number}", tags=["customer"])


FLAC = "audio/flac"
ASK_AGAIN = "private, no-cache"
Part = Annotated[int, Field(ge=0, lt=1000)]


def _store(request: Request) -> Store:
    store: Store = request.app.state.store
    return store


@router.get("/voice")
def get_voice(
    request: Request, token: str, number: Number, take: Id, way: WayName | None = None
) -> dict[str, Any]:
    """What a page needs to play an item on a take with its knobs turned.

    Without a way it is that for the way heard first.

    Raises
    ------
    InputError
        If the take is too long to be played live, or the proposal is not heard in the way.
    Conflict
        If the clip has not been rendered yet.
    """
    with check_link(request):
        sound = get_sound(_store(request), token, number)
        level = clip_level(_store(request), token, number, take, way)
    voice = make_voice(bench_of(request), sound, take, level)
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
def get_stems(request: Request, token: str, number: Number, part: Part, take: Id) -> Response:
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
