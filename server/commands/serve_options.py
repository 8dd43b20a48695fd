"""The options that `presolder demo` and `presolder serve` share."""

from __future__ import annotations

import secrets
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import click

from server.settings import LOOPBACK, Settings, data_folder, is_loopback

F = TypeVar("F", bound=Callable[..., Any])

OPTIONS = (
    click.option("--data", type=click.Path(path_type=Path, file_okay=False), metavar="DIR",
                 help="Folder that keeps commissions and takes; by default your platform's own."),
    click.option("--host", default=LOOPBACK, show_default=True, metavar="H",
                 help="Address to listen on; any other than this machine's own asks for a key."),
    click.option("--port", type=click.IntRange(0, 65535), default=0, metavar="P",
                 help="Port to listen on; any that is free unless given."),
    click.option("--key", envvar="PRESOLDER_KEY", metavar="KEY",
                 help="Key that the bench asks for; made up and printed unless given or in PRESOLDER_KEY."),
    click.option("--cert", type=click.Path(path_type=Path, exists=True, dir_okay=False), metavar="FILE",
                 help="Certificate (PEM) for TLS."),
    click.option("--cert-key", type=click.Path(path_type=Path, exists=True, dir_okay=False), metavar="FILE",
                 help="Private key (PEM) of the certificate."),
    click.option("--browser/--no-browser", default=True, show_default=True,
                 help="Open the page in a browser, where there is one."),
    click.option("--warm/--no-warm", default=True, show_default=True,
                 help="Play takes in advance, so that the first sound comes at once."),
    click.option("--verbose", is_flag=True, help="Log every request."),
)  # fmt: skip


def serve_options(function: F) -> F:
    """Every option of a server."""
    for option in reversed(OPTIONS):
        function = option(function)
    return function


def settings_of(options: dict[str, Any], *, demo: bool = False, places: tuple[Path, ...] = ()) -> Settings:
    """The settings that the options ask for, a key made up if needed."""
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


WITHOUT_TLS = (
    "Warning: without TLS whoever shares the network can read along, the key included;"
    " use --cert and --cert-key, or a network you trust."
)
