"""Range, lug charts, a knob's travel and goal, faults, spread: searches started and followed."""

from __future__ import annotations

import asyncio
import json
from typing import TYPE_CHECKING, Annotated, Any, Literal

from fastapi import APIRouter, BackgroundTasks, Query, Request, Response
from pydantic import Field, FiniteFloat, StringConstraints

from dsp.errors import InputError
from server.bench.forms import DraftForm, HearingForm, Name, bench_of
from server.searches.tasks import Task, Tasks
from server.web import fields as models
from server.web.per_app import closing, one_per_app

if TYPE_CHECKING:
    from server.searches.faults import FaultFinder

LONGEST_WAIT_S = 25.0
LOOK_EVERY_S = 0.03
MOST_POSITIONS, MOST_SECONDS = 12, 600.0
SOUNDS_S = 60.0
"""For the sounds of six coupled coils on a busy machine, before the time that a search is given begins."""
LIMIT_SHARE = 4.0
"""A chart's limit: its own time, what explains why there is none, and what would do instead."""
GOAL_S = 300.0
"""For a search that takes some seconds: it has no clock of its own and gives the same answer always."""
FAULTS_S = 120.0
"""For the book of a wiring's faults, and a spread: seconds, more where another computes beside it."""
NO_COPY = {"Cache-Control": "no-store"}
Expression = Annotated[str, StringConstraints(min_length=1, max_length=400)]
Expressions = Annotated[list[Expression], Field(max_length=64)]
Least = Annotated[int, Field(ge=0, le=MOST_POSITIONS)] | Annotated[str, StringConstraints(max_length=8)]
"""Positions at least: a number, a share such as ``60 %``, or ``all``."""
Decibels = Annotated[FiniteFloat, Field(ge=0.0, le=200.0)]
Seconds = Annotated[FiniteFloat, Field(ge=0.5, le=MOST_SECONDS)]


def _tasks(request: Request) -> Tasks:
    """The server's searches, from the first one on."""
    return one_per_app(request.app, "searches", Tasks)


def _fault_finder(request: Request) -> FaultFinder:
    """The server's fault finder, from the first question on."""
    from server.searches.faults import FaultFinder

    return one_per_app(request.app, "fault_finder", FaultFinder)


router = APIRouter(prefix="/api", tags=["range"], lifespan=closing("searches", "fault_finder"))


class SwitchForm(models.Body):
    """A switch of the library or a table; `stop` is how many positions."""

    name: Name
    table: Annotated[str, StringConstraints(max_length=8000)] = ""
    stop: Annotated[int, Field(ge=1, le=64)] | None = None


class PlaceForm(models.Body):
    """A sound that stands at a position by hand."""

    position: Annotated[int, Field(ge=1, le=MOST_POSITIONS)]
    expression: Expression


class RangeOptions(models.Body):
    """What a set has to keep; what is null follows from the profile."""

    profile: Literal["widest", "useful"] = "widest"
    count: Annotated[int, Field(ge=1, le=MOST_POSITIONS)] = 5
    quiet: Least = 0
    in_phase: Least | None = None
    usual: bool | None = None
    plain: bool | None = None
    pins: Expressions = Field(default_factory=list)
    bans: Expressions = Field(default_factory=list)
    window_db: Decibels | None = None
    spread_db: Decibels | None = None
    step_db: Decibels | None = None
    levels: Literal["wired", "clean"] = "wired"
    thinnest: Annotated[FiniteFloat, Field(ge=0.0, le=1.0)] = 0.0
    order: Literal["neck", "dark", "thick", "near"] | None = None
    places: Annotated[list[PlaceForm], Field(max_length=MOST_POSITIONS)] = Field(default_factory=list)
    in_order: bool = False
    costs: bool = False
    coils: Annotated[list[Name], Field(max_length=64)] | None = None
    extra: Name = ""
    switch: SwitchForm | None = None
    seconds: Seconds = 20.0


class RangeForm(models.Body):
    """Asks for the set of sounds farthest apart."""

    draft: DraftForm
    options: RangeOptions = Field(default_factory=RangeOptions)


class ChartOptions(models.Body):
    """What a lug chart has to give, and to keep; a label per sound, or none.

    Without sounds the chart is for the positions that the sketch has. An empty `sketch` is the
    selector; a selector that is a switch is charted for the sounds that it makes. A `second` switch
    stands beside the first, on the shaft of the pot named `shaft` if one is.
    """

    sounds: Annotated[list[Expression], Field(max_length=64)] = Field(default_factory=list)
    sketch: Name = ""
    labels: Annotated[list[models.Line], Field(max_length=64)] = Field(default_factory=list)
    switch: SwitchForm
    second: SwitchForm | None = None
    shaft: Name = ""
    order: Literal["free", "fixed"] = "free"
    hanging: bool = False
    shorted: bool = True
    turning: bool = True
    seconds: Seconds = 10.0


