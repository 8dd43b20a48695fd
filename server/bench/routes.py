"""Requests of the bench's page: check a draft, its facts, curves, filters and stems; the parts library."""

from __future__ import annotations

import contextlib
import json
import math
import sys
from collections.abc import AsyncIterator
from functools import cache
from typing import Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Depends, Query, Request, Response
from pydantic import Field, ValidationError

from dsp.chain.ways import WAYS
from dsp.errors import InputError
from server.bench import curves
from server.bench.additions import additions_json, missing_json
from server.bench.facts import facts_json
from server.bench.forms import (
    ChangeForm,
    DraftForm,
    HearingForm,
    Knobs,
    LiveForm,
    Name,
    SettingForm,
    Switches,
    bench_of,
)
from server.bench.hearing import RATE_HZ, Draft, played_chain
from server.bench.pair import pair_json
from server.bench.parts import NOTHING, parts_json
from server.web.access import require_bench
from server.web.errors import problems_json
from server.web.fields import Body, Id, WayName
from server.web.streams import BYTES, ArrayResponse
from server.wirings.text import written

SWITCH_S = 0.0005
"""How long one thread of Python may keep the others waiting. With the usual 5 ms, facts being computed
more than double the time of a knob's filters, which give way at every step of their algebra."""


@contextlib.asynccontextmanager
async def _running(app: Any) -> AsyncIterator[None]:
    """Switch threads quickly while the server runs."""
    before = sys.getswitchinterval()
    sys.setswitchinterval(SWITCH_S)
    yield
    sys.setswitchinterval(before)


router = APIRouter(prefix="/api", tags=["sounding"], dependencies=[Depends(require_bench)], lifespan=_running)
MOST_SETTINGS, MOST_POINTS, MOST_STEPS = 16, 1000, 41
LONGEST_EDITS = 64 * 1024


class CheckForm(Body):
    """Asks for the parts and findings of a draft."""

    draft: DraftForm


class MonitorForm(CheckForm):
    """Asks for the gain with which a take is heard through a draft."""

    take: Id
    way: WayName = "direct"


class NamesForm(Body):
    """Asks for short names of drafts' edits."""

    drafts: Annotated[list[DraftForm], Field(min_length=1, max_length=MOST_SETTINGS)]


class FactsForm(Body):
    """Asks about every position, knobs and switches as given."""

    draft: DraftForm
    knobs: Knobs = Field(default_factory=dict)
    switches: Switches = Field(default_factory=dict)


class ResponseForm(Body):
    """Asks for response curves; `string` counts from 1, the lowest."""

    draft: DraftForm
    settings: Annotated[list[SettingForm], Field(min_length=1, max_length=MOST_SETTINGS)]
    points: Annotated[int, Field(ge=2, le=MOST_POINTS)] = 240
    string: Annotated[int, Field(ge=1, le=64)] | None = None


class FanForm(HearingForm):
    """Asks for the curves of a knob along its travel."""

    knob: Name
    steps: Annotated[int, Field(ge=2, le=MOST_STEPS)] = 11


class PairForm(HearingForm):
    """Asks for a map over two knobs; an empty name leaves the choice."""

    first: Name = ""
    second: Name = ""


@router.get("/library")
def list_library() -> list[dict[str, Any]]:
    """Generic parts, their values as one would write them in a wiring file."""
    from dsp.parts.library.index import LIBRARY

    return [
        {
            "name": entry.name,
            "kind": entry.kind,
            "about": entry.about,
            "pair": entry.pair,
            "coupling": entry.coupling,
            "fields": {field: written(value) for field, value in entry.fields.items()},
        }
        for entry in LIBRARY.values()
    ]


@router.post("/draft/check")
def check(form: CheckForm, request: Request) -> dict[str, Any]:
    """What a draft is, or its problems."""
    bench, draft = bench_of(request), form.draft.draft()
    bench.require_version(draft)  # an unknown version is no problem of the draft's
    try:
        parsed, lacking = bench.read_unfinished(draft)
    except InputError as error:
        return {"ok": False, "missing": [], **NOTHING, **problems_json(error.problems)}
    found = {"ok": not lacking, "missing": missing_json(lacking), **problems_json(lacking)}
    findings = () if lacking else bench.findings(draft)
    return {**found, **parts_json(parsed.tree, parsed.wiring, findings, draft.edits)}


@router.get("/additions")
def list_additions() -> list[dict[str, Any]]:
    """What can be added to a wiring, each with its picture."""
    return additions_json()


@router.post("/draft/change")
def change(form: ChangeForm, request: Request) -> dict[str, Any]:
    """All edits of a draft with one thing done, and the deed in words."""
    bench, draft = bench_of(request), form.draft.draft()
    bench.require_version(draft)
    done, lacking = bench.change(draft, form.change.apply)
    return {
        "edits": [{"path": list(edit.path), "value": edit.value} for edit in done.edits],
        "name": done.name,
        "notes": list(done.notes),
        "part": done.part,
        "missing": missing_json(lacking),
    }


@router.post("/draft/names")
def names(form: NamesForm, request: Request) -> dict[str, Any]:
    """A few words for every edit of drafts, such as tone capacitor 1 nF."""
    bench = bench_of(request)
    return {"names": [bench.edit_names(one.draft()) for one in form.drafts]}


@router.post("/draft/facts")
def facts(form: FactsForm, request: Request) -> dict[str, Any]:
    """What a technician decides by, per position."""
    bench, draft = bench_of(request), form.draft.draft()
    wiring = bench.wiring(draft)
    settings = [wiring.setting(position, form.knobs, form.switches) for position in wiring.positions]
    rows = bench.cached(draft, settings, lambda: facts_json(wiring, settings, bench.findings(draft)))
    return {"positions": rows}


