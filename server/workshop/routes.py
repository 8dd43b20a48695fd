"""Requests of the bench about the workshop itself."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request, Response
from starlette.concurrency import run_in_threadpool

from server.database.store import Store
from server.refusals import Unknown
from server.web.bodies import read_body
from server.web.fields import Body, Line
from server.workshop.store import get_workshop, set_picture, set_texts

LARGEST_PICTURE = 12 << 20
"""Bytes: a phone's photograph has 3 to 8 MB (common practice)."""
ARRIVE_S = 120.0
JPEG = "image/jpeg"
PICTURE = {"content": {"image/*": {"schema": {"type": "string", "format": "binary"}}}, "required": True}
router = APIRouter(prefix="/api/workshop", tags=["workshop"])


class Texts(Body):
    """Name and contact, either of which may be empty."""

    name: Line = ""
    contact: Line = ""


def _store(request: Request) -> Store:
    store: Store = request.app.state.store
    return store


def _json(store: Store) -> dict[str, Any]:
    found = get_workshop(store)
    picture = f"/api/workshop/picture?{found.sha256[:16]}" if found.picture else None
    return {"name": found.name, "contact": found.contact, "picture": picture}


@router.get("")
def get_texts(request: Request) -> dict[str, Any]:
    """Name, contact and the picture's address."""
    return _json(_store(request))


@router.put("")
def put_texts(request: Request, texts: Texts) -> dict[str, Any]:
    """Set name and contact."""
    set_texts(_store(request), texts.name.strip(), texts.contact.strip())
    return _json(_store(request))


@router.get("/picture", response_class=Response, responses={200: {"content": {JPEG: {}}}})
def get_picture(request: Request) -> Response:
    """The picture.

    Raises
    ------
    Unknown
        If there is none.
    """
    found = get_workshop(_store(request))
    if found.picture is None:
        raise Unknown("picture", "none", "a workshop that has one")
    return Response(found.picture, media_type=JPEG)


@router.post("/picture", openapi_extra={"requestBody": PICTURE})
async def bring_picture(request: Request) -> dict[str, Any]:
    """Set the picture: the file is the body. It is made anew, small and bare."""
    store = _store(request)
    content = await read_body(request, "picture", LARGEST_PICTURE, ARRIVE_S)
    await run_in_threadpool(set_picture, store, content)
    return await run_in_threadpool(_json, store)


@router.delete("/picture")
def delete_picture(request: Request) -> dict[str, Any]:
    """Take the picture away."""
    set_picture(_store(request), None)
    return _json(_store(request))
