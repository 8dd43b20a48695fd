"""The addresses of a customer's link: where each can be opened, and as a code to scan."""

from __future__ import annotations

import io
from dataclasses import dataclass
from typing import Any, Literal

import segno
from fastapi import Request

from server.settings import Settings, is_loopback
from server.web.addresses import EVERY, network_addresses, site

Reach = Literal["anywhere", "network", "machine"]


@dataclass(frozen=True)
class Site:
    """The beginning of a link, and who can open it."""

    url: str
    reach: Reach


def sites_of(settings: Settings, own: str, port: int) -> list[Site]:
    """Return where a link can be opened, the best place first.

    Parameters
    ----------
    own : str
        The Host that the bench was asked by.
    port : int
        Where the bench listens.
    """
    if settings.public is not None:
        public = settings.public
        return [Site(public.url, "machine" if is_loopback(_name(public.authority)) else "anywhere")]
    scheme = "https" if settings.tls else "http"
    here = Site(f"{scheme}://{own}", "machine" if is_loopback(_name(own)) else "network")
    if settings.loopback:
        return [Site(here.url, "machine")]
    hosts = network_addresses() if settings.host in EVERY else [settings.host]
    others = [Site(site(scheme, host, port), "network") for host in hosts]
    found = [here, *others] if here.reach == "network" else [*others, here]
    return [one for k, one in enumerate(found) if one.url not in [before.url for before in found[:k]]]


def _name(host: str) -> str:
    """The name of a Host header, without its port."""
    return host.rsplit(":", 1)[0] if ":" in host and not host.endswith("]") else host


def links_to(request: Request, token: str) -> dict[str, Any]:
    """Return a link as a path, and whole for each place where it opens.

    Returns
    -------
    dict
        ``link``, ``links`` with ``url``, ``reach`` and ``code`` each, and ``nearby``: addresses of
        this machine on its network, where only this machine can reach the server.
    """
    settings: Settings = request.app.state.settings
    port = int(request.scope["server"][1] or 0)
    path = f"/p/{token}"
    found = sites_of(settings, request.headers.get("host", ""), port)
    only_here = all(one.reach == "machine" for one in found)
    return {
        "link": path,
        "links": [
            {"url": one.url + path, "reach": one.reach, "code": code_of(one.url + path)} for one in found
        ],
        "nearby": network_addresses() if only_here else [],
    }


def code_of(url: str) -> str:
    """Return an address as a QR code, an SVG (ISO/IEC 18004)."""
    drawn = io.BytesIO()
    segno.make(url, error="m", micro=False).save(
        drawn, kind="svg", border=4, dark="#000", light="#fff", xmldecl=False, svgns=True, omitsize=True
    )
    return drawn.getvalue().decode("ascii")
