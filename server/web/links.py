"""Rate limits for customer links, per address."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager

from starlette.requests import HTTPConnection, Request

from server.refusals import TooOften, Unknown
from server.web.access import SAFE, address_of
from server.web.per_app import one_per_app
from server.web.rates import Rates, network_of
from server.web.streams import Transfers

WRONG_LINKS, WRONG_SECONDS = 30, 600.0
WRITTEN, WRITTEN_SECONDS = 120, 60.0
STEMS_SENT, LIVE_SECONDS = 120, 60.0
"""Files of stems, half a megabyte each. One that made room for a tapped sound is asked for again."""
TRANSFERS_PER_LINK = 2
"""Stems on their way at once; a third phone on the same link waits for its turn."""

WAITING_PER_LINK = 8
"""Pages of one link that wait for news at once; any more ask now and then."""


class WrongLinks(Rates):
    """Counts wrong links by address, and refuses an address with too many.

    Right links are not counted: a hundred people may listen from behind one address.
    """

    def refuse_guessers(self, address: str) -> None:
        """Refuse an address that has tried too many.

        Raises
        ------
        TooOften
        """
        with self._lock:
            since = self._clock() - self.seconds
            tried = sum(moment > since for moment in self._seen.get(network_of(address), ()))
        if tried >= self.most:
            got = f"{tried} links that lead nowhere"
            raise TooOften("this link", got, "the whole link as the workshop sent it", "wait ten minutes")

    def count(self, address: str) -> None:
        """Count one wrong link."""
        try:
            self.take(address)
        except TooOften:
            return


class Waits:
    """Limits how many wait for news of one link at once."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._held: Counter[str] = Counter()

    @contextmanager
    def hold(self, token: str) -> Iterator[None]:
        """Count one who waits.

        Raises
        ------
        TooOften
        """
        if self._held[token] >= self._most:
            raise TooOften("the request", f"{self._most} pages of this link that wait", "ask now and then")
        self._held[token] += 1
        try:
            yield
        finally:
            self._held[token] -= 1
            self._held += Counter()  # forgets whom nobody holds


class LinkLimits:
    """What each address did with links lately."""

    def __init__(self) -> None:
        self.wrong = WrongLinks(WRONG_LINKS, WRONG_SECONDS)
        self.writes = Rates(WRITTEN, WRITTEN_SECONDS)
        self.stems = Rates(STEMS_SENT, LIVE_SECONDS)
        self.transfers = Transfers(TRANSFERS_PER_LINK)
        self.waits = Waits(WAITING_PER_LINK)


def limits_of(connection: HTTPConnection) -> LinkLimits:
    """Return the limits of the application that a request came to."""
    return one_per_app(connection.app, "link_limits", LinkLimits)


def limit_writes(request: Request) -> None:
    """Count what writes, before its body is looked at.

    Raises
    ------
    TooOften
    """
    _count(request, limits_of(request).writes)


def _count(request: Request, rates: Rates) -> None:
    limits_of(request).wrong.refuse_guessers(address_of(request))
    if request.method not in SAFE:
        rates.take(address_of(request))


@contextmanager
def check_link(connection: HTTPConnection, *, stems: bool = False) -> Iterator[None]:
    """Count wrong links, and transfers of stems.

    Raises
    ------
    TooOften
    """
    limits, address = limits_of(connection), address_of(connection)
    limits.wrong.refuse_guessers(address)
    if stems:
        limits.stems.take(address)
    try:
        yield
    except Unknown as error:
        if error.problems[0].where == "this link":
            limits.wrong.count(address)
        raise