class ChartForm(models.Body):
    """Asks for a lug chart of a draft, or of a wiring file's text."""

    draft: DraftForm | None = None
    text: models.WiringFile | None = None
    options: ChartOptions


class TravelForm(HearingForm):
    """Asks how evenly a knob changes the sound."""

    knob: Name
    capacitor: Name = ""


class GoalForm(HearingForm):
    """Asks what leads a knob to another sound; `ENDS` says which."""

    knob: Name
    to: Annotated[list[Name], Field(min_length=1, max_length=4)]
    at_least_db: Annotated[FiniteFloat, Field(gt=0.0, le=60.0)] = 3.0
    within_db: Annotated[FiniteFloat, Field(gt=0.0, le=60.0)] = 9.0
    evenness: Annotated[FiniteFloat, Field(ge=0.0, le=1.0)] = 0.6
    keep_pot: bool = False


class ReadingsForm(models.Body):
    """Asks what readings say of a draft: a table of setting, what, value.

    Without a `rig` and an `exciter` the next reading is the meter's. `sides_kept` says whether the same
    side of the exciter faced every coil.
    """

    draft: DraftForm
    rig: bool = True
    exciter: bool = False
    sides_kept: bool = True
    readings: Annotated[str, StringConstraints(max_length=20_000)] = ""


class SpreadOptions(models.Body):
    """How many instruments, the spread of their cables, and limits in words."""

    built: Annotated[int, Field(ge=2, le=100)] = 10
    cable: Annotated[FiniteFloat, Field(ge=0.0, le=1.0)] = 0.2
    limits: Annotated[list[models.Line], Field(max_length=12)] = Field(default_factory=list)


class SpreadForm(models.Body):
    """Asks how far instruments built alike differ."""

    draft: DraftForm
    options: SpreadOptions = Field(default_factory=SpreadOptions)


class SketchForm(models.Body):
    """Asks about a draft: its switch, a sketch in its place, its faults."""

    draft: DraftForm


class KeptChart(models.Body):
    """Where a chart's wiring goes: into a commission, or on top of one."""

    commission: models.Id | None = None
    name: models.Name | None = None
    wiring: models.Id | None = None
    base: models.Id | None = None
    note: models.Line = ""


@router.get("/switches")
def list_switches() -> list[dict[str, Any]]:
    """Generic switches that a chart may be made for."""
    from server.wirings.switches import switch_rows

    return switch_rows()


@router.get("/range/profiles")
def list_profiles() -> list[dict[str, Any]]:
    """What each profile asks of a set where nothing else is given."""
    from server.searches.sounds import profiles_json

    return profiles_json()


@router.post("/draft/sketch")
def sketch(form: SketchForm, request: Request) -> dict[str, Any]:
    """Edits that put a sketch in the place of a draft's switch."""
    from server.searches.sketch import sketch_edits

    return {"edits": sketch_edits(bench_of(request).wiring(form.draft.draft()))}


@router.post("/draft/switches")
def list_wired_switches(form: SketchForm, request: Request) -> dict[str, Any]:
    """A draft's switches as they are soldered; the sounds to wire anew."""
    from server.searches.existing import switches_json

    return switches_json(bench_of(request).wiring(form.draft.draft()))


@router.post("/range", status_code=202)
def start_range(form: RangeForm, request: Request) -> dict[str, Any]:
    """Start a search for the range of sounds, or find the same one."""
    return _asked(request, "range", form.draft, form.options.model_dump(), SOUNDS_S)


@router.post("/charts", status_code=202)
def start_chart(form: ChartForm, request: Request) -> dict[str, Any]:
    """Start a search for a lug chart; explaining takes time of its own.

    Raises
    ------
    InputError
        Unless there is either a draft or a text, and one that can be read.
    """
    from server.searches.sketch import with_sketch, without_sounds
    from server.searches.sounds import read

    options = form.options
    if form.draft is not None and form.text is None:
        parsed = bench_of(request).read(form.draft.draft())
        text, found = parsed.text, parsed.wiring
    elif form.text is not None and form.draft is None:
        text, found = form.text, read(form.text)
    else:
        raise InputError("chart", "neither or both", "a draft, or a wiring file's text")
    if not options.sketch and found.sketch is None:
        text = with_sketch(text, found)
    elif options.sounds:  # else the sketch's own are part of the question
        text = without_sounds(text, found)
    return (
        _tasks(request)
        .ask("chart", text, options.model_dump(), limit_s=LIMIT_SHARE * options.seconds)
        .state()
    )


@router.post("/travels", status_code=202)
def start_travel(form: TravelForm, request: Request) -> dict[str, Any]:
    """Start to work out a knob's travel and what would make it more even."""
    options = {**form.setting.model_dump(), "knob": form.knob, "capacitor": form.capacitor}
    return _asked(request, "travel", form.draft, options, 60.0, whole=True)


