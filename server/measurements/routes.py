"""Requests of the bench that measures a coil: the rig, readings, their fit, own coils."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Annotated, Any, Literal

from fastapi import APIRouter, BackgroundTasks, Query, Request, Response
from pydantic import Field, StringConstraints
from starlette.concurrency import run_in_threadpool

from dsp.errors import InputError
from server.database.store import Store
from server.measurements import store as kept
from server.measurements.recordings import measure_recording, transfer_json
from server.measurements.rig import CAUTIONS, EXCITER_ALONE, PARTS, STEPS, tone_bytes
from server.measurements.work import Fits, own_of, read_table
from server.processes.outside_file import NAME
from server.web.answers import attached
from server.web.bodies import FILE_BODY, one_of_few, read_body
from server.web.fields import Body, Id, Line, Name
from server.web.per_app import closing, one_per_app
from server.wirings import own_coils
from server.wirings.own_coils import OwnCoil

LARGEST = 48 << 20
"""Bytes of a recording: two minutes of two channels at 48 kHz in 32 bits."""
LARGEST_TABLE = 4 << 20
ARRIVE_S = 600.0
MOST_COMING = 4
"""Recordings on their way at a time."""
MOST_ROWS = 16
WAV = "audio/wav"
Step = Literal["open", "short", "known", "coil", "second", "series", "table"]
Text = Annotated[Line, StringConstraints(max_length=40)]


router = APIRouter(prefix="/api", tags=["measurements"], lifespan=closing("fits"))


class BridgeRow(Body):
    """One reading of a bridge, as typed."""

    at: Text = ""
    ls: Text = ""
    rs: Text = ""


class PeakRow(Body):
    """One loaded peak, as typed."""

    across: Text = ""
    at: Text = ""


class Fields(Body):
    """What was typed beside the recordings."""

    source: Literal["rig", "table", "bridge", "peaks"] = "rig"
    known: Text = ""
    dc: Text = ""
    celsius: Text = ""
    second: Line = ""
    dc_second: Text = ""
    turn: bool = False
    bridge: Annotated[list[BridgeRow], Field(max_length=MOST_ROWS)] = Field(default_factory=list)
    peaks: Annotated[list[PeakRow], Field(max_length=MOST_ROWS)] = Field(default_factory=list)
    height: Text = ""


class NameForm(Body):
    """Names a coil of one's own."""

    name: Name


class Brought(Body):
    """Says in the address what a file is that the body brings."""

    wiring: Id
    part: Name
    step: Step
    name: Name


def _store(request: Request) -> Store:
    store: Store = request.app.state.store
    return store


def _fits(request: Request) -> Fits:
    """The server's fits, from the first one on."""
    return one_per_app(request.app, "fits", Fits)


@router.get("/rig")
def get_rig() -> dict[str, Any]:
    """The rig in words: cautions, what one needs, what to do."""
    return {
        "cautions": list(CAUTIONS),
        "exciter_cautions": list(EXCITER_ALONE),
        "parts": list(PARTS),
        "steps": list(STEPS),
    }


@router.get("/rig/tone", response_class=Response, responses={200: {"content": {WAV: {}}}})
def get_tone(
    rate: Literal["44100", "48000", "96000"] = "48000",
    seconds: Annotated[int, Query(ge=4, le=60)] = 10,
) -> Response:
    """The tone to play, as a sound file."""
    headers = {
        "Content-Disposition": attached(f"tone-{rate}.wav"),
        "Cache-Control": "private, max-age=86400",
    }
    return Response(tone_bytes(int(rate), seconds), media_type=WAV, headers=headers)


@router.get("/measurements")
def get_measurement(request: Request, wiring: Id, part: Name, background: BackgroundTasks) -> dict[str, Any]:
    """What was brought and typed for a coil, and the fit of it.

    The process of the fits starts meanwhile.
    """
    background.add_task(_fits(request).warm)
    return _json(kept.get_measurement(_store(request), wiring, part))


@router.put("/measurements")
def put_fields(request: Request, wiring: Id, part: Name, fields: Fields) -> dict[str, Any]:
    """Keep what was typed."""
    kept.keep_fields(_store(request), wiring, part, fields.model_dump())
    return _json(kept.get_measurement(_store(request), wiring, part))


@router.delete("/measurements")
def delete_reading(request: Request, wiring: Id, part: Name, step: Step | Literal["all"]) -> dict[str, Any]:
    """Throw one reading away, or all of the coil."""
    kept.drop_reading(_store(request), wiring, part, step)
    return _json(kept.get_measurement(_store(request), wiring, part))


