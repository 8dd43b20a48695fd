"""Check every request by its listener's rules and its size; set the headers of every answer."""

from __future__ import annotations

import asyncio
import logging
import re
from collections.abc import Mapping

from starlette.datastructures import MutableHeaders
from starlette.requests import HTTPConnection
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from dsp.errors import InputError
from server.refusals import TooLarge, TooSlow
from server.web.access import SAFE
from server.web.admission import Admission
from server.web.errors import answer_to, failure

log = logging.getLogger("presolder")
LARGEST_BODY = 1 << 20
LARGEST_OPEN_BODY = 16 << 10
"""Bytes of a body from a sender without the bench's key."""
STREAMED = (
    "/api/takes",
    "/api/workshop/picture",
    "/api/measurements/recordings",
    "/api/built/recordings",
    "/api/verifying/{proposal}/recordings",
    "/api/sensitivity/recordings",
)
"""Paths, as routes name them, whose handlers limit the body themselves."""
_STREAMED = re.compile("|".join(re.sub(r"{\w+}", "[^/]+", path) for path in STREAMED))
BODY_S = 10.0
"""Most seconds for a body that is read before it is handled."""
PIECE_S = 20.0
"""Most seconds until the next piece of a streamed body."""
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

    def __init__(self, app: ASGIApp, admission: Admission) -> None:
        self.app, self.admission = app, admission
        self._headers = HEADERS | (OPENER if admission.secure else {})

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, or answer it here."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        self.admission.correct(scope)
        refusal = self.admission.refusal(HTTPConnection(scope))
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
        elif _STREAMED.fullmatch(scope["path"]):
            await self.app(scope, _in_time(receive), send)
        elif scope["method"] in SAFE:
            await self.app(scope, receive, send)
        else:
            await self._bounded(scope, receive, send)

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
            if len(body) > largest == LARGEST_OPEN_BODY and await self.admission.may_send_more(scope):
                largest = LARGEST_BODY
            if len(body) > largest:
                return TooLarge("the body", f"more than {largest} bytes", f"up to {largest} bytes")
        return bytes(body)


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
