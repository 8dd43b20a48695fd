"""The pages of listings that were made, to be looked at from the bench.

They hold script of their own and texts that people wrote, so they are kept apart from the bench: a
policy sandboxes them into an origin of their own, which can neither read nor ask anything of this
server's. Such a page has no cookie, so the address itself lets one in, by a token that the bench alone
gives and that ends with the server's run.
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
    # The page's origin is nobody's, this server's included, so its own sounds come to it from elsewhere.
    "Cross-Origin-Resource-Policy": "cross-origin",
    "Cross-Origin-Opener-Policy": "unsafe-none",
}
router = APIRouter(prefix="/listings/pages", tags=["listings"])


def _token(request: Request, job: str) -> str:
    """What lets one in to the pages of a listing, as long as this server runs."""
    state = request.app.state
    if not hasattr(state, "listing_pages_key"):
        state.listing_pages_key = secrets.token_bytes(32)
    return hmac.new(state.listing_pages_key, job.encode(errors="replace"), hashlib.sha256).hexdigest()


def page_address(request: Request, job: str) -> str | None:
    """Where the pages of a listing can be opened; None while there are none."""
    if not (listing_folder(request.app.state.settings.data, job) / INDEX).is_file():
        return None
    return f"/listings/pages/{quote(job)}/{_token(request, job)}/{INDEX}"


@router.get("/{listing}/{token}/{path:path}", response_class=FileResponse)
@router.head("/{listing}/{token}/{path:path}", include_in_schema=False)
def get_listing_page(request: Request, listing: str, token: str, path: str) -> Response:
    """A page of a listing or what it loads, whole or in ranges.

    Raises
    ------
    Unknown
        For another token, or what is none of the listing's files.
    """
    with check_link(request):
        if not hmac.compare_digest(_token(request, listing).encode(), token.encode(errors="replace")):
            raise Unknown("this link", "no listing", "one opened from the bench since the server started")
        store: Store = request.app.state.store
        state_of(store, listing)
        file = shown_file(listing_folder(request.app.state.settings.data, listing), path)
    return FileResponse(file, headers=APART, media_type=MEDIA[file.suffix], stat_result=file.stat())
