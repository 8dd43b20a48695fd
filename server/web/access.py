"""Access to the bench: the key, its cookie, origin and host.

On loopback no key is needed. Beyond it the page asks for the key once; a cookie that scripts
cannot read and other sites cannot send then stands for it.
"""

from __future__ import annotations

import hmac
from typing import Annotated, Any

from fastapi import APIRouter, Request, Response
from pydantic import StringConstraints
from starlette.requests import HTTPConnection

from server.refusals import KeyNeeded, NotAllowed
from server.settings import Settings, is_loopback
from server.web import sessions
from server.web.fields import Body
from server.web.rates import Rates

COOKIE = "presolder_bench"
SAFE = ("GET", "HEAD", "OPTIONS")
"""Methods that change nothing (RFC 9110, section 9.2.1)."""
EVERYONE = "everyone"
LONG_KEY = 20
"""Characters from which no number of addresses guesses a key: all are not counted together then.

A million addresses with five tries a minute each would need some 10^23 years for 20 random
letters and digits.
"""
router = APIRouter(prefix="/api", tags=["access"])


class Key(Body):
    """The bench's key."""

    key: Annotated[str, StringConstraints(max_length=1000)]


class Gate:
    """Holds the bench's key and limits how often it may be tried."""

    def __init__(self, settings: Settings, store: Any) -> None:
        self.settings, self.store = settings, store
        self.mark = None if settings.key is None else sessions.key_mark(store, settings.key)
        self.each = Rates(5, 60.0)
        self.all = None if len(settings.key or "") >= LONG_KEY else Rates(60, 60.0)

    def is_in(self, connection: HTTPConnection) -> bool:
        """Whether a request or WebSocket may use the bench."""
        token = connection.cookies.get(COOKIE)
        if self.mark is None:
            return True
        return token is not None and sessions.is_open(self.store, self.mark, token)

    def admit(self, key: str, address: str) -> str:
        """Open a session for the right key and return its cookie.

        Raises
        ------
        KeyNeeded
            For a wrong one.
        TooOften
        """
        self.each.take(address)
        if self.all is not None:
            self.all.take(EVERYONE)
        right = (self.settings.key or "").encode()
        if self.mark is None or not hmac.compare_digest(key.encode(), right):
            raise KeyNeeded("key", "another key", "the key that the server printed when it started")
        self.each.forget(address)
        return sessions.open_session(self.store, self.mark)


def require_bench(connection: HTTPConnection) -> None:
    """Refuse a request or WebSocket without access to the bench.

    Raises
    ------
    KeyNeeded
    """
    gate: Gate = connection.app.state.gate
    if not gate.is_in(connection):
        raise KeyNeeded("the bench", "no key", "the key that the server printed when it started")


def address_of(connection: HTTPConnection) -> str:
    """Return the sender's address, for counting."""
    return connection.client.host if connection.client else "unknown"


def same_origin(connection: HTTPConnection) -> bool:
    """Whether a request comes from our own page, as far as browsers say.

    A program that is not a browser sends no Origin. A browser sends it with every WebSocket and
    every request that changes something (Fetch standard, section 3.2; RFC 6454).
    """
    if connection.headers.get("sec-fetch-site") == "cross-site":
        return False
    origins = connection.headers.getlist("origin")
    host = connection.headers.get("host", "")
    secure = connection.url.scheme in ("https", "wss")
    return all(origin.lower() == f"{'https' if secure else 'http'}://{host}".lower() for origin in origins)


def require_same_origin(connection: HTTPConnection) -> None:
    """Refuse a request from another site's page.

    Raises
    ------
    NotAllowed
    """
    if not same_origin(connection):
        raise NotAllowed("Origin", "another site", "this server's own page")


def socket_allowed(connection: HTTPConnection) -> bool:
    """Whether a WebSocket comes from our own page and may use the bench."""
    gate: Gate = connection.app.state.gate
    return same_origin(connection) and gate.is_in(connection)


def host_is_ours(host: str, settings: Settings) -> bool:
    """Whether a Host header names this server.

    On loopback it must be one of loopback's own names: with a foreign name that resolves to
    127.0.0.1, that site's pages could read everything (DNS rebinding).
    """
    if not settings.loopback:
        return True
    name = host.rsplit(":", 1)[0] if not host.endswith("]") and ":" in host else host
    return is_loopback(name)


@router.get("/access")
def get_access(request: Request) -> dict[str, bool]:
    """Whether the bench needs a key, and this browser has given it."""
    gate: Gate = request.app.state.gate
    return {"needs_key": gate.mark is not None, "signed_in": gate.is_in(request), "tls": gate.settings.tls}


@router.post("/access")
def sign_in(request: Request, response: Response, given: Key) -> dict[str, bool]:
    """Give the key; the answer sets the cookie."""
    gate: Gate = request.app.state.gate
    if gate.mark is not None and not gate.is_in(request):  # whoever is in is never shut out by others' tries
        response.set_cookie(
            COOKIE,
            gate.admit(given.key, address_of(request)),
            max_age=sessions.DAYS * 86400,
            httponly=True,
            samesite="strict",
            secure=gate.settings.tls,
        )
    return {"needs_key": gate.mark is not None, "signed_in": True, "tls": gate.settings.tls}


@router.delete("/access")
def sign_out(request: Request, response: Response) -> dict[str, bool]:
    """End the session."""
    gate: Gate = request.app.state.gate
    if token := request.cookies.get(COOKIE):
        sessions.end(gate.store, token)
        response.delete_cookie(COOKIE, httponly=True, samesite="strict", secure=gate.settings.tls)
    return {"needs_key": gate.mark is not None, "signed_in": gate.mark is None, "tls": gate.settings.tls}
