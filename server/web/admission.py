"""Which requests a listener lets in, by their headers alone: the bench's rules and the customers'."""

from __future__ import annotations

from typing import Protocol

from starlette.concurrency import run_in_threadpool
from starlette.requests import HTTPConnection
from starlette.types import Scope

from dsp.errors import InputError
from server.refusals import NotAllowed
from server.settings import Public, Settings
from server.web.access import SAFE, host_is_ours, same_origin

MARK = "x-presolder"
"""A header that another site's page cannot set without a preflight (Fetch standard, CORS)."""
OPEN = ("/api/access", "/api/p/")
"""Beginnings of paths that need no key."""
FORWARDED = ("forwarded", "via", "x-forwarded-for", "x-forwarded-host", "x-forwarded-proto", "x-real-ip")
"""Headers that a proxy adds when it forwards a request (RFC 7239; RFC 9110, section 7.6.3)."""
PASSED_ON = "a direct request: this bench has no key, so it is for this machine alone; start it with --key"


class Admission(Protocol):
    """The rules of one listener."""

    secure: bool
    """Whether browsers trust its origin."""

    def refusal(self, connection: HTTPConnection) -> InputError | None:
        """Return why a request is refused; None if it is not."""

    async def may_send_more(self, scope: Scope) -> bool:
        """Whether a sender may send a larger body than everybody."""

    def correct(self, scope: Scope) -> None:
        """Set what the listener knows better than the connection."""


class BenchAdmission:
    """The bench's rules: own names, no proxy without a key, own origin."""

    def __init__(self, settings: Settings) -> None:
        self._settings = settings
        self.secure = settings.tls or settings.loopback

    def refusal(self, connection: HTTPConnection) -> InputError | None:
        """Return why a request is refused; None if it is not."""
        host = connection.headers.get("host", "")
        if not host_is_ours(host, self._settings):
            return NotAllowed("Host", host[:100], "127.0.0.1 or localhost")
        if self._settings.key is None and (proxy := _proxy_mark(connection)):
            return NotAllowed("the request", proxy, PASSED_ON)
        if connection.scope["type"] == "websocket":
            return None if same_origin(connection) else NotAllowed("Origin", "another site", "our own page")
        if connection.scope["method"] in SAFE:
            return None
        if not same_origin(connection):
            return NotAllowed("Origin", "another site", "this server's own page")
        return _without_mark(connection)

    async def may_send_more(self, scope: Scope) -> bool:
        """Whether the sender has the key, and the path may have a larger body."""
        if scope["path"].startswith(OPEN):
            return False
        connection = HTTPConnection(scope)
        return await run_in_threadpool(connection.app.state.gate.is_in, connection)

    def correct(self, scope: Scope) -> None:
        """Leave a request as it came."""


class PublicAdmission:
    """The customers' rules: the public address exactly, as Host and as Origin.

    No header decides the scheme: it is the public address's own, whatever a proxy says.
    """

    def __init__(self, public: Public) -> None:
        self._public = public
        self.secure = public.scheme == "https"

    def refusal(self, connection: HTTPConnection) -> InputError | None:
        """Return why a request is refused; None if it is not."""
        host = connection.headers.get("host", "")
        if host.lower() != self._public.authority:
            return NotAllowed("Host", host[:100], self._public.authority)
        origins = connection.headers.getlist("origin")
        if any(origin.lower() != self._public.url for origin in origins):
            return NotAllowed("Origin", "another site", "the page of this address")
        if connection.scope["type"] == "websocket":
            return NotAllowed("the request", "a WebSocket", "a plain request")
        if connection.scope["method"] in SAFE:
            return None
        if not origins:
            return NotAllowed("Origin", "no such header", "the page of this address")
        return _without_mark(connection)

    async def may_send_more(self, scope: Scope) -> bool:
        """Customers send little."""
        return False

    def correct(self, scope: Scope) -> None:
        """Set the scheme that customers see."""
        scope["scheme"] = self._public.scheme


def _without_mark(connection: HTTPConnection) -> InputError | None:
    """Return why a request that changes something is refused: our page marks its own."""
    if connection.headers.get(MARK) == "1":
        return None
    return NotAllowed("X-Presolder", "no such header", "X-Presolder: 1 with whatever changes something")


def _proxy_mark(connection: HTTPConnection) -> str | None:
    """Return the sign that a proxy forwarded a request, or None.

    A proxy that adds no header still speaks HTTP/1.0 to the server behind it, unless it is set up
    otherwise (the documented default of a common web server); browsers speak 1.1 since 1999.
    """
    for name in FORWARDED:
        if name in connection.headers:
            return f"the header {name.title()}, as a proxy adds it"
    if connection.scope.get("http_version") == "1.0":
        return "HTTP/1.0, as a proxy speaks it"
    return None
