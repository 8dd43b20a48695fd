"""The knobs of what a customer was offered, live: only its sounds, its takes, its knobs.

Nothing here is part of what is signed: an item is signed for as it was offered.
"""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Request, Response
from pydantic import Field

from dsp.errors import InputError
from server.bench.forms import drafts_of, takes_of
from server.bench.hearing import Draft
from server.bench.stems import LONGEST_S
from server.database.store import Store
from server.proposals.forms import MOST_STANDS, Knob, Number
from server.proposals.knobs import turned_frame
from server.proposals.knobs_allowed import clip_gain_db, live_item, require_take
from server.web.fields import Body, Id, Line
from server.web.links import at_the_door

router = APIRouter(prefix="/api/p/{token}/live/{number}", tags=["customer"])
BYTES = "application/octet-stream"


class TurnedForm(Body):
    """Asks for an item's filters; a knob not named stands as offered."""

    take: Id
    knobs: dict[Line, Knob] = Field(default_factory=dict, max_length=MOST_STANDS)
    id: Annotated[int, Field(ge=0, le=2**53)] = 0


def _store(request: Request) -> Store:
    store: Store = request.app.state.store
    return store


@router.get("")
def get_knobs(request: Request, token: str, number: Number) -> dict[str, Any]:
    """An item's knobs as offered, and which item has its stems."""
    with at_the_door(request):
        item = live_item(_store(request), token, number)
    knobs = [{"name": name, "value": value} for name, value in item.knobs.items()]
    return {"knobs": knobs, "strings": item.strings, "longest_s": LONGEST_S}


@router.get("/stems", response_class=Response, responses={200: {"content": {BYTES: {}}}, 304: {}})
def get_stems(request: Request, token: str, number: Number, take: Id) -> Response:
    """What a take induces in every coil, 32-bit float volts, coil after coil.

    Raises
    ------
    InputError
        If the take is longer than is played live.
    """
    with at_the_door(request, counts="stems"):
        item = live_item(_store(request), token, number)
        require_take(_store(request), token, take)
    found = takes_of(request).stems(drafts_of(request).wiring(Draft(item.version)), take)
    if found.seconds > LONGEST_S:
        raise InputError("take", f"{found.seconds:.0f} s", f"up to {LONGEST_S:.0f} s for live knobs")
    headers = {
        "ETag": f'"{found.digest}"',
        "Cache-Control": "private, no-cache",
        "X-Samples": str(found.samples.shape[1]),
    }
    if headers["ETag"] in request.headers.get("if-none-match", ""):
        return Response(status_code=304, headers=headers)
    return Response(found.samples.astype("<f4", copy=False).tobytes(), media_type=BYTES, headers=headers)


@router.post("/filters", response_class=Response, responses={200: {"content": {BYTES: {}}}})
def post_filters(request: Request, token: str, number: Number, form: TurnedForm) -> Response:
    """An item's filters with its knobs turned, its level in the frame."""
    with at_the_door(request, counts="turns"):
        item = live_item(_store(request), token, number)
        gain_db = clip_gain_db(_store(request), token, number, form.take)
    frame = turned_frame(
        drafts_of(request),
        takes_of(request),
        item,
        form.knobs,
        take=form.take,
        clip_gain_db=gain_db,
        number=form.id,
    )
    return Response(frame, media_type=BYTES, headers={"Cache-Control": "no-store"})
