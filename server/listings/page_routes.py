"""The pages of finished listings, opened from the bench.

They hold scripts of their own and texts that people wrote. A policy therefore sandboxes them into their
own origin, which can neither read from this server nor send to it. Such a page has no cookie, so its
address holds a token, which only the bench gives out and which ends when the server stops.
"""

from __future__ import annotations

import hashlib
import hmac
import secrets
from urllib.parse import quote

from fastapi import APIRouter, Request, Response
from fastapi.responses import FileResponse

from server.database.store import Store
from server.listings.files import INDEX, MEDIA, listing_folder, shown_file
from server.listings.store import state_of
from server.refusals import Unknown
from server.web.links import check_link
from server.web.per_app import one_per_app

POLICY = "; ".join(
    (
        "sandbox allow-scripts allow-downloads",
        "default-src 'none'",
        "script-src 'self' 'unsafe-inline'",
        "style-src 'unsafe-inline'",
        "img-src 'self' data:",
        "media-src 'self'",
        "base-uri 'none'",
        "form-action 'none'",
        "frame-ancestors 'none'",
    )
)
APART = {
    "Content-Security-Policy": POLICY,
    # The page's origin is not even this server's, so its own sounds come from another origin.
    "Cross-Origin-Resource-Policy": "cross-origin",
    "Cross-Origin-Opener-Policy": "unsafe-none",
}
router = APIRouter(prefix="/listings/pages", tags=["listings"])


def _token(request: Request, job: str) -> str:
    """Return the token for the pages of a listing, valid as long as this server runs."""
    key = one_per_app(request.app, "listing_pages_key", lambda: secrets.token_bytes(32))
    return hmac.new(key, job.encode(errors="replace"), hashlib.sha256).hexdigest()


def page_address(request: Request, job: str) -> str | None:
    """Return the address of the pages of a listing; None while there are none."""
    if not (listing_folder(request.app.state.settings.data, job) / INDEX).is_file():
        return None
    return f"/listings/pages/{quote(job)}/{_token(request, job)}/{INDEX}"


@router.get("/{listing}/{token}/{path:path}", response_class=FileResponse)
@router.head("/{listing}/{token}/{path:path}", include_in_schema=False)
def get_listing_page(request: Request, listing: str, token: str, path: str) -> Response:
    """Return a page of a listing, or a file that it loads, whole or in ranges.

    Raises
    ------
    Unknown
        For another token, or a file that is not the listing's.
    """
    with check_link(request):
        if not hmac.compare_digest(_token(request, listing).encode(), token.encode(errors="replace")):
            raise Unknown("this link", "no listing", "one opened from the bench since the server started")
        store: Store = request.app.state.store
        state_of(store, listing)
        file = shown_file(listing_folder(request.app.state.settings.data, listing), path)
    return FileResponse(file, headers=APART, media_type=MEDIA[file.suffix], stat_result=file.stat())
