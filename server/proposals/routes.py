"""Requests of the bench about proposals: make, follow, revoke."""

from __future__ import annotations

import contextlib
from collections.abc import AsyncIterator
from typing import Any

from fastapi import APIRouter, FastAPI, Request
from starlette.concurrency import run_in_threadpool

from server.database.store import Store
from server.proposals import farthest, talk, variants
from server.proposals import store as proposals
from server.proposals.describe import describe_sounds, describe_wirings
from server.proposals.forms import Looked, NewLink, NewProposal, NewVariant, Place, Reply
from server.proposals.links import links_to
from server.proposals.news import wait_for_news
from server.proposals.store import OfferedTake
from server.proposals.views import clip_records, for_bench
from server.proposals.work import ClipKeeper, wake_keeper
from server.takes.library import Library


@contextlib.asynccontextmanager
async def _working(app: FastAPI) -> AsyncIterator[None]:
    """The worker that renders clips, for as long as the server runs."""
    app.state.clip_keeper = ClipKeeper(app.state.settings, app.state.store)
    app.state.clip_keeper.start()
    try:
        yield
    finally:
        await run_in_threadpool(app.state.clip_keeper.stop)


router = APIRouter(prefix="/api", tags=["proposals"], lifespan=_working)


def _store(request: Request) -> Store:
    store: Store = request.app.state.store
    return store


@router.post("/commissions/{commission}/proposals", status_code=201)
def create_proposal(request: Request, commission: str, new: NewProposal) -> dict[str, Any]:
    """Make a proposal; this answer alone holds its link."""
    items = describe_sounds(_store(request), [item.request() for item in new.items])
    wirings = describe_wirings(_store(request), new.title, items, [one.request() for one in new.wirings])
    takes = _takes(request.app.state.library, new.takes)
    made, token = proposals.create(
        _store(request), commission, new.title, items, wirings, takes, days=new.expires_days, ways=new.ways
    )
    wake_keeper(request.app.state)
    return {"id": made, **links_to(request, token)}


def _takes(library: Library, ids: list[str]) -> list[OfferedTake]:
    found = [library.require(one) for one in dict.fromkeys(ids)]
    return [OfferedTake(take.id, take.name, take.seconds or 0.0, take.coil_places) for take in found]


@router.get("/commissions/{commission}/proposals")
def list_proposals(request: Request, commission: str) -> list[dict[str, Any]]:
    """Every proposal of a commission, newest first."""
    store = _store(request)
    return [for_bench(store, one) for one in proposals.of_commission(store, commission)]


@router.get("/unread")
def count_unread(request: Request) -> dict[str, int]:
    """How much the workshop has not seen, by commission."""
    return talk.unread_by_commission(_store(request))


@router.get("/proposals/{proposal}")
def get_proposal(request: Request, proposal: str) -> dict[str, Any]:
    """A proposal with the customer's marks, comments and sign-off."""
    return for_bench(_store(request), proposal)


@router.post("/proposals/{proposal}/revoke")
def revoke_proposal(request: Request, proposal: str) -> dict[str, Any]:
    """End its link; comments and sign-off stay."""
    proposals.revoke(_store(request), proposal)
    return for_bench(_store(request), proposal)


@router.post("/proposals/{proposal}/link")
def renew_link(request: Request, proposal: str, new: NewLink) -> dict[str, Any]:
    """A new link in place of the one before."""
    return links_to(request, proposals.renew_link(_store(request), proposal, days=new.expires_days))


@router.post("/proposals/{proposal}/replies")
def reply_to_customer(request: Request, proposal: str, answer: Reply) -> dict[str, Any]:
    """Answer a note or a wish; the customer's page shows it at once."""
    talk.reply(_store(request), proposal, answer.operation())
    return for_bench(_store(request), proposal)


@router.post("/proposals/{proposal}/variants")
def make_sound(request: Request, proposal: str, new: NewVariant) -> dict[str, Any]:
    """Make a wish a sound; a wish whose sound is there makes none."""
    if variants.make_sound(_store(request), proposal, new.wish):
        wake_keeper(request.app.state)
    return for_bench(_store(request), proposal)


@router.post("/proposals/{proposal}/farthest/{wiring}")
def make_farthest_again(request: Request, proposal: str, wiring: int) -> dict[str, Any]:
    """Make the farthest two of a wiring that were not made."""
    farthest.make_again(_store(request), proposal, wiring)
    wake_keeper(request.app.state)
    return for_bench(_store(request), proposal)


@router.post("/proposals/{proposal}/looked")
def note_looked(request: Request, proposal: str, looked: Looked) -> dict[str, Any]:
    """Note up to which place the workshop has seen what was said."""
    talk.note_looked(_store(request), proposal, looked.place)
    return for_bench(_store(request), proposal)


@router.get("/proposals/{proposal}/events")
async def wait_for_events(request: Request, proposal: str, after: Place = 0) -> dict[str, Any]:
    """Answers as soon as anything has changed since, or after 25 s."""
    return await wait_for_news(request, proposal, after)


@router.get("/proposals/{proposal}/clips")
def list_clips(request: Request, proposal: str) -> list[dict[str, Any]]:
    """The record of each clip, with warnings and error."""
    return clip_records(_store(request), proposal)
