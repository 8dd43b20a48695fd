"""Start a server: its options, its socket, its address on one line, the browser."""

from __future__ import annotations

import asyncio
import contextlib
import os
import secrets
import socket
import sys
import threading
import webbrowser
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from dsp.errors import InputError
from server.settings import LOOPBACK, Settings, data_folder, is_loopback

if TYPE_CHECKING:
    import uvicorn
    from fastapi import FastAPI

F = TypeVar("F", bound=Callable[..., Any])

GRACE_S = 2
"""How long open answers may take once the server has to stop."""
LARGEST_MESSAGE = 1 << 20
"""Bytes of a WebSocket message."""


WITHOUT_TLS = (
    "Warning: without TLS everybody on the network can read along, the key included;"
    " use --cert and --cert-key, or a network you trust."
)

OPTIONS = (
    click.option("--data", type=click.Path(path_type=Path, file_okay=False), metavar="DIR",
                 help="Folder for commissions and takes; the platform's own unless given."),
    click.option("--host", default=LOOPBACK, show_default=True, metavar="H",
                 help="Address to listen on; beyond this machine the bench asks for a key."),
    click.option("--port", type=click.IntRange(0, 65535), default=0, metavar="P",
                 help="Port to listen on; any free one unless given."),
    click.option("--key", envvar="PRESOLDER_KEY", metavar="KEY",
                 help="Key of the bench; taken from PRESOLDER_KEY, or made up and printed."),
    click.option("--cert", type=click.Path(path_type=Path, exists=True, dir_okay=False), metavar="FILE",
                 help="Certificate (PEM) for TLS."),
    click.option("--cert-key", type=click.Path(path_type=Path, exists=True, dir_okay=False), metavar="FILE",
                 help="Private key (PEM) of the certificate."),
    click.option("--browser/--no-browser", default=True, show_default=True,
                 help="Open the page in a browser if one is found."),
    click.option("--warm/--no-warm", default=True, show_default=True,
                 help="Play takes in advance, so that they start at once."),
    click.option("--verbose", is_flag=True, help="Log every request."),
)  # fmt: skip


def server_options(function: F) -> F:
    """Add every option of a server to a command."""
    for option in reversed(OPTIONS):
        function = option(function)
    return function


def settings_of(options: dict[str, Any], *, demo: bool = False, places: tuple[Path, ...] = ()) -> Settings:
    """Settings from the options, with a new key if one is missing."""
    key, made_up = options["key"] or None, False
    if key is None and not is_loopback(options["host"]):
        key, made_up = secrets.token_urlsafe(18), True
    settings = Settings(
        options["data"] or data_folder(),
        options["host"],
        options["port"],
        key,
        options["cert"],
        options["cert_key"],
        demo,
        places,
        options["warm"],
    )
    if made_up:
        click.echo(f"The bench's key is {key}")
    if not settings.loopback and not settings.tls:
        click.echo(WITHOUT_TLS, err=True)
    return settings


def run(settings: Settings, *, browser: bool = True, verbose: bool = False) -> None:
    """Serve until interrupted.

    Parameters
    ----------
    browser : bool
        Whether to open the page in a browser, where there is one.
    verbose : bool
        Whether to log every request.

    Raises
    ------
    InputError
        If the data cannot be used or the address is taken.
    """
    from server.app import create_app
    from server.web.logs import guard_logs

    app = create_app(settings)
    listener = _listen(settings)
    address = _address_of(settings, listener.getsockname()[1])

    def announce() -> None:
        click.echo(f"Presolder is at {address}")
        if browser and _has_browser():
            threading.Thread(target=webbrowser.open, args=(address,), daemon=True).start()

    guard_logs()
    with listener, contextlib.suppress(KeyboardInterrupt):
        _make_server(app, settings, announce, verbose=verbose).run(sockets=[listener])


def _make_server(
    app: FastAPI, settings: Settings, announce: Callable[[], None], *, verbose: bool
) -> uvicorn.Server:
    """A server that calls ``announce`` once it can be used."""
    import uvicorn

    from server.web.connections import LimitedConnection, log_failed_accepts_once_a_minute, raise_file_limit

    class Announcing(uvicorn.Server):
        async def startup(self, sockets: list[socket.socket] | None = None) -> None:
            log_failed_accepts_once_a_minute(asyncio.get_running_loop())
            await super().startup(sockets)
            if self.started:
                announce()

    LimitedConnection.most_connections = raise_file_limit()
    config = uvicorn.Config(
        app,
        log_level="info" if verbose else "warning",
        access_log=verbose,
        proxy_headers=False,  # an address that the sender writes would pass any count by address
        server_header=False,
        http=LimitedConnection,
        ws_max_size=LARGEST_MESSAGE,
        ws_per_message_deflate=False,  # filters look random: packing them takes time and gains nothing
        timeout_graceful_shutdown=GRACE_S,
        ssl_certfile=settings.cert,
        ssl_keyfile=settings.cert_key,
    )
    return Announcing(config)


def _has_browser() -> bool:
    """Whether a browser would open a window instead of taking over the terminal."""
    windows = ("DISPLAY", "WAYLAND_DISPLAY", "BROWSER")
    return sys.platform in ("darwin", "win32") or any(os.environ.get(name) for name in windows)


def _listen(settings: Settings) -> socket.socket:
    """Bind a socket to the address of the settings."""
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


def _address_of(settings: Settings, port: int) -> str:
    """Where a browser finds the server: for all addresses, the one that other machines see."""
    host = _outside_address(settings.host) if settings.host in ("0.0.0.0", "::") else settings.host
    shown = f"[{host.strip('[]')}]" if ":" in host else host
    return f"{'https' if settings.tls else 'http'}://{shown}:{port}/"


def _outside_address(host: str) -> str:
    """This machine's address on its network; no packet is sent to find it."""
    family, far = (socket.AF_INET6, "2001:db8::1") if ":" in host else (socket.AF_INET, "192.0.2.1")
    with contextlib.suppress(OSError), socket.socket(family, socket.SOCK_DGRAM) as probe:
        probe.connect((far, 9))  # an address for documentation (RFC 5737, RFC 3849)
        return str(probe.getsockname()[0])
    return socket.gethostname()
