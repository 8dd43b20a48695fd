"""`presolder demo`: the server on the demo's commissions."""

from __future__ import annotations

from typing import Any

import click

from server.commands import common
from server.commands.serving import run, server_options, settings_of


@click.command(
    epilog="\b\nExamples:\n  presolder demo\n  presolder demo --no-browser --port 8400 --data bench"
)
@server_options
def command(browser: bool, verbose: bool, **options: Any) -> None:
    """Start the page on the demo's commissions and print its address.

    Start listening quietly. Stop with Ctrl-C; everything saved stays.
    """
    with common.report_errors():
        run(settings_of(options, demo=True), browser=browser, verbose=verbose)
