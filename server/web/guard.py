"""Check host, origin and size of every request; set the headers of every answer."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Mapping

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import MutableHeaders
from starlette.requests import HTTPConnection
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from dsp.errors import InputError
from server.refusals import NotAllowed, TooLarge, TooSlow
from server.settings import Settings
from server.web.access import SAFE, host_is_ours, same_origin
from server.web.errors import answer_to, failure

log = logging.getLogger("presolder")
MARK = "x-presolder"
"""A header that another site's page cannot set without a preflight (Fetch standard, CORS)."""
LARGEST_BODY = 1 << 20
LARGEST_OPEN_BODY = 16 << 10
"""Bytes of a body from a sender without the bench's key."""
STREAMED = ("/api/takes",)
"""Paths whose handlers limit the body themselves."""
OPEN = ("/api/access", "/api/p/")
"""Beginnings of paths that need no key."""
BODY_S = 30.0
"""Most seconds for a body that is read before it is handled."""
PIECE_S = 20.0
"""Most seconds until the next piece of a streamed body."""
FORWARDED = ("forwarded", "via", "x-forwarded-for", "x-forwarded-host", "x-forwarded-proto", "x-real-ip")
"""Headers that a proxy adds when it forwards a request (RFC 7239; RFC 9110, section 7.6.3)."""
PASSED_ON = "a direct request: this bench has no key, so it is for this machine alone; start it with --key"
CONTENT_SECURITY_POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' data:",
        "connect-src 'self'",
        "media-src 'self' blob:",
        "worker-src 'self'",
        "font-src 'self'",
        "manifest-src 'self'",
        "base-uri 'none'",
        "form-action 'self'",
        "frame-ancestors 'none'",
    )
)
HEADERS = {
    "Content-Security-Policy": CONTENT_SECURITY_POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Resource-Policy": "same-origin",
}


OPENER = {"Cross-Origin-Opener-Policy": "same-origin"}
"""For trustworthy origins only (HTML standard, section 7.1.3): browsers warn elsewhere."""


class Guard:
    """ASGI middleware: refuses forbidden requests and sets headers of answers."""

    def __init__(self, app: ASGIApp, settings: Settings) -> None:
        self.app, self.settings = app, settings
        self._headers = HEADERS | (OPENER if settings.tls or settings.loopback else {})

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, or answer it here."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        refusal = self._refusal(HTTPConnection(scope))
        if scope["type"] == "websocket":
            await self.app(scope, receive, send) if refusal is None else await send(
                {"type": "websocket.close", "code": 1008, "reason": "not from there"}
            )
            return
        answer = _Answer(scope, send, self._headers)
        try:
            await self._handle(refusal, scope, receive, answer.send)
        except Exception:
            log.exception("a request failed")
            if answer.started:
                raise  # half an answer is out: the connection must be cut
            await failure()(scope, receive, answer.send)

    async def _handle(self, refusal: InputError | None, scope: Scope, receive: Receive, send: Send) -> None:
        if refusal is not None:
            await answer_to(refusal)(scope, receive, send)
        elif scope["path"] in STREAMED:
            await self.app(scope, _in_time(receive), send)
        elif scope["method"] in SAFE:
            await self.app(scope, receive, send)
        else:
            await self._bounded(scope, receive, send)

    def _refusal(self, connection: HTTPConnection) -> InputError | None:
        """Return why a request is refused, from its headers alone; None if it is not."""
        host = connection.headers.get("host", "")
        if not host_is_ours(host, self.settings):
            return NotAllowed("Host", host[:100], "127.0.0.1 or localhost")
        if self.settings.key is None and (proxy := _proxy_mark(connection)):
            return NotAllowed("the request", proxy, PASSED_ON)
        if connection.scope["type"] == "websocket":
            return None if same_origin(connection) else NotAllowed("Origin", "another site", "our own page")
        if connection.scope["method"] in SAFE:
            return None
        if not same_origin(connection):
            return NotAllowed("Origin", "another site", "this server's own page")
        if connection.headers.get(MARK) != "1":
            return NotAllowed(
                "X-Presolder", "no such header", "X-Presolder: 1 with whatever changes something"
            )
        return None

    async def _bounded(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Read the whole body first, and pass the request on if it is small enough."""
        try:
            async with asyncio.timeout(BODY_S):
                body = await self._read(scope, receive)
        except TimeoutError:
            body = TooSlow("the body", f"an end later than {BODY_S:g} s", "a whole body in that time")
        if isinstance(body, InputError):
            await answer_to(body)(scope, receive, send)
        elif body is not None:
            await self.app(scope, _replayed(body, receive), send)

    async def _read(self, scope: Scope, receive: Receive) -> bytes | InputError | None:
        """Return the body, why it is refused, or None if the sender has gone."""
        body, more = bytearray(), True
        largest = LARGEST_OPEN_BODY
        while more:
            message = await receive()
            if message["type"] == "http.disconnect":
                return None
            body += message.get("body", b"")
            more = message.get("more_body", False)
            if len(body) > largest == LARGEST_OPEN_BODY and await self._may_send_more(scope):
                largest = LARGEST_BODY
            if len(body) > largest:
                return TooLarge("the body", f"more than {largest} bytes", f"up to {largest} bytes")
        return bytes(body)

    async def _may_send_more(self, scope: Scope) -> bool:
        """Whether the sender has the key, and the path may have a larger body."""
        if scope["path"].startswith(OPEN):
            return False
        connection = HTTPConnection(scope)
        return await run_in_threadpool(connection.app.state.gate.is_in, connection)


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


def _in_time(receive: Receive) -> Receive:
    """Limit the time for each piece; end a late body as if its sender had gone."""
    more = True

    async def next_piece() -> Message:
        nonlocal more
        if not more:  # the body is whole: only the sender's leaving can follow
            return await receive()
        try:
            async with asyncio.timeout(PIECE_S):
                message = await receive()
        except TimeoutError:
            message = {"type": "http.disconnect"}
        more = message.get("more_body", False)
        return message

    return next_piece


def _replayed(body: bytes, receive: Receive) -> Receive:
    """Return the body that was read, then what follows it."""
    left: list[Message] = [{"type": "http.request", "body": body, "more_body": False}]

    async def again() -> Message:
        return left.pop() if left else await receive()

    return again


class _Answer:
    """An answer being sent: gets those of our headers that it lacks."""

    def __init__(self, scope: Scope, send: Send, headers: Mapping[str, str]) -> None:
        caching = "no-store" if scope["path"].startswith("/api") else "no-cache"
        self._headers = {**headers, "Cache-Control": caching}
        self._send = send
        self.started = False

    async def send(self, message: Message) -> None:
        """Pass a message on."""
        if message["type"] == "http.response.start":
            self.started = True
            headers = MutableHeaders(scope=message)
            for name, value in self._headers.items():
                headers.setdefault(name, value)
        await self._send(message)
