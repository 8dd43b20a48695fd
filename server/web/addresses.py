"""Addresses of this machine: what a browser on it, on its network and elsewhere opens."""

from __future__ import annotations

import contextlib
import ipaddress
import socket

FAR = {
    socket.AF_INET: ("192.0.2.1", "10.254.254.254", "172.31.254.254", "192.168.254.254"),
    socket.AF_INET6: ("2001:db8::1",),
}
"""Where to ask the system for a route: an address for documentation (RFC 5737, RFC 3849) takes
the usual one, an address of each private network (RFC 1918) finds a second card."""
DISCARD = 9
EVERY = ("0.0.0.0", "::")
"""Hosts that stand for all addresses of a machine."""


def network_addresses(family: socket.AddressFamily = socket.AF_INET) -> list[str]:
    """Return this machine's addresses on its networks, the usual one first.

    A datagram socket that is connected knows which of the machine's addresses it would send
    from. Nothing is sent, and every system has it.
    """
    found: dict[str, None] = {}
    for far in FAR[family]:
        with contextlib.suppress(OSError), socket.socket(family, socket.SOCK_DGRAM) as probe:
            probe.connect((far, DISCARD))
            found[str(probe.getsockname()[0])] = None
    return [one for one in found if _is_for_others(one)]


def _is_for_others(address: str) -> bool:
    """Whether another machine can use an address."""
    found = ipaddress.ip_address(address.partition("%")[0])
    return not (found.is_loopback or found.is_unspecified or found.is_link_local)


def outside_host(host: str) -> str:
    """Return the host that others name for one that a server listens on."""
    if host not in EVERY:
        return host
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    return next(iter(network_addresses(family)), socket.gethostname())


def site(scheme: str, host: str, port: int) -> str:
    """Return the address of a server without its path."""
    name = f"[{host.strip('[]')}]" if ":" in host else host
    return f"{scheme}://{name}:{port}"
