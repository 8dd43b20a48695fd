"""Requests about commissions, their wirings and versions, and the starters."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import Any, TypeVar

from fastapi import APIRouter, Depends, Request, Response
from pydantic import JsonValue
from starlette.concurrency import run_in_threadpool

from dsp.errors import InputError
from server.commissions import starters, versions
from server.commissions import store as commissions
from server.commissions.forms import CommissionChange, NewCommission, NewVersion, NewWiring, WordsForm
from server.database.store import Store
from server.documents.pictures import Pictures
from server.web.access import require_bench
from server.web.per_app import closing, one_per_app
from server.wirings import in_words
from server.wirings.fitting import StarterFit, fit_starter

Made = TypeVar("Made")
SVG = "image/svg+xml"
FOR_AN_HOUR = "private, max-age=3600"
"""A version never changes, but the program that draws it may."""


router = APIRouter(
    prefix="/api", tags=["commissions"], dependencies=[Depends(require_bench)], lifespan=closing("pictures")
)


def _store(request: Request) -> Store:
    store: Store = request.app.state.store
    return store


@router.get("/commissions")
def list_commissions(request: Request, search: str = "", archived: bool = False) -> list[dict[str, Any]]:
    """Commissions, the one changed last first."""
    return commissions.list_commissions(_store(request), search, archived=archived)


@router.post("/commissions", status_code=201)
def create_commission(request: Request, new: NewCommission) -> dict[str, str]:
    """A new commission from a starter, a wiring's text, or nothing.

    Raises
    ------
    InputError
        If instrument or coils are given without a starter to put them into.
    """
    wirings: dict[str, str] = {}
    state: dict[str, str] = {}
    fit = StarterFit(new.instrument.scale, new.instrument.set, new.coils)
    if fit != StarterFit() and (new.starter is None or new.wiring_text is not None):
        raise InputError("instrument and coils", "no starter", "a starter that they are put into")
    if new.wiring_text is not None:
        text = versions.whole_text(_store(request), new.wiring_text, new.title)
        wirings[new.title] = versions.edit_text(text, (), new.title)
    elif new.starter is not None:
        starter = starters.get_starter(new.starter)
        text, state = starter.text(), starter.state()
        wirings[starter.title] = fit_starter(text, fit, starter.title) if fit != StarterFit() else text
    return {"id": commissions.create(_store(request), new.title, new.client, wirings, state=state)}


@router.get("/commissions/{commission}")
def get_commission(request: Request, commission: str) -> dict[str, Any]:
    """A commission with its state and every version of its wirings."""
    return commissions.get_commission(_store(request), commission)


@router.patch("/commissions/{commission}")
def change_commission(request: Request, commission: str, change: CommissionChange) -> dict[str, Any]:
    """Rename, put away or bring back."""
    commissions.change(_store(request), commission, **change.model_dump(exclude_unset=True))
    return commissions.get_commission(_store(request), commission)


@router.post("/commissions/{commission}/copy", status_code=201)
def copy_commission(request: Request, commission: str) -> dict[str, str]:
    """A new commission with the latest version of every wiring."""
    return {"id": commissions.copy(_store(request), commission)}


@router.put("/commissions/{commission}/state")
def keep_state(request: Request, commission: str, state: dict[str, JsonValue]) -> dict[str, bool]:
    """Save what the page wants to find again."""
    commissions.save_state(_store(request), commission, state)
    return {"kept": True}


@router.post("/commissions/{commission}/wirings", status_code=201)
def create_wiring(request: Request, commission: str, new: NewWiring) -> dict[str, str]:
    """A new wiring in a commission."""
    wiring, version = versions.create_wiring(_store(request), commission, new.name, new.text)
    return {"wiring_id": wiring, "version_id": version}


@router.get("/starters")
def list_starters() -> list[dict[str, Any]]:
    """Wirings to start from, each with its scale and its coils' library parts."""
    return starters.list_starters()


@router.get("/starters/strings")
def list_string_sets() -> list[dict[str, Any]]:
    """Generic sets of strings that a starter can be given."""
    from dsp.parts.library.string_sets import STRING_SETS

    return [{"name": one.name, "title": one.title, "strings": one.written()} for one in STRING_SETS.values()]


@router.get("/words")
def list_words() -> dict[str, Any]:
    """What may be said of a new instrument, and the commonest layouts."""
    return in_words.choices_json()


@router.post("/words")
def make_from_words(form: WordsForm) -> dict[str, Any]:
    """The wiring file of an instrument in words, and the sounds on offer."""
    return in_words.made_json(in_words.words_from(form.model_dump()))


@router.get("/versions/{version}")
def get_version(request: Request, version: str) -> dict[str, Any]:
    """A version with its text."""
    return versions.get_version(_store(request), version)


@router.get("/versions/{version}/picture", response_class=Response, responses={200: {"content": {SVG: {}}}})
async def get_picture(request: Request, version: str) -> Response:
    """A small picture of a version's wiring; made at the first request.

    One picture is made at a time. The others wait here and hold no thread.
    """
    text = str((await run_in_threadpool(versions.get_version, _store(request), version))["text"])
    svg = await _in_turn(request, lambda pictures: pictures.small(text))
    return Response(svg, media_type=SVG, headers={"Cache-Control": FOR_AN_HOUR})


@router.get("/versions/{version}/difference")
async def get_difference(request: Request, version: str) -> dict[str, Any]:
    """What a version changed of the one before: a picture, and the same in words.

    Raises
    ------
    Unknown
        If it is the first.
    """
    before, after = await run_in_threadpool(versions.with_the_one_before, _store(request), version)
    return await _in_turn(request, lambda pictures: pictures.changes(before, after))


async def _in_turn(request: Request, make: Callable[[Pictures], Made]) -> Made:
    """Have a picture made once those before are there; the server's pictures begin with the first."""
    pictures = one_per_app(request.app, "pictures", Pictures)
    async with one_per_app(request.app, "picture_turn", lambda: asyncio.Semaphore(1)):
        return await run_in_threadpool(make, pictures)


@router.get("/wirings/{wiring}/changes")
def list_changes(request: Request, wiring: str) -> dict[str, list[str]]:
    """What each version changed of the one before, in a few words."""
    return versions.changes(_store(request), wiring)


@router.post("/wirings/{wiring}/versions", status_code=201)
def save_version(request: Request, wiring: str, new: NewVersion) -> dict[str, Any]:
    """The next version of a wiring, comments kept; its file too, if any."""
    saved = versions.save(_store(request), wiring, new.base, new.changes(), text=new.text, note=new.note)
    return {"id": saved.id, "number": saved.number, "file": saved.file}
