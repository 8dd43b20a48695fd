"""Listings on the bench: order, follow, cancel, download."""

from __future__ import annotations

import asyncio
import base64
import binascii
import contextlib
from collections.abc import AsyncIterator
from pathlib import Path
from typing import Any

from fastapi import APIRouter, FastAPI, Query, Request
from fastapi.responses import FileResponse, StreamingResponse
from starlette.concurrency import run_in_threadpool

from dsp.chain.ways import WAYS
from dsp.errors import InputError
from dsp.sound.hum import MAINS_HZ, ROOMS
from server.database.store import Store
from server.files.names import file_stem
from server.listings import store as orders
from server.listings.files import MEDIA, ListingZip, keep_picture, listing_folder, picture_file
from server.listings.forms import ListingChange, NewListing, NewPicture
from server.listings.making.file_fields import FOR_BUYERS, FOR_HEARING, FOR_TAGS_AND_WEB
from server.listings.order import OrderPreview, WiringPreview, make_order, preview
from server.listings.page_routes import page_address
from server.listings.work import ListingKeeper
from server.refusals import Conflict
from server.web.answers import attached
from server.workshop.store import get_workshop

LONGEST_WAIT_S = 25.0
LOOK_EVERY_S = 0.25


@contextlib.asynccontextmanager
async def _working(app: FastAPI) -> AsyncIterator[None]:
    """Run the queue's process as long as the server."""
    app.state.listing_keeper = ListingKeeper(app.state.settings, app.state.store)
    app.state.listing_keeper.start()
    try:
        yield
    finally:
        await run_in_threadpool(app.state.listing_keeper.stop)


router = APIRouter(prefix="/api/listings", tags=["listings"], lifespan=_working)


def _store(request: Request) -> Store:
    store: Store = request.app.state.store
    return store


def _preview(request: Request, new: NewListing) -> OrderPreview:
    store, library = _store(request), request.app.state.library
    order = make_order(store, library, new.title, new.chosen(), new.takes, new.options())
    return preview(order, library)


def _wake(request: Request) -> None:
    if keeper := getattr(request.app.state, "listing_keeper", None):
        keeper.wake()


def _with_page(request: Request, job: dict[str, Any]) -> dict[str, Any]:
    """Add the address of a listing's pages, or None while there are none."""
    return {**job, "page": page_address(request, job["id"])}


@router.get("")
def list_listings(request: Request, archived: bool = False) -> list[dict[str, Any]]:
    """Return the listings, newest first."""
    return [_with_page(request, one) for one in orders.list_orders(_store(request), archived=archived)]


@router.post("/plan")
def plan_listing(request: Request, new: NewListing) -> dict[str, Any]:
    """Preview a listing before it is started."""
    found = _preview(request, new)
    rows = [_preview_row(row, n_files) for row, n_files in zip(found.rows, found.files(), strict=True)]
    return {"clips": found.clips, "files": sum(found.files()), "seconds": found.seconds, "instruments": rows}


def _preview_row(row: WiringPreview, n_files: int) -> dict[str, Any]:
    """Return what one wiring would become, and the positions, knobs and switches it has."""
    wiring = row.wiring
    has: dict[str, Any] = {"positions": [], "knobs": [], "switches": {}}
    if wiring is not None:
        labels = [{"position": one, "label": wiring.labels.get(one, "")} for one in wiring.positions]
        switches = {name: list(places) for name, places in wiring.stands.items()}
        has = {"positions": labels, "knobs": list(wiring.knobs), "switches": switches}
    return {
        "version": row.ordered.version,
        "name": row.ordered.name,
        "folder": row.ordered.folder,
        "clips": len(row.instrument.clips) if row.instrument else 0,
        "files": n_files,
        "left_out": list(row.left_out),
        "problems": [str(problem) for problem in row.problems],
        **has,
    }


@router.post("", status_code=201)
def create_listing(request: Request, new: NewListing) -> dict[str, str]:
    """Put a listing into the queue.

    Raises
    ------
    InputError
        If none of its wirings gives a clip.
    """
    found = _preview(request, new)
    found.require_clips()
    job = orders.create(
        _store(request), found.order, clips=found.clips, files=found.files(), seconds=found.seconds
    )
    _wake(request)
    return {"id": job}


