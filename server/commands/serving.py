"""Start a server: its options, its socket, its address on one line, the browser."""

from __future__ import annotations

import contextlib
import os
import secrets
import sys
import threading
import webbrowser
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import click

from server.settings import LOOPBACK, PUBLIC_PORT, Public, Settings, data_folder, is_loopback
from server.web.addresses import outside_host, site

F = TypeVar("F", bound=Callable[..., Any])

WITHOUT_TLS = (
    "Warning: without TLS everybody on the network can read along, the key included;"
    " use --cert and --cert-key, or a network you trust."
)

PUBLIC_WITHOUT_TLS = (
    "Warning: a public address without TLS: everybody on the way can read along and sign;"
    " use https, or a network you trust."
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
    click.option("--public-url", envvar="PRESOLDER_PUBLIC_URL", metavar="URL",
                 help="Address that customers' links carry, such as https://sounds.example.com;"
                      " opens a listener of its own for them, without the bench."),
    click.option("--public-port", type=click.IntRange(0, 65535), default=PUBLIC_PORT, show_default=True,
                 metavar="P", help="Port of that listener."),
    click.option("--public-host", default=LOOPBACK, show_default=True, metavar="H",
                 help="Address of that listener; on loopback a proxy stands in front (presolder nginx)."),
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
        public_of(options),
    )
    if made_up:
        click.echo(f"The bench's key is {key}")
    if not settings.loopback and not settings.tls:
        click.echo(WITHOUT_TLS, err=True)
    if settings.public is not None and settings.public.scheme == "http":
        click.echo(PUBLIC_WITHOUT_TLS, err=True)
    return settings


def public_of(options: dict[str, Any]) -> Public | None:
    """Return where customers come in, if the options open it to them."""
    if options["public_url"] is None:
        return None
    return Public(options["public_url"], options["public_host"], options["public_port"])


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
    from server.app import create_app, create_public_app
    from server.commands.listening import listen, make_server
    from server.web.logs import guard_logs

    app = create_app(settings)
    with contextlib.ExitStack() as sockets, contextlib.suppress(KeyboardInterrupt):
        listener = sockets.enter_context(listen(settings.host, settings.port, "--host, --port"))
        address = _address_of(settings, listener.getsockname()[1])
        customers = None
        if public := settings.public:
            names = "--public-host, --public-port"
            waiting = sockets.enter_context(listen(public.host, public.port, names))
            customers = (create_public_app(app, public), waiting)

        def announce() -> None:
            click.echo(f"Presolder is at {address}")
            if public:
                host, port = waiting.getsockname()[:2]
                here = site("https" if settings.public_tls else "http", outside_host(host), port)
                click.echo(f"Customers come to {public.url}, which is to lead to {here}")
            if browser and _has_browser():
                threading.Thread(target=webbrowser.open, args=(address,), daemon=True).start()

        guard_logs()
        make_server(app, settings, announce, customers, verbose=verbose).run(sockets=[listener])


def _has_browser() -> bool:
    """Whether a browser would open a window instead of taking over the terminal."""
    windows = ("DISPLAY", "WAYLAND_DISPLAY", "BROWSER")
    return sys.platform in ("darwin", "win32") or any(os.environ.get(name) for name in windows)


def _address_of(settings: Settings, port: int) -> str:
    """Where a browser finds the server: for all addresses, the one that other machines see."""
    return site("https" if settings.tls else "http", outside_host(settings.host), port) + "/"
