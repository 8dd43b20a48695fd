"""What a server is started with: where its data lies, where it listens, who may come in."""

from __future__ import annotations

import ipaddress
from dataclasses import dataclass
from pathlib import Path

from dsp.errors import InputError

LOOPBACK = "127.0.0.1"
SHORTEST_KEY = 12
"""Characters; a key is guessed at a few tries a minute, so this need not be long."""


def data_folder() -> Path:
    """Where commissions and takes are kept, by the platform's custom."""
    import platformdirs

    return Path(platformdirs.user_data_dir("presolder", appauthor=False))


def is_loopback(host: str) -> bool:
    """Whether a host name or address is this machine's own."""
    try:
        return ipaddress.ip_address(host.strip("[]")).is_loopback
    except ValueError:
        return host.lower() == "localhost"


@dataclass(frozen=True)
class Settings:
    """How a server runs.

    Attributes
    ----------
    data : Path
        Folder of the database and of takes brought in; made if it is not there.
    host : str
        Address to listen on.
    port : int
        0 for any that is free.
    key : str or None
        What the bench asks for. None only on loopback: then nobody is asked.
    cert, cert_key : Path or None
        Certificate and private key (PEM) for TLS.
    demo : bool
        Whether the demo's commissions are put into the database.
    places : tuple of Path
        Folders and files beside the demo in which takes are looked for.
    warm : bool
        Whether takes are played in advance.

    Raises
    ------
    InputError
        Beyond loopback without a key, a key too short, or half a certificate.
    """

    data: Path
    host: str = LOOPBACK
    port: int = 0
    key: str | None = None
    cert: Path | None = None
    cert_key: Path | None = None
    demo: bool = False
    places: tuple[Path, ...] = ()
    warm: bool = False

    def __post_init__(self) -> None:
        if self.key is None and not self.loopback:
            raise InputError("--host", self.host, f"{LOOPBACK}, or another address with a key")
        if self.key is not None and len(self.key) < SHORTEST_KEY:
            got = f"a key of {len(self.key)} characters"
            raise InputError("--key", got, f"at least {SHORTEST_KEY} characters")
        if (self.cert is None) != (self.cert_key is None):
            raise InputError("--cert", "one of --cert and --cert-key", "both, or none")

    @property
    def loopback(self) -> bool:
        """Whether only this machine can reach the server."""
        return is_loopback(self.host)

    @property
    def tls(self) -> bool:
        """Whether the server speaks HTTPS."""
        return self.cert is not None