@router.get("/fields")
def list_form_fields(request: Request) -> dict[str, list[dict[str, Any]]]:
    """Return the form's fields, the ways to hear and the rooms of hum.

    A field that stays empty has its ``usual`` text: the artist is the workshop.
    """
    usual = {"artist": get_workshop(request.app.state.store).name}
    tables = {"listing": FOR_TAGS_AND_WEB, "sale": FOR_BUYERS, "hearing": FOR_HEARING}
    fields = {
        name: [
            {"name": one.name, "form": one.form, "about": one.about, "usual": usual.get(one.name, "")}
            for one in table
        ]
        for name, table in tables.items()
    }
    return fields | {
        "ways": [{"name": way.name, "about": way.about} for way in WAYS.values()],
        "rooms": [{"name": name, "about": room.about} for name, room in ROOMS.items()],
        "mains": [{"hz": hz, "about": f"{hz:g} Hz"} for hz in MAINS_HZ],
    }


@router.post("/pictures", status_code=201)
def bring_picture(request: Request, new: NewPicture) -> dict[str, str]:
    """Keep an instrument's picture for a listing.

    Raises
    ------
    InputError
        If it is no picture.
    """
    try:
        content = base64.b64decode(new.content, validate=True)
    except (binascii.Error, ValueError) as error:
        raise InputError("picture", "text that is not base 64", "a picture file in base 64") from error
    return {"picture": keep_picture(request.app.state.settings.data, content)}


@router.get("/pictures/{picture}", response_class=FileResponse)
def get_picture(request: Request, picture: str) -> FileResponse:
    """Return a kept picture."""
    path = picture_file(request.app.state.settings.data, picture)
    return FileResponse(path, media_type=MEDIA[path.suffix])


@router.get("/events")
async def wait_for_listings(request: Request, after: int = Query(0, ge=0)) -> dict[str, Any]:
    """Answer as soon as any listing has changed, or after 25 s."""
    loop = asyncio.get_running_loop()
    until = loop.time() + LONGEST_WAIT_S
    while True:
        found = await run_in_threadpool(orders.count_changes, _store(request))
        over = loop.time() >= until or await request.is_disconnected()
        if found != after or over:
            return {"after": found, "changed": found != after}
        await asyncio.sleep(LOOK_EVERY_S)


@router.get("/{listing}")
def get_listing(request: Request, listing: str) -> dict[str, Any]:
    """Return a listing and its progress."""
    return _with_page(request, orders.get_order(_store(request), listing))


@router.patch("/{listing}")
def change_listing(request: Request, listing: str, change: ListingChange) -> dict[str, Any]:
    """Archive an ended listing, or bring it back; its files stay."""
    orders.archive(_store(request), listing, away=change.archived)
    return get_listing(request, listing)


@router.post("/{listing}/cancel")
def cancel_listing(request: Request, listing: str) -> dict[str, Any]:
    """End a listing; finished files stay."""
    orders.cancel(_store(request), listing)
    return get_listing(request, listing)


@router.post("/{listing}/resume")
def resume_listing(request: Request, listing: str) -> dict[str, Any]:
    """Continue an ended listing; files that are there are not made again."""
    orders.resume(_store(request), listing)
    _wake(request)
    return get_listing(request, listing)


@router.get("/{listing}/zip", response_class=StreamingResponse)
def zip_listing(request: Request, listing: str) -> StreamingResponse:
    """Return every whole file of a listing in one ZIP.

    Raises
    ------
    Conflict
        While its files are being made.
    """
    job = orders.get_order(_store(request), listing)
    if job["state"] == orders.RUNNING:
        raise Conflict("listing", "one that is running", "one that has ended", "wait for it or cancel it")
    name = file_stem([job["title"]])
    zipped = ListingZip(_folder(request, listing), name)
    headers = {"Content-Length": str(zipped.size), "Content-Disposition": attached(f"{name}.zip")}
    return StreamingResponse(iter(zipped), media_type="application/zip", headers=headers)


def _folder(request: Request, listing: str) -> Path:
    """Return the folder of a listing that the database knows."""
    return listing_folder(request.app.state.settings.data, listing)
