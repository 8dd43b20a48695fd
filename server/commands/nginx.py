"""`presolder nginx`: the web server's site in front of the customers' listener."""

from __future__ import annotations

import click

from server.commands import common
from server.settings import LOOPBACK, PUBLIC_PORT, Public

EPILOG = """\b
Examples:
  presolder nginx --public-url https://sounds.example.com
  presolder nginx --public-url https://sounds.example.com --cert chain.pem --cert-key key.pem
  presolder serve wirings --public-url https://sounds.example.com
"""


@click.command(epilog=EPILOG)
@click.option(
    "--public-url",
    envvar="PRESOLDER_PUBLIC_URL",
    required=True,
    metavar="URL",
    help="Address that customers' links carry, as for presolder serve.",
)
@click.option(
    "--public-port",
    type=click.IntRange(1, 65535),
    default=PUBLIC_PORT,
    show_default=True,
    metavar="P",
    help="Port of the customers' listener, as for presolder serve.",
)
@click.option(
    "--cert",
    default="/etc/ssl/certs/presolder.pem",
    show_default=True,
    metavar="FILE",
    help="Certificate with its chain (PEM), for an https address.",
)
@click.option(
    "--cert-key",
    default="/etc/ssl/private/presolder.pem",
    show_default=True,
    metavar="FILE",
    help="Private key (PEM) of the certificate.",
)
@click.option(
    "--listen",
    default="",
    metavar="H",
    help="Address that nginx listens on; all addresses of the machine unless given.",
)
def command(public_url: str, public_port: int, cert: str, cert_key: str, listen: str) -> None:
    """Print a site for Debian's nginx, in front of the customers' pages.

    It speaks TLS, keeps the addresses of customers' pages out of its logs, ends slow and idle
    connections and passes nothing on that belongs to the bench. Write it to
    /etc/nginx/sites-available/presolder.
    """
    from server.web.nginx import nginx_site

    with common.report_errors():
        public = Public(public_url, LOOPBACK, public_port)
        click.echo(nginx_site(public, public_port, cert, cert_key, listen), nl=False)
