"""Connections: how many there may be, and how long each may stand still.

uvicorn limits the pause between two requests of a connection alone. One that sends half a header,
or takes nothing of its answer, would stay for ever, and a thousand of them use up the files that
a process may open.
"""

from __future__ import annotations

import asyncio
import contextlib
import functools
import logging
import time
from typing import Any

from uvicorn.protocols.http.h11_impl import H11Protocol

from server.web.rates import network_of

log = logging.getLogger("presolder")
HEADERS_S = 5.0
"""Time for the whole head of a request, from the connection's start or the answer before."""
STALLED_S = 30.0
"""Time in which a reader must take something of its answer."""
MOST_PER_ADDRESS = 256
"""Connections of one address: a hundred listeners behind one router have two each."""
SPARE_FILES = 128
"""Files kept for the database, recordings and child processes."""
MOST_FILES = 16_384
"""Files that the limit is raised to, where the system allows as many."""
LOG_EVERY_S = 60.0
ACCEPT_FAILED = "socket.accept() out of system resource"
"""How asyncio begins what it says when no file is left for a connection."""


def raise_file_limit() -> int:
    """Raise this process's limit of open files towards the system's.

    Returns
    -------
    int
        Connections that leave `SPARE_FILES` free.
    """
    try:
        import resource
    except ImportError:  # Windows has no such limit
        return MOST_FILES
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    with contextlib.suppress(ValueError, OSError):  # macOS names limits that it refuses
        wanted = MOST_FILES if hard == resource.RLIM_INFINITY else min(hard, MOST_FILES)
        resource.setrlimit(resource.RLIMIT_NOFILE, (max(soft, wanted), hard))
    soft, _ = resource.getrlimit(resource.RLIMIT_NOFILE)
    return MOST_FILES if soft == resource.RLIM_INFINITY else max(soft - SPARE_FILES, 16)


class LimitedConnection(H11Protocol):
    """A connection, closed when it stands still or is one too many.

    A WebSocket takes the connection over after its head; its own pings watch it then.
    """

    most_connections = MOST_FILES
    """Of all addresses together; the server sets it when it starts."""
    most_per_address: int | None = MOST_PER_ADDRESS
    """Of one address; None where a proxy is the only address there is."""
    _headers_timer: asyncio.TimerHandle | None = None
    _stalled_timer: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Count the connection; close it at once if there are too many."""
        super().connection_made(transport)
        if self._is_one_too_many():
            transport.abort()
        else:
            self._wait_for_headers()

    def data_received(self, data: bytes) -> None:
        """Pass data on; a request's head must be complete in time."""
        super().data_received(data)
        upgraded = self.transport.get_protocol() is not self
        if upgraded or not self._is_between_requests():
            self._cancel_headers_timer()
        elif self._headers_timer is None:
            self._wait_for_headers()

    def on_response_complete(self) -> None:
        """Go on; half a head that came with the request before is timed from now."""
        super().on_response_complete()
        if self._headers_timer is None and self._is_between_requests() and self.conn.trailing_data[0]:
            self._wait_for_headers()

    def pause_writing(self) -> None:
        """Start to wait for a reader that takes nothing."""
        super().pause_writing()
        self._stalled_timer = self.loop.call_later(STALLED_S, self.transport.abort)

    def resume_writing(self) -> None:
        """Go on: the reader has taken something."""
        super().resume_writing()
        self._cancel_stalled_timer()

    def connection_lost(self, exc: Exception | None) -> None:
        """Forget the connection."""
        self._cancel_headers_timer()
        self._cancel_stalled_timer()
        super().connection_lost(exc)

    def _is_between_requests(self) -> bool:
        return self.cycle is None or self.cycle.response_complete

    def _is_one_too_many(self) -> bool:
        if len(self.connections) > self.most_connections:
            return True
        if self.most_per_address is None:
            return False
        mine = _network_of(self)
        return sum(_network_of(one) == mine for one in self.connections) > self.most_per_address

    def _unsupported_upgrade_warning(self) -> None:
        """Say nothing: whoever asks for an upgrade is answered without one (RFC 9110, section 7.8)."""

    def _wait_for_headers(self) -> None:
        self._headers_timer = self.loop.call_later(HEADERS_S, self.transport.abort)

    def _cancel_headers_timer(self) -> None:
        if self._headers_timer is not None:
            self._headers_timer.cancel()
            self._headers_timer = None

    def _cancel_stalled_timer(self) -> None:
        if self._stalled_timer is not None:
            self._stalled_timer.cancel()
            self._stalled_timer = None


def limited(most_connections: int, most_per_address: int | None) -> type[LimitedConnection]:
    """Return the connections of one listener, with its limits."""
    limits = {"most_connections": most_connections, "most_per_address": most_per_address}
    return type("ListenersConnection", (LimitedConnection,), limits)


_cached_network = functools.lru_cache(4096)(network_of)


def _network_of(connection: Any) -> str:
    """The sender that a connection counts for; HTTP and WebSocket alike know their client."""
    client = getattr(connection, "client", None)
    return _cached_network(client[0]) if client else "unknown"


def log_failed_accepts_once_a_minute(loop: asyncio.AbstractEventLoop) -> None:
    """Log at most once a minute that no file is left for a connection.

    asyncio would write some two thousand tracebacks a second for as long as that lasts.
    """
    last = float("-inf")

    def handle(loop: asyncio.AbstractEventLoop, context: dict[str, Any]) -> None:
        nonlocal last
        if not str(context.get("message", "")).startswith(ACCEPT_FAILED):
            loop.default_exception_handler(context)
        elif time.monotonic() - last >= LOG_EVERY_S:
            last = time.monotonic()
            log.warning("no file is left for another connection; new ones wait: %s", context.get("exception"))

    loop.set_exception_handler(handle)
