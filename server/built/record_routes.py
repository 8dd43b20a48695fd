"""Requests about the workshop's record: built instruments, their table, their reports."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from fastapi import APIRouter, Request, Response
from pydantic import StringConstraints

from dsp.checking.readings_text import METER
from dsp.errors import InputError
from server.built import record
from server.built import store as kept
from server.built.excited import is_excited
from server.built.routes import Fields, judge_readings, work_of
from server.built.table import record_csv
from server.database.store import Store
from server.measurements.rig import CAUTIONS, EXCITER_ALONE
from server.proposals.signoffs import signed_versions
from server.web.answers import attached
from server.web.fields import Body, Id, Line
from server.workshop.store import get_workshop

CSV, PDF = "text/csv", "application/pdf"
NOT_KEPT = {"Cache-Control": "no-store"}
SIDES_KEPT = "sides_kept"
Search = Annotated[Line, StringConstraints(max_length=100)]
router = APIRouter(prefix="/api/built", tags=["built"])


class Archived(Body):
    """Puts an instrument away, or brings it back."""

    archived: bool


def _store(request: Request) -> Store:
    store: Store = request.app.state.store
    return store


@router.get("/instruments")
def list_instruments(
    request: Request, search: Search = "", wiring: Id | Literal[""] = "", archived: bool = False
) -> list[dict[str, Any]]:
    """The record, the last read first; of one wiring, or of all."""
    return record.list_instruments(_store(request), search, wiring=wiring, archived=archived)


@router.post("/instruments", status_code=201)
def keep_instrument(request: Request, wiring: Id) -> dict[str, Any]:
    """Keep what stands in the fields of a wiring as an instrument.

    One that is read again gets a newer entry. The fields are empty then.

    Raises
    ------
    InputError
        If recordings say nothing yet, or the fields make no entry.
    """
    store = _store(request)
    found = kept.get_readings(store, wiring)
    fields = Fields(**found.fields)
    if not fields.version:
        raise InputError("version", "none", "the version that this guitar is judged against")
    judged, waiting = judge_readings(request, found, fields.version)
    if waiting:
        allowed = "recordings that can be read, or none"
        raise InputError("recordings", waiting, allowed, "bring what they lack, or throw them away")
    assert judged is not None  # there is a version
    signed = signed_versions(store, wiring).get(fields.version, "")
    verdict = {**judged["verdict"], SIDES_KEPT: fields.sides_kept}
    entry = record.Entry(
        fields.serial, fields.version, signed, fields.day, fields.notes, judged["readings"], verdict
    )
    if fields.of:
        record.change_instrument(store, fields.of, fields.base, entry)
        return record.get_instrument(store, fields.of)
    return record.get_instrument(store, record.add_instrument(store, wiring, entry))


@router.get("/instruments/{built}")
def get_instrument(request: Request, built: str) -> dict[str, Any]:
    """One instrument, with its earlier entries."""
    return record.get_instrument(_store(request), built)


@router.put("/instruments/{built}/archived")
def put_archived(request: Request, built: str, form: Archived) -> dict[str, bool]:
    """Put an instrument away, or bring it back."""
    record.set_archived(_store(request), built, archived=form.archived)
    return {"archived": form.archived}


@router.post("/instruments/{built}/open")
def open_instrument(request: Request, built: str) -> dict[str, str]:
    """Put an instrument's readings into the fields, to read it again.

    The day stays empty: it is another one.
    """
    store = _store(request)
    one = record.get_instrument(store, built)
    meter: dict[str, str] = {}
    impedance: dict[str, Any] = {}
    excited: dict[str, dict[str, str]] = {}
    for each in one["readings"]:
        if each["what"] == METER:
            meter[each["setting"]] = each["value"]
        elif is_excited(each["what"]):
            excited.setdefault(each["what"], {})[each["setting"]] = each["value"]
        else:
            recorded = {"name": each["source"], "came": one["saved"], "values": {}}
            impedance.setdefault(each["setting"], recorded)["values"][each["what"]] = each["value"]
    of = {"of": built, "base": one["number"], "version": one["version_id"]}
    said = {key: one[key] for key in ("serial", "notes")}
    read: dict[str, Any] = {"meter": meter, "impedance": impedance, "excited": excited}
    read[SIDES_KEPT] = one["verdict"].get(SIDES_KEPT, True)  # entries of before lack it
    kept.open_readings(store, one["wiring_id"], {**of, **said, **read})
    return {"commission": one["commission_id"], "wiring": one["wiring_id"]}


@router.get("/record.csv", response_class=Response, responses={200: {"content": {CSV: {}}}})
def get_csv(request: Request, search: Search = "", decimal: Literal["point", "comma"] = "point") -> Response:
    """The record as CSV, archived instruments too, each reading a line."""
    store = _store(request)
    found = [one for put in (False, True) for one in record.list_instruments(store, search, archived=put)]
    headers = {"Content-Disposition": attached("built-instruments.csv"), **NOT_KEPT}
    text = record_csv(found, decimal_comma=decimal == "comma")
    return Response(text, media_type=f"{CSV}; charset=utf-8", headers=headers)


@router.get("/instruments/{built}/report", response_class=Response, responses={200: {"content": {PDF: {}}}})
def get_report(request: Request, built: str, paper: Literal["a4", "letter"] = "a4") -> Response:
    """The report of an instrument as a PDF document of one page."""
    store = _store(request)
    one = record.get_instrument(store, built)
    workshop = get_workshop(store)
    said = {"name": workshop.name, "contact": workshop.contact}
    excited = any(is_excited(each["what"]) for each in one["readings"])
    cautions = (*CAUTIONS, *(EXCITER_ALONE if excited else ()))
    made = work_of(request).report(one, said, cautions, paper)
    headers = {"Content-Disposition": attached(f"report-{one['serial']}.pdf"), **NOT_KEPT}
    return Response(made, media_type=PDF, headers=headers)
