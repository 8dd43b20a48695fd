"""Requests about finished guitars: what to read, what was read, what it says."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from fastapi import APIRouter, Query, Request
from pydantic import Field, StringConstraints
from starlette.concurrency import run_in_threadpool

from dsp.checking.exciter_reading import read_exciter
from dsp.checking.points import setting_text
from dsp.checking.readings_text import read_setting
from dsp.errors import InputError
from dsp.wiring.model import Wiring
from server.bench.forms import bench_of
from server.bench.hearing import Draft
from server.built import store as kept
from server.built.excited import excited_plan, excited_values, judge_excited_rows, values_of
from server.built.judging import curve_json, judge_rows, plan_record, rows_of
from server.built.work import BuiltWork
from server.database.store import Store
from server.measurements.coil import TABLES, TOUCHSTONE
from server.measurements.finished import spread_lines
from server.measurements.recordings import measure_recording, transfer_json
from server.measurements.rig import CAUTIONS, EXCITER_ALONE, EXCITER_PARTS, EXCITER_STEPS
from server.measurements.store import CALIBRATION, Kept
from server.measurements.work import read_table
from server.processes.outside_file import NAME
from server.proposals.signoffs import signed_versions
from server.web.bodies import FILE_BODY, one_of_few, read_body
from server.web.fields import Body, Id, Line, Name, Paragraphs
from server.web.per_app import closing, one_per_app

LARGEST = 48 << 20
"""Bytes of a recording: two minutes of two channels at 48 kHz in 32 bits."""
LARGEST_TABLE = 4 << 20
ARRIVE_S = 600.0
MOST_COMING = 4
"""Recordings on their way at a time."""
Typed = Annotated[Line, StringConstraints(max_length=40)]
Serial = Annotated[Line, StringConstraints(max_length=60)]
Step = Literal["open", "short", "known", "guitar"]
Source = Literal["open", "short", "known", "guitar", "exciter"]
"""What a file says: a step of the rig, the guitar at a setting, or the guitar under an exciter."""
Excited = dict[Name, Annotated[dict[Name, Typed], Field(max_length=kept.MOST_READINGS)]]


router = APIRouter(prefix="/api/built", tags=["built"], lifespan=closing("built_work"))


class Impedance(Body):
    """|Z| that was kept: the recording's name, values by frequency."""

    name: Line
    came: Typed
    values: Annotated[dict[Name, Typed], Field(max_length=kept.MOST_READINGS)]


class Fields(Body):
    """What was typed at a guitar.

    `version` is what it is judged against; `of` and `base` are an instrument that is read again, and
    its entry. `excited` holds an exciter's and a blade's readings by what, then by setting.
    """

    version: Id | Literal[""] = ""
    known: Typed = ""
    sides_kept: bool = True
    excited: Annotated[Excited, Field(max_length=kept.MOST_READINGS)] = Field(default_factory=dict)
    meter: Annotated[dict[Name, Typed], Field(max_length=kept.MOST_READINGS)] = Field(default_factory=dict)
    serial: Serial = ""
    day: Typed = ""
    notes: Paragraphs = ""
    of: Id | Literal[""] = ""
    base: Annotated[int, Field(ge=0)] = 0
    impedance: Annotated[dict[Name, Impedance], Field(max_length=kept.MOST_READINGS)] = Field(
        default_factory=dict
    )


class Brought(Body):
    """Says in the address what a file is that the body brings."""

    wiring: Id
    version: Id
    step: Source
    name: Name
    setting: Line = ""
    coil: Line = ""


def _store(request: Request) -> Store:
    store: Store = request.app.state.store
    return store


def work_of(request: Request) -> BuiltWork:
    """The server's work on finished guitars, from the first request on."""
    return one_per_app(request.app, "built_work", BuiltWork)


def read_version(request: Request, version: str) -> tuple[str, Wiring]:
    """The text of a version, and the wiring that it says."""
    parsed = bench_of(request).read(Draft(version, ()))
    return parsed.text, parsed.wiring


@router.get("/plan")
def get_plan(request: Request, version: Id) -> dict[str, Any]:
    """What to read at a guitar of a version, each with its band."""
    text, wiring = read_version(request, version)
    return {
        "cautions": list(CAUTIONS),
        "settings": plan_record(wiring, work_of(request).bands(text)),
        "exciter": {
            "cautions": list(EXCITER_ALONE),
            "parts": list(EXCITER_PARTS),
            "steps": list(EXCITER_STEPS),
            "coils": excited_plan(wiring, work_of(request).excited(text)),
        },
        "spreads": spread_lines(wiring),
    }


@router.get("/readings")
def get_readings(request: Request, wiring: Id, version: Id | Literal[""] = "") -> dict[str, Any]:
    """What is being read at a guitar, judged against a version.

    Without one it is judged against what it was judged last, or not at all.
    """
    found = kept.get_readings(_store(request), wiring)
    return _json(request, wiring, found, version or found.fields.get("version", ""))


@router.put("/readings")
def put_readings(request: Request, wiring: Id, fields: Fields) -> dict[str, Any]:
    """Keep what was typed, and judge it: what is not sent stays."""
    found = kept.keep_fields(_store(request), wiring, fields.model_dump(exclude_unset=True))
    return _json(request, wiring, found, found.fields.get("version", ""))


