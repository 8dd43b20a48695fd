"""Requests of the bench that save a proposal for sending."""

from __future__ import annotations

from urllib.parse import quote

from fastapi import APIRouter, Request, Response

from server.bench.forms import bench_of
from server.bundles.making import Form, make_bundle
from server.database.store import Store
from server.web.answers import attached

router = APIRouter(prefix="/api/proposals/{proposal}/bundle", tags=["bundles"])


@router.post("/{form}", response_class=Response)
def save_bundle(request: Request, proposal: str, form: Form) -> Response:
    """Save a proposal as one file, or as a ZIP for a web host.

    The server keeps the manifest of what is sent, so this is no GET.
    """
    store: Store = request.app.state.store
    made = make_bundle(bench_of(request), store, proposal, form)
    headers = {
        "Content-Disposition": attached(made.name), "Cache-Control": "no-store", "X-Note": quote(made.note)
    }  # fmt: skip
    return Response(made.content, headers=headers, media_type=made.media)
