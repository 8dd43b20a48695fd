"""The servers of one process: the bench's, and the customers' beside it on a socket of its own."""

from __future__ import annotations

import asyncio
import contextlib
import functools
import socket
from collections.abc import Callable, Iterator
from typing import Any

import uvicorn
from fastapi import FastAPI

from dsp.errors import InputError
from server.settings import Public, Settings
from server.web.connections import (
    HEADERS_S,
    MOST_PER_ADDRESS,
    limited,
    log_failed_accepts_once_a_minute,
    raise_file_limit,
)

GRACE_S = 2
"""How long open answers may take once the server has to stop."""
LARGEST_MESSAGE = 1 << 20
"""Bytes of a WebSocket message."""
PROXIES = ["127.0.0.1", "::1"]
"""Whose word about a visitor's address is taken: a proxy on this machine."""


def listen(host: str, port: int, options: str) -> socket.socket:
    """Bind a socket.

    Parameters
    ----------
    options : str
        What an error names as the place.

    Raises
    ------
    InputError
        If the address is not this machine's, or the port is taken.
    """
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    listener = socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((host.strip("[]"), port))
    except (OSError, OverflowError) as error:
        listener.close()
        got = f"{host}, port {port}: {getattr(error, 'strerror', None) or error}"
        raise InputError(options, got, "an address of this machine and a port that is free") from error
    return listener


class _Server(uvicorn.Server):
    """A server whose handshakes of TLS must end in time, like the head of a request."""

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        loop = asyncio.get_running_loop()
        if self.config.is_ssl:
            usual = loop.create_server
            loop.create_server = functools.partial(usual, ssl_handshake_timeout=HEADERS_S)  # type: ignore[method-assign]
            try:
                await super().startup(sockets)
            finally:
                loop.create_server = usual  # type: ignore[method-assign]
        else:
            await super().startup(sockets)


class _CustomersServer(_Server):
    """The customers' server: it runs within the bench's, which takes the signals."""

    @contextlib.contextmanager
    def capture_signals(self) -> Iterator[None]:
        yield


class _BenchServer(_Server):
    """The bench's server: starts the customers' after itself and ends it before."""

    def __init__(
        self,
        config: uvicorn.Config,
        app: FastAPI,
        announce: Callable[[], None],
        customers: tuple[_CustomersServer, socket.socket] | None,
    ) -> None:
        super().__init__(config)
        self._app, self._announce, self._customers = app, announce, customers
        self._serving: asyncio.Task[None] | None = None

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        log_failed_accepts_once_a_minute(asyncio.get_running_loop())
        await super().startup(sockets)
        if self.started and self._customers is not None:
            server, listener = self._customers
            self._serving = asyncio.create_task(server.serve([listener]))
            while not (server.started or self._serving.done()):
                await asyncio.sleep(0.01)
        if self.started:
            self._announce()

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        self._app.state.ending = True  # whoever waits for news is answered
        if self._customers is not None and self._serving is not None:
            self._customers[0].should_exit = True
            await self._serving
        await super().shutdown(sockets)


def make_server(
    app: FastAPI,
    settings: Settings,
    announce: Callable[[], None],
    customers: tuple[FastAPI, socket.socket] | None = None,
    *,
    verbose: bool = False,
) -> uvicorn.Server:
    """Return a server that calls ``announce`` once it can be used.

    Parameters
    ----------
    customers : tuple of FastAPI and socket, optional
        The customers' application and where it listens. The two listeners share the files that the
        process may open: a flood of one leaves the other its half.
    """
    most = raise_file_limit() // (1 if customers is None else 2)
    config = _config(
        app,
        verbose,
        http=limited(most, MOST_PER_ADDRESS),
        proxy_headers=False,  # an address that the sender writes would pass any count by address
        ws_max_size=LARGEST_MESSAGE,
        ws_per_message_deflate=False,  # filters look random: packing them takes time and gains nothing
        **(_certificate(settings) if settings.tls else {}),
    )
    if customers is None:
        return _BenchServer(config, app, announce, None)
    assert settings.public is not None
    server = _CustomersServer(_customers_config(customers[0], settings, settings.public, most, verbose))
    return _BenchServer(config, app, announce, (server, customers[1]))


def _customers_config(
    app: FastAPI, settings: Settings, public: Public, most: int, verbose: bool
) -> uvicorn.Config:
    """The customers' listener: no WebSocket; behind a proxy all connections are the proxy's."""
    return _config(
        app,
        verbose,
        http=limited(most, None if public.behind_proxy else MOST_PER_ADDRESS),
        proxy_headers=True,
        forwarded_allow_ips=PROXIES,
        ws="none",
        lifespan="off",
        **(_certificate(settings) if settings.public_tls else {}),
    )


def _certificate(settings: Settings) -> dict[str, Any]:
    return {"ssl_certfile": settings.cert, "ssl_keyfile": settings.cert_key}


def _config(app: FastAPI, verbose: bool, **more: Any) -> uvicorn.Config:
    return uvicorn.Config(
        app,
        log_level="info" if verbose else "warning",
        access_log=verbose,
        server_header=False,
        timeout_graceful_shutdown=GRACE_S,
        **more,
    )