@router.post("/draft/drawing")
def drawing(form: FactsForm, request: Request) -> dict[str, Any]:
    """What a drawing shows, and what sounds in it at every position.

    A draft that is not finished has no states yet. ``care`` is what to mind when one solders from it,
    ``laid`` the layout of the version's picture in the list, if that is kept.
    """
    from dsp.drawing.state_record import state_record
    from dsp.drawing.wiring_record import wiring_record
    from server.documents.lug_chart import cautions_of
    from server.documents.pictures import layout_of

    parsed, lacking = bench_of(request).read_unfinished(form.draft.draft())
    wiring = parsed.wiring
    shown = {
        "facts": wiring_record(wiring),
        "care": list(cautions_of(wiring)),
        "laid": layout_of(parsed.text),
    }
    if lacking:
        return {**shown, "states": []}
    settings = [wiring.setting(position, form.knobs, form.switches) for position in wiring.positions]
    return {**shown, "states": [state_record(wiring, setting) for setting in settings]}


@router.post("/draft/response")
def response(form: ResponseForm, request: Request) -> dict[str, Any]:
    """Responses of settings over frequency."""
    wiring = bench_of(request).wiring(form.draft.draft())
    settings = [one.setting(wiring) for one in form.settings]
    return curves.response_json(wiring, settings, points=form.points, string=form.string)


@router.post("/draft/fan")
def fan(form: FanForm, request: Request) -> dict[str, Any]:
    """Responses along a knob's travel, and how evenly it moves."""
    wiring = bench_of(request).wiring(form.draft.draft())
    return curves.fan_json(wiring, form.setting.setting(wiring), form.knob, steps=form.steps)


@router.post("/draft/pair")
def pair(form: PairForm, request: Request) -> dict[str, Any]:
    """Timbre and level over two knobs, and where one of them works best."""
    wiring = bench_of(request).wiring(form.draft.draft())
    return pair_json(wiring, form.setting.setting(wiring), (form.first, form.second))


@router.post("/draft/filters", response_class=Response, responses={200: {"content": {BYTES: {}}}})
def filters(form: LiveForm, request: Request) -> Response:
    """The frame that the live connection sends too, its level in it."""
    frame, _ = bench_of(request).frame(form.hearing(), form.id, wait=True)
    return Response(frame, media_type=BYTES, headers={"Cache-Control": "no-store"})


@router.post("/draft/monitor")
def monitor(form: MonitorForm, request: Request) -> dict[str, Any]:
    """The gain at which the page plays a take in a way, dB; 0 for silence.

    ``lowered_db`` is what the drive gives way by, so that the loudest position does not fold back.
    """
    found = bench_of(request).monitor(form.draft.draft(), form.take, WAYS[form.way])
    silent = math.isinf(found.gain_db)
    gain_db = 0.0 if silent else round(found.gain_db, 3)
    return {"gain_db": gain_db, "silent": silent, "lowered_db": found.lowered_db}


@router.get("/chain")
def chain() -> dict[str, Any]:
    """Every way to hear a guitar, with the filters that the page runs."""
    return played_chain()


@router.get("/hum")
def hum() -> dict[str, Any]:
    """Rooms in words, and the hum that each induces in a coil."""
    return _hum()


@cache
def _hum() -> dict[str, Any]:
    from dsp.sound.hum import hum_record

    return hum_record(RATE_HZ)


@router.post("/draft/hum")
def pick_up(form: CheckForm, request: Request) -> dict[str, Any]:
    """What each coil picks up of hum: turns times area, signed by winding."""
    from dsp.sound.hum import pick_up_m2

    return {"areas_m2": pick_up_m2(bench_of(request).coils(form.draft.draft())).tolist()}


@router.get("/stems", response_class=Response, responses={200: {"content": {BYTES: {}}}, 304: {}})
def stems(
    request: Request,
    version: Id,
    take: Id,
    edits: Annotated[str, Query(max_length=LONGEST_EDITS)] = "[]",
    from_s: Annotated[float, Query(ge=0.0, le=86_400.0, allow_inf_nan=False)] = 0.0,
) -> Response:
    """What a take induces in every coil, 32-bit float volts, coil after coil."""
    stems = bench_of(request).stems(_draft(version, edits), take, from_s=from_s)
    headers = {
        "ETag": f'"{stems.digest}"',
        "Cache-Control": "private, no-cache",
        "X-Coils": ",".join(quote(name, safe="") for name in stems.coils),
        "X-Samples": str(stems.samples.shape[1]),
        "X-Coil-Places": quote(stems.coil_places),
        "X-Seconds": repr(stems.seconds),
    }
    if headers["ETag"] in request.headers.get("if-none-match", ""):
        return Response(status_code=304, headers=headers)
    return ArrayResponse(stems.samples, headers)


@router.get("/overview")
def overview(request: Request, take: Id, version: Id) -> dict[str, Any]:
    """A take at a glance: its length and 400 peaks."""
    stems = bench_of(request).stems(Draft(version), take)
    return {"seconds": stems.seconds, "peaks": stems.overview()}


def _draft(version: str, edits: str) -> Draft:
    """Read a draft from an address."""
    try:
        form = DraftForm.model_validate({"version": version, "edits": json.loads(edits)})
    except (ValidationError, ValueError, RecursionError) as error:
        got = edits if len(edits) <= 60 else f"{edits[:57]}..."
        raise InputError("edits", got, 'a JSON list of {"path": […], "value": "…"}') from error
    return form.draft()
