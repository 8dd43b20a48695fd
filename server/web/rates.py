"""Limits on how often an address may do something; counted in bounded memory."""

from __future__ import annotations

import ipaddress
import threading
import time
from collections import OrderedDict, deque
from collections.abc import Callable

from server.refusals import TooOften

MOST_REMEMBERED = 10_000
"""Most addresses; beyond it the one not seen for longest is forgotten."""


class Rates:
    """Allows ``most`` events within ``seconds``, for each address.

    Parameters
    ----------
    clock : callable
        Returns seconds that only grow.
    """

    def __init__(self, most: int, seconds: float, clock: Callable[[], float] = time.monotonic) -> None:
        self.most, self.seconds, self._clock = most, seconds, clock
        self._seen: OrderedDict[str, deque[float]] = OrderedDict()
        self._lock = threading.Lock()

    def take(self, address: str) -> None:
        """Count an event, or refuse it.

        Raises
        ------
        TooOften
        """
        name, moment = network_of(address), self._clock()
        with self._lock:
            times = self._seen.setdefault(name, deque())
            self._seen.move_to_end(name)
            while times and times[0] <= moment - self.seconds:
                times.popleft()
            if len(times) >= self.most:
                got = f"more than {self.most} in {self.seconds:g} seconds"
                raise TooOften("the request", got, "wait a minute, then try again")
            times.append(moment)
            while len(self._seen) > MOST_REMEMBERED:
                self._seen.popitem(last=False)

    def forget(self, address: str) -> None:
        """Forget the events of an address, as after a success."""
        with self._lock:
            self._seen.pop(network_of(address), None)


def network_of(address: str) -> str:
    """Return what counts as a sender: an IPv4 address or an IPv6 /64 network."""
    try:
        found = ipaddress.ip_address(address.partition("%")[0])
    except ValueError:
        return address
    if isinstance(found, ipaddress.IPv6Address):
        if found.ipv4_mapped:
            return str(found.ipv4_mapped)
        return str(ipaddress.ip_network((found, 64), strict=False))
    return str(found)