@router.post("/measurements/recordings", openapi_extra=FILE_BODY)
async def bring_reading(request: Request, brought: Annotated[Brought, Query()]) -> dict[str, Any]:
    """Bring a recording of the rig or a table: the file is the body."""
    with one_of_few(request, "recordings_coming", NAME, MOST_COMING):
        await run_in_threadpool(kept.get_measurement, _store(request), brought.wiring, brought.part)
        largest = LARGEST_TABLE if brought.step == "table" else LARGEST
        content = await read_body(request, NAME, largest, ARRIVE_S)
        return await run_in_threadpool(_take, _store(request), brought, content)


@router.post("/measurements/fit")
def fit(request: Request, wiring: Id, part: Name) -> dict[str, Any]:
    """Fit what stands there, and keep the result with it."""
    store = _store(request)
    measurement = kept.get_measurement(store, wiring, part)
    result = _fits(request).fit(measurement, date.today())
    return _json(kept.keep_result(store, wiring, part, result, measurement))


@router.post("/measurements/keep", status_code=201)
def keep(request: Request, wiring: Id, part: Name, named: NameForm) -> list[dict[str, Any]]:
    """Keep the fitted coil among the own ones, with the other of its housing.

    Raises
    ------
    InputError
        If nothing was fitted yet, or the name is none for a coil.
    """
    result = kept.get_measurement(_store(request), wiring, part).result
    if result is None:
        raise InputError("the coil", "no fit of what stands there", "a fit, after the last change")
    coils = own_of(named.name, result)
    own_coils.keep_coils(_store(request), coils)
    return [_coil_json(coil) for coil in coils]


@router.get("/coils")
def list_coils(request: Request) -> list[dict[str, Any]]:
    """The own coils, without their curves."""
    return [_coil_json(coil) for coil in own_coils.list_coils(_store(request))]


@router.get("/coils/{name}")
def export_coil(request: Request, name: str) -> dict[str, Any]:
    """One own coil, with its curve."""
    return own_coils.get_coil(_store(request), name).as_json()


@router.put("/coils/{name}")
def rename_coil(request: Request, name: str, named: NameForm) -> dict[str, Any]:
    """Give an own coil another name."""
    own_coils.rename_coil(_store(request), name, named.name)
    return _coil_json(own_coils.get_coil(_store(request), named.name))


@router.delete("/coils/{name}")
def remove_coil(request: Request, name: str) -> dict[str, str]:
    """Take an own coil out of the list; the answer's id brings it back."""
    return {"id": own_coils.remove_coil(_store(request), name)}


@router.post("/coils/{removed}/restore")
def restore_coil(request: Request, removed: Id) -> dict[str, Any]:
    """Bring back a removed coil by its id."""
    return _coil_json(own_coils.restore_coil(_store(request), removed))


def _coil_json(coil: OwnCoil) -> dict[str, Any]:
    return {**replace(coil, curve=None).as_json(), "comment": coil.told, "has_curve": coil.curve is not None}


def _json(measurement: kept.Measurement) -> dict[str, Any]:
    return {
        "rig": {step: _told(measurement.rig.get(step)) for step in kept.CALIBRATION},
        "recording": _told(measurement.recording),
        "second": _told(measurement.second),
        "series": _told(measurement.series),
        "table": None if measurement.table is None else _named(measurement.table),
        "fields": Fields(**measurement.fields).model_dump(),
        "result": measurement.result,
    }


def _named(one: kept.Kept) -> dict[str, Any]:
    return {"name": one.name, "came": one.came}


def _told(one: kept.Kept | None) -> dict[str, Any] | None:
    """What a page says of a recording."""
    if one is None:
        return None
    transfer = one.content
    return {
        **_named(one),
        "signal": transfer["signal"],
        "frequencies": len(transfer["frequencies_hz"]),
        "level_dbfs": transfer["level_dbfs"],
        "hum_dbfs": transfer["hum_dbfs"],
    }


def _take(store: Store, brought: Brought, content: bytes) -> dict[str, Any]:
    """Measure or read a file, and keep what it says."""
    if not content:
        raise InputError(NAME, "0 bytes", "a sound file")
    found: Any
    if brought.step == "table":
        try:
            found = content.decode("utf-8-sig")
        except UnicodeDecodeError as error:
            got = f"byte {error.start}, which is not UTF-8"
            raise InputError("the table", got, "text in UTF-8: CSV, or a Touchstone file") from error
        read_table(brought.name, found, turn=False)
    else:
        found = transfer_json(measure_recording(content, store.folder, shorted=brought.step == "short"))
    kept.keep_reading(store, brought.wiring, brought.part, brought.step, brought.name, found)
    return _json(kept.get_measurement(store, brought.wiring, brought.part))
