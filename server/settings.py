"""What a server is started with: where its data lies, where it listens, who may come in."""

from __future__ import annotations

import ipaddress
import os
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import urlsplit

from dsp.errors import InputError

LOOPBACK = "127.0.0.1"
PUBLIC_PORT = 8401
"""Where the customers' listener waits for a proxy unless another port is given."""
DEFAULT_PORTS = {"http": 80, "https": 443}
"""Ports that browsers leave out of Host and Origin (RFC 9110, sections 4.2.1 and 4.2.2)."""
SHORTEST_KEY = 12
"""Characters; a key is guessed at a few tries a minute, so this need not be long."""


DATA = "PRESOLDER_DATA"
"""The environment variable that names another data folder."""


def data_folder() -> Path:
    """Where data is kept: where `DATA` says, else by the platform's custom."""
    if named := os.environ.get(DATA):
        return Path(named)
    import platformdirs

    return Path(platformdirs.user_data_dir("presolder", appauthor=False))


def is_loopback(host: str) -> bool:
    """Whether a host name or address is this machine's own."""
    try:
        return ipaddress.ip_address(host.strip("[]")).is_loopback
    except ValueError:
        return host.lower() == "localhost"


@dataclass(frozen=True)
class Public:
    """Where customers find their pages, and where the server listens for them.

    Attributes
    ----------
    url : str
        As customers' browsers see it, such as ``https://sounds.example.com``; stored as a browser
        writes an Origin: in lower case, without the usual port and without a path.
    host : str
        Address to listen on. On loopback a proxy of this machine stands in front.
    port : int
        0 for any that is free.

    Raises
    ------
    InputError
        If the address is not a whole one without a path.
    """

    url: str
    host: str = LOOPBACK
    port: int = PUBLIC_PORT

    def __post_init__(self) -> None:
        object.__setattr__(self, "url", _origin(self.url))

    @property
    def scheme(self) -> str:
        """http or https."""
        return self.url.partition(":")[0]

    @property
    def authority(self) -> str:
        """Name and port as a browser writes them into Host."""
        return self.url.partition("//")[2]

    @property
    def behind_proxy(self) -> bool:
        """Whether only a proxy of this machine can connect."""
        return is_loopback(self.host)


def _origin(url: str) -> str:
    """Return an address as a browser writes its origin (RFC 6454, section 6.2)."""
    refusal = InputError("--public-url", url, "an address without a path, such as https://sounds.example.com")
    try:
        parts = urlsplit(url.strip())
        name, port = parts.hostname or "", parts.port
        name = name if ":" in name else name.encode("idna").decode("ascii").lower()
    except ValueError:  # a port out of range, half a bracket, a name that no address can have
        raise refusal from None
    beyond = parts.path not in ("", "/") or parts.query or parts.fragment or "@" in parts.netloc
    if parts.scheme not in DEFAULT_PORTS or not name or beyond or any(sign in name for sign in " \"'<>;{}\\"):
        raise refusal
    shown = f"[{name}]" if ":" in name else name
    return f"{parts.scheme}://{shown}" + ("" if port in (None, DEFAULT_PORTS[parts.scheme]) else f":{port}")


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
    public : Public or None
        The customers' own listener; none unless given.

    Raises
    ------
    InputError
        Beyond loopback without a key, a key too short, half a certificate, or customers' pages
        promised under TLS that nothing would speak.
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
    public: Public | None = None

    def __post_init__(self) -> None:
        if self.key is None and not self.loopback:
            raise InputError("--host", self.host, f"{LOOPBACK}, or another address with a key")
        if self.key is not None and len(self.key) < SHORTEST_KEY:
            got = f"a key of {len(self.key)} characters"
            raise InputError("--key", got, f"at least {SHORTEST_KEY} characters")
        if (self.cert is None) != (self.cert_key is None):
            raise InputError("--cert", "one of --cert and --cert-key", "both, or none")
        public = self.public
        if public is not None and self.public_tls and self.cert is None:
            got = f"{public.host} without a certificate"
            raise InputError("--public-host", got, f"{LOOPBACK} behind a proxy, or --cert and --cert-key")

    @property
    def public_tls(self) -> bool:
        """Whether the customers' listener speaks HTTPS itself, without a proxy."""
        public = self.public
        return public is not None and public.scheme == "https" and not public.behind_proxy

    @property
    def loopback(self) -> bool:
        """Whether only this machine can reach the server."""
        return is_loopback(self.host)

    @property
    def tls(self) -> bool:
        """Whether the bench speaks HTTPS.

        A certificate for the customers' listener names the public address, which no browser on
        this machine opens the bench by.
        """
        return self.cert is not None and not (self.loopback and self.public_tls)
