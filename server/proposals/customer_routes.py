"""Requests of a customer who has a link: look, listen, mark, comment, sign.

The token in the path is all that is needed. No log holds it.
"""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Depends, Request, Response
from fastapi.responses import FileResponse, HTMLResponse
from starlette.concurrency import run_in_threadpool

from server.database.store import Store
from server.proposals import signoffs, talk
from server.proposals import store as proposals
from server.proposals.clip_files import MEDIA, clip_path
from server.proposals.forms import Operations, Place, SignOff
from server.proposals.news import wait_for_news
from server.proposals.receipt import policy, receipt_of, receipt_page
from server.proposals.views import SIGNED, for_customer, is_offered
from server.refusals import Gone, Unknown
from server.web.links import check_link, limit_writes, limits_of
from server.web.pages import ASTRAY
from server.workshop.store import get_workshop

FOR_EVER = "private, max-age=31536000, immutable"
"""A clip is named by its content; only the customer's own browser keeps it."""
PICTURE_POLICY = "default-src 'none'; style-src 'unsafe-inline'; sandbox"
"""A picture holds its own style, and nothing else works in it."""
router = APIRouter(prefix="/api/p/{token}", tags=["customer"], dependencies=[Depends(limit_writes)])


def _store(request: Request) -> Store:
    store: Store = request.app.state.store
    return store


@router.get("")
def get_offer(request: Request, token: str) -> dict[str, Any]:
    """What is offered, and the customer's marks and comments so far."""
    with check_link(request):
        proposals.note_opening(_store(request), token)
        return for_customer(_store(request), token)


@router.get("/clips/{name}", response_class=FileResponse)
def get_clip(request: Request, token: str, name: str) -> Response:
    """A clip, whole or in ranges, or a picture.

    Raises
    ------
    Unknown
        If the proposal has no such clip.
    """
    sha256, _, ending = name.partition(".")
    if ending == "jpg":
        return _workshops_picture(request, token, sha256)
    with check_link(request):
        path = clip_path(request.app.state.settings.data, sha256, ending)
        if not is_offered(_store(request), token, sha256) or not path.is_file():
            raise Unknown("clip", "none of this proposal's", "a clip as the proposal names it")
    headers = {"ETag": f'"{sha256}"', "Cache-Control": FOR_EVER}
    if ending == "svg":
        headers["Content-Security-Policy"] = PICTURE_POLICY
    if _has_it(request, headers["ETag"]):
        return Response(status_code=304, headers=headers)
    return FileResponse(path, headers=headers, media_type=MEDIA[ending], stat_result=path.stat())


def _workshops_picture(request: Request, token: str, sha256: str) -> Response:
    with check_link(request):
        proposals.open_proposal(_store(request), token)
        found = get_workshop(_store(request))
        if found.picture is None or found.sha256 != sha256:
            raise Unknown("picture", "another one", "the picture as the proposal names it")
    return Response(found.picture, media_type="image/jpeg", headers={"Cache-Control": FOR_EVER})


def _has_it(request: Request, etag: str) -> bool:
    """Whether the browser has the clip already (RFC 9110, section 13.1.2)."""
    known = request.headers.get("if-none-match", "")
    return known == "*" or etag in (one.strip().removeprefix("W/") for one in known.split(","))


@router.post("/operations")
def post_operations(request: Request, token: str, said: Operations) -> dict[str, Any]:
    """Store marks, notes and wishes, all or none, each once; what is said now."""
    with check_link(request):
        operations = [one.operation() for one in said.operations]
        return talk.say(_store(request), token, said.device, operations)


@router.get("/events")
async def wait_for_events(request: Request, token: str, after: Place) -> dict[str, Any]:
    """Answers as soon as anything has changed since, or after 25 s."""
    with check_link(request), limits_of(request).waits.hold(token):
        proposal = await run_in_threadpool(proposals.open_proposal, _store(request), token)
        return await wait_for_news(request, proposal, after)


@router.post("/signoff", status_code=201)
def post_signoff(request: Request, token: str, signed: SignOff) -> dict[str, Any]:
    """Sign off, once and for good."""
    with check_link(request):
        heard = [(one.number, one.way) for one in signed.heard]
        done = signoffs.sign(
            _store(request), token, signed.wiring, signed.name, signed.date, signed.sounds, heard
        )
        return {key: done[key] for key in SIGNED}


@router.get("/record")
def get_record(request: Request, token: str) -> Response:
    """The signed record: the bytes that its fingerprint was taken from.

    Raises
    ------
    Unknown
        If nothing was signed.
    """
    with check_link(request):
        found = signoffs.record_of(_store(request), token)
        if found is None:
            raise Unknown("record", "none yet", "a proposal that was signed")
    headers = {"Content-Disposition": 'attachment; filename="sign-off.json"'}
    return Response(found[0], headers=headers, media_type="application/json")


@router.get("/receipt", response_class=HTMLResponse)
def get_receipt(request: Request, token: str) -> Response:
    """The signed record as a page to read and to print."""
    try:
        with check_link(request):
            receipt = receipt_of(_store(request), token)
    except (Unknown, Gone):
        receipt = None
    if receipt is None:
        return HTMLResponse(ASTRAY, 404)
    return HTMLResponse(receipt_page(receipt), headers={"Content-Security-Policy": policy()})
