"""What a draft is and sounds like: checked, told, drawn, and as filters and stems."""

from __future__ import annotations

import contextlib
import json
import sys
from collections.abc import AsyncIterator
from typing import Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Depends, Query, Request, Response
from pydantic import Field, TypeAdapter, ValidationError

from dsp.errors import InputError
from server.bench import curves
from server.bench import facts as draft_facts
from server.bench import parts as draft_parts
from server.bench.forms import FiltersForm, Knobs, Name, SettingForm, Switches, draft_of, drafts_of, takes_of
from server.bench.frames import Filters
from server.bench.hearing import Draft
from server.bench.socket import asked_of
from server.web import fields as models
from server.web.access import require_bench
from server.web.errors import problems_json

SWITCH_S = 0.0005
"""How long one thread of Python may keep the others waiting. With the usual 5 ms, facts being worked out
more than double the time that a knob's filters take, which give way at every step of their algebra."""


@contextlib.asynccontextmanager
async def _running(app: Any) -> AsyncIterator[None]:
    """Be quick to switch while the server runs; end the process that plays scores with it."""
    before = sys.getswitchinterval()
    sys.setswitchinterval(SWITCH_S)
    yield
    sys.setswitchinterval(before)
    if hasattr(app.state, "live_takes"):
        app.state.live_takes.close()


router = APIRouter(prefix="/api", tags=["sounding"], dependencies=[Depends(require_bench)], lifespan=_running)
MOST_SETTINGS, MOST_POINTS, MOST_STEPS = 16, 1000, 41
LONGEST_EDITS = 64 * 1024
BYTES = "application/octet-stream"
_EDITS: TypeAdapter[list[models.Edit]] = TypeAdapter(
    Annotated[list[models.Edit], Field(max_length=models.MOST_EDITS)]
)


class CheckForm(models.Body):
    """Asks what a draft is."""

    draft: models.Draft


class FactsForm(models.Body):
    """Asks for every position's facts, knobs and switches as given."""

    draft: models.Draft
    knobs: Knobs = Field(default_factory=dict)
    switches: Switches = Field(default_factory=dict)


class ResponseForm(models.Body):
    """Asks for response curves; `string` counts from 1, the lowest."""

    draft: models.Draft
    settings: Annotated[list[SettingForm], Field(min_length=1, max_length=MOST_SETTINGS)]
    points: Annotated[int, Field(ge=2, le=MOST_POINTS)] = 240
    string: Annotated[int, Field(ge=1, le=64)] | None = None


class FanForm(models.Body):
    """Asks for the curves of a knob along its travel."""

    draft: models.Draft
    setting: SettingForm
    knob: Name
    steps: Annotated[int, Field(ge=2, le=MOST_STEPS)] = 11


@router.post("/draft/check")
def check(form: CheckForm, request: Request) -> dict[str, Any]:
    """What a draft is, or its problems."""
    drafts, draft = drafts_of(request), draft_of(form.draft)
    drafts.base(draft)  # an unknown version is no problem of the draft's
    try:
        read, findings = drafts.read(draft), drafts.findings(draft)
    except InputError as error:
        return {"ok": False, **draft_parts.NOTHING, **problems_json(error.problems)}
    edits = [(edit.path, edit.value) for edit in draft.edits]
    return {"ok": True, "problems": [], **draft_parts.parts_json(read.tree, read.wiring, findings, edits)}


@router.post("/draft/facts")
def facts(form: FactsForm, request: Request) -> dict[str, Any]:
    """What a technician decides by, per position."""
    drafts, draft = drafts_of(request), draft_of(form.draft)
    wiring = drafts.wiring(draft)
    settings = [wiring.setting(position, form.knobs, form.switches) for position in wiring.positions]
    rows = drafts.kept(
        draft, settings, lambda: draft_facts.facts_json(wiring, settings, drafts.findings(draft))
    )
    return {"positions": rows}


@router.post("/draft/response")
def response(form: ResponseForm, request: Request) -> dict[str, Any]:
    """Responses of settings over frequency."""
    wiring = drafts_of(request).wiring(draft_of(form.draft))
    settings = [one.of(wiring) for one in form.settings]
    return curves.response_json(wiring, settings, points=form.points, string=form.string)


@router.post("/draft/fan")
def fan(form: FanForm, request: Request) -> dict[str, Any]:
    """Responses along a knob's travel, and how evenly it moves."""
    wiring = drafts_of(request).wiring(draft_of(form.draft))
    return curves.fan_json(wiring, form.setting.of(wiring), form.knob, steps=form.steps)


@router.post("/draft/filters", response_class=Response, responses={200: {"content": {BYTES: {}}}})
def filters(form: FiltersForm, request: Request) -> Response:
    """The frame that the live connection sends too, its level in it."""
    frame, _ = Filters(drafts_of(request), takes_of(request)).frame(asked_of(form), wait=True)
    return Response(frame, media_type=BYTES, headers={"Cache-Control": "no-store"})


@router.get("/stems", response_class=Response, responses={200: {"content": {BYTES: {}}}, 304: {}})
def stems(
    request: Request,
    version: models.Id,
    take: models.Id,
    edits: Annotated[str, Query(max_length=LONGEST_EDITS)] = "[]",
    from_s: Annotated[float, Query(ge=0.0, le=86_400.0, allow_inf_nan=False)] = 0.0,
) -> Response:
    """What a take induces in every coil, 32-bit float volts, coil after coil."""
    wiring = drafts_of(request).wiring(_draft(version, edits))
    found = takes_of(request).stems(wiring, take, from_s=from_s)
    headers = {
        "ETag": f'"{found.digest}"',
        "Cache-Control": "private, no-cache",
        "X-Coils": ",".join(quote(name, safe="") for name in found.coils),
        "X-Samples": str(found.samples.shape[1]),
        "X-Coil-Places": quote(found.coil_places),
        "X-Seconds": repr(found.seconds),
    }
    if headers["ETag"] in request.headers.get("if-none-match", ""):
        return Response(status_code=304, headers=headers)
    return Response(found.samples.astype("<f4", copy=False).tobytes(), media_type=BYTES, headers=headers)


@router.get("/overview")
def overview(request: Request, take: models.Id, version: models.Id) -> dict[str, Any]:
    """A take at a glance: its length and 400 peaks."""
    wiring = drafts_of(request).wiring(_draft(version, "[]"))
    found = takes_of(request).stems(wiring, take)
    return {"seconds": found.seconds, "peaks": found.overview()}


def _draft(version: str, edits: str) -> Draft:
    """A draft as an address holds it."""
    try:
        return draft_of(models.Draft(version=version, edits=_EDITS.validate_python(json.loads(edits))))
    except (ValidationError, ValueError, RecursionError) as error:
        got = edits if len(edits) <= 60 else f"{edits[:57]}..."
        raise InputError("edits", got, 'a JSON list of {"path": […], "value": "…"}') from error
