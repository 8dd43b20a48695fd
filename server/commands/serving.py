"""Starting a server: its socket, its address on one line, the browser."""

from __future__ import annotations

import asyncio
import contextlib
import os
import socket
import sys
import threading
import webbrowser
from collections.abc import Callable
from typing import Any

import click
import uvicorn

from dsp.errors import InputError
from server.app import create_app
from server.settings import Settings
from server.web.connections import LimitedConnection, log_failed_accepts_once_a_minute, raise_file_limit
from server.web.logs import guard_logs

GRACE_S = 2
"""How long open answers may take once the server is told to stop."""
LARGEST_MESSAGE = 1 << 20
"""Bytes of a WebSocket message."""


class Announcing(uvicorn.Server):
    """A server that tells when it can be used."""

    def __init__(self, config: uvicorn.Config, ready: Callable[[], None]) -> None:
        super().__init__(config)
        self._ready = ready

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Start, then tell."""
        log_failed_accepts_once_a_minute(asyncio.get_running_loop())
        await super().startup(sockets)
        if self.started:
            self._ready()


def run(settings: Settings, *, browser: bool = True, verbose: bool = False) -> None:
    """Serve until interrupted.

    Parameters
    ----------
    settings : Settings
    browser : bool
        Whether to open the page in a browser, where there is one.
    verbose : bool
        Whether every request is logged.

    Raises
    ------
    InputError
        If the data cannot be used or the address is taken.
    """
    app = create_app(settings)
    listener = _listener(settings)
    address = _address(settings, listener.getsockname()[1])

    def ready() -> None:
        click.echo(f"Presolder is at {address}")
        if browser and _browser_there():
            threading.Thread(target=webbrowser.open, args=(address,), daemon=True).start()

    config = uvicorn.Config(app, **_options(settings, verbose))
    guard_logs()
    LimitedConnection.most_connections = raise_file_limit()
    with listener, contextlib.suppress(KeyboardInterrupt):
        Announcing(config, ready).run(sockets=[listener])


def _browser_there() -> bool:
    """Whether a browser would open a window, and not take over the terminal."""
    windows = ("DISPLAY", "WAYLAND_DISPLAY", "BROWSER")
    return sys.platform in ("darwin", "win32") or any(os.environ.get(name) for name in windows)


def _options(settings: Settings, verbose: bool) -> dict[str, Any]:
    return {
        "log_level": "info" if verbose else "warning",
        "access_log": verbose,
        "proxy_headers": False,  # an address that the sender writes would pass any count by address
        "server_header": False,
        "http": LimitedConnection,
        "ws_max_size": LARGEST_MESSAGE,
        "ws_per_message_deflate": False,  # filters look random: packing them takes time and gains nothing
        "timeout_graceful_shutdown": GRACE_S,
        "ssl_certfile": settings.cert,
        "ssl_keyfile": settings.cert_key,
    }


def _listener(settings: Settings) -> socket.socket:
    """A socket bound to the address asked for."""
    family = socket.AF_INET6 if ":" in settings.host else socket.AF_INET
    listener = socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((settings.host.strip("[]"), settings.port))
    except (OSError, OverflowError) as error:
        listener.close()
        got = f"{settings.host}, port {settings.port}: {getattr(error, 'strerror', None) or error}"
        allowed = "an address of this machine and a port that is free"
        raise InputError("--host, --port", got, allowed) from error
    return listener


def _address(settings: Settings, port: int) -> str:
    """Where a browser finds the server; of all its addresses, the one that others see."""
    host = _seen_by_others(settings.host) if settings.host in ("0.0.0.0", "::") else settings.host
    shown = f"[{host.strip('[]')}]" if ":" in host else host
    return f"{'https' if settings.tls else 'http'}://{shown}:{port}/"


def _seen_by_others(host: str) -> str:
    """This machine's address on its network; no packet is sent to find it."""
    family, far = (socket.AF_INET6, "2001:db8::1") if ":" in host else (socket.AF_INET, "192.0.2.1")
    with contextlib.suppress(OSError), socket.socket(family, socket.SOCK_DGRAM) as probe:
        probe.connect((far, 9))  # an address for documentation (RFC 5737, RFC 3849)
        return str(probe.getsockname()[0])
    return socket.gethostname()