@router.delete("/readings")
def delete_readings(
    request: Request, wiring: Id, step: Step | Literal["all"], setting: Line = ""
) -> dict[str, Any]:
    """Throw one recording away, or everything of this guitar."""
    store = _store(request)
    if step == "all":
        kept.drop_readings(store, wiring)
    elif step == "guitar":
        kept.drop_recording(store, wiring, setting)
    else:
        kept.drop_calibration(store, step)
    return get_readings(request, wiring)


@router.post("/readings/back")
def put_readings_back(request: Request, wiring: Id) -> dict[str, Any]:
    """Exchange what came since with what was thrown away last.

    Raises
    ------
    Unknown
        If nothing was thrown away, or the guitar after it was kept.
    """
    found = kept.exchange_readings(_store(request), wiring)
    return _json(request, wiring, found, found.fields.get("version", ""))


@router.post("/recordings", openapi_extra=FILE_BODY)
async def bring_recording(request: Request, brought: Annotated[Brought, Query()]) -> dict[str, Any]:
    """Bring a recording or a table of impedance: the file is the body."""
    with one_of_few(request, "jack_recordings_coming", NAME, MOST_COMING):
        setting, emptied = await run_in_threadpool(_place_of, request, brought)
        content = await read_body(request, NAME, LARGEST_TABLE if _is_table(brought) else LARGEST, ARRIVE_S)
        await run_in_threadpool(_take, _store(request), brought, setting, emptied, content)
    return await run_in_threadpool(get_readings, request, brought.wiring, brought.version)


def _place_of(request: Request, brought: Brought) -> tuple[str, int]:
    """A recording's setting as tables name it, and its guitar, before the file comes.

    The guitar is told by how often the fields were emptied before it.
    """
    emptied = kept.get_readings(_store(request), brought.wiring).emptied
    if brought.step not in ("guitar", "exciter"):
        return "", emptied
    _, wiring = read_version(request, brought.version)
    if brought.step == "exciter" and brought.coil not in wiring.coils:
        raise InputError("coil", brought.coil, ", ".join(wiring.coils))
    return setting_text(wiring, read_setting(wiring, brought.setting, "setting")), emptied


def _is_table(brought: Brought) -> bool:
    return brought.step == "guitar" and brought.name.lower().endswith(TABLES + TOUCHSTONE)


def _take(store: Store, brought: Brought, setting: str, emptied: int, content: bytes) -> None:
    """Measure or read a file, and keep what it says."""
    if not content:
        raise InputError(NAME, "0 bytes", "a sound file, or a table of impedance")
    if _is_table(brought):
        try:
            text = content.decode("utf-8-sig")
        except UnicodeDecodeError as error:
            got = f"byte {error.start}, which is not UTF-8"
            raise InputError("the table", got, "text in UTF-8: CSV, or a Touchstone file") from error
        curve, _ = read_table(brought.name, text, turn=False)
        read = curve_json(curve)
        kept.keep_recording(store, brought.wiring, setting, brought.name, read, emptied=emptied)
        return
    silent = brought.step in ("short", "exciter")
    measured = measure_recording(content, store.folder, shorted=silent)
    if brought.step == "exciter":
        read_values = excited_values(read_exciter(measured), brought.coil)
        values = {what: {setting: value} for what, value in read_values.items()}
        kept.keep_excited(store, brought.wiring, values, brought.name, emptied=emptied)
        return
    found = transfer_json(measured)
    if brought.step == "guitar":
        kept.keep_recording(store, brought.wiring, setting, brought.name, found, emptied=emptied)
    else:
        kept.keep_calibration(store, brought.step, brought.name, found)


def _json(request: Request, wiring: str, found: kept.JackReadings, version: str) -> dict[str, Any]:
    judged, waiting = judge_readings(request, found, version)
    fields = Fields(**found.fields)
    again = {
        setting: {"name": one.name, "came": one.came, "frequencies": len(one.values)}
        for setting, one in fields.impedance.items()
    }
    return {
        "rig": {step: _told(found.rig.get(step)) for step in CALIBRATION},
        "recordings": again | {setting: _told(one) for setting, one in found.recordings.items()},
        "fields": fields.model_dump(),
        "signed": signed_versions(_store(request), wiring),
        "waiting": waiting,
        "judged": judged,
        "thrown": found.thrown,
    }


def judge_readings(
    request: Request, found: kept.JackReadings, version: str
) -> tuple[dict[str, Any] | None, str]:
    """The verdict on readings, and why some recordings say nothing yet."""
    rows, waiting = rows_of(found)
    if not version:
        return None, waiting
    text, wiring = read_version(request, version)
    values = values_of(found.fields.get("excited", {}))
    excited = []
    if values:
        sound = work_of(request).excited(text)
        kept_sides = found.fields.get("sides_kept", True)
        excited = judge_excited_rows(wiring, sound, values, sides_kept=kept_sides)
    return judge_rows(wiring, work_of(request).bands(text), rows, excited), waiting


def _told(one: Kept | None) -> dict[str, Any] | None:
    """What a page says of a recording or a table."""
    if one is None:
        return None
    said = {"name": one.name, "came": one.came, "frequencies": len(one.content["frequencies_hz"])}
    if "signal" not in one.content:
        return said
    return {**said, **{key: one.content[key] for key in ("signal", "level_dbfs", "hum_dbfs")}}