@router.post("/goals", status_code=202)
def start_goal(form: GoalForm, request: Request) -> dict[str, Any]:
    """Start to search for what leads a knob to another sound."""
    goal = form.model_dump(exclude={"draft", "setting"})
    return _asked(request, "goal", form.draft, {**form.setting.model_dump(), **goal}, GOAL_S, whole=True)


@router.post("/faults", status_code=202)
def start_faults(form: SketchForm, request: Request, background: BackgroundTasks) -> dict[str, Any]:
    """Start to work out what each fault of a draft would read.

    The process that answers starts meanwhile.
    """
    background.add_task(_fault_finder(request).warm)
    return _asked(request, "faults", form.draft, {}, FAULTS_S, whole=True)


@router.post("/spread", status_code=202)
def start_spread(form: SpreadForm, request: Request) -> dict[str, Any]:
    """Start to build a draft many times by tolerance."""
    return _asked(request, "spread", form.draft, form.options.model_dump(), FAULTS_S, whole=True)


@router.post("/faults/answer")
def answer_faults(form: ReadingsForm, request: Request) -> dict[str, Any]:
    """The faults that explain readings, and the reading to take next."""
    text = bench_of(request).read(form.draft.draft()).text
    return _fault_finder(request).answer(
        text, form.readings, rig=form.rig, exciter=form.exciter, sides_kept=form.sides_kept
    )


def _asked(
    request: Request,
    kind: str,
    draft: DraftForm,
    options: dict[str, Any],
    limit_s: float,
    *,
    whole: bool = False,
) -> dict[str, Any]:
    """Ask a question about a draft; unless `whole`, without its sketch's sounds."""
    from server.searches.sketch import without_sounds

    parsed = bench_of(request).read(draft.draft())
    text = parsed.text if whole else without_sounds(parsed.text, parsed.wiring)
    return _tasks(request).ask(kind, text, options, limit_s=limit_s).state()


@router.get("/searches/{search}")
async def follow_search(
    request: Request, search: models.Id, after: Annotated[int, Query(ge=0)] = 0
) -> dict[str, Any]:
    """What a search has found; waits up to 25 s for more than was known."""
    task = _tasks(request).task(search)
    loop = asyncio.get_running_loop()
    until = loop.time() + LONGEST_WAIT_S
    with task.watched():
        while task.running and task.news <= after and loop.time() < until:
            if await request.is_disconnected():
                break
            await asyncio.sleep(LOOK_EVERY_S)
    return task.state()


@router.post("/searches/{search}/cancel")
def cancel_search(request: Request, search: models.Id) -> dict[str, Any]:
    """End a search now; what it found stays."""
    task = _tasks(request).task(search)
    task.stop()
    return task.state()


@router.get("/searches/{search}/map")
def sound_map(request: Request, search: models.Id) -> Response:
    """Candidate sounds with their places on a plane and their timbres."""
    found = _tasks(request).task(search).large("map")
    return Response(found, media_type="application/json", headers=NO_COPY)


@router.get("/searches/{search}/drawing.svg", response_class=Response)
def drawing(request: Request, search: models.Id) -> Response:
    """The lug chart as a drawing."""
    return _document(_tasks(request).task(search), "drawing", "image/svg+xml", "svg")


@router.get("/searches/{search}/chart.txt", response_class=Response)
def sheet(request: Request, search: models.Id) -> Response:
    """The lug chart as text."""
    return _document(_tasks(request).task(search), "sheet", "text/plain; charset=utf-8", "txt")


@router.get("/searches/{search}/wiring.yaml", response_class=Response)
def wiring(request: Request, search: models.Id) -> Response:
    """The whole wiring file with the chart's joints."""
    return _document(_tasks(request).task(search), "wiring", "application/yaml", "yaml")


def _document(task: Task, key: str, kind: str, ending: str) -> Response:
    headers = {**NO_COPY, "Content-Disposition": f'inline; filename="lug-chart.{ending}"'}
    return Response(json.loads(task.large(key)), media_type=kind, headers=headers)


@router.post("/searches/{search}/keep", status_code=201)
def keep_chart(request: Request, search: models.Id, where: KeptChart) -> dict[str, str]:
    """Make a chart's wiring a further one, or the next version of one.

    Raises
    ------
    InputError
        If it is not said which of the two.
    """
    from server.commissions import versions

    text, store = json.loads(_tasks(request).task(search).large("wiring")), request.app.state.store
    if where.commission and where.name and not (where.wiring or where.base):
        made, version = versions.create_wiring(store, where.commission, where.name, text)
        return {"wiring_id": made, "version_id": version}
    if where.wiring and where.base and not (where.commission or where.name):
        saved = versions.save(store, where.wiring, where.base, [], text=text, note=where.note)
        return {"wiring_id": where.wiring, "version_id": saved.id}
    raise InputError("where to keep it", "neither or both", "commission and name, or wiring and base")
