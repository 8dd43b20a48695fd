"""Rate limits for customer links, per address."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Literal

from starlette.requests import HTTPConnection

from server.refusals import TooOften, Unknown
from server.web.access import address_of
from server.web.rates import Rates, network_of

WRONG_LINKS, WRONG_SECONDS = 30, 600.0
WRITTEN, WRITTEN_SECONDS = 120, 60.0
TURNED, STEMS_SENT, LIVE_SECONDS = 1200, 60, 60.0
"""Filters while a knob is dragged, at most 20 a second from one page; stems are megabytes."""


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


class LinkLimits:
    """What each address did with links lately."""

    def __init__(self) -> None:
        self.wrong = WrongLinks(WRONG_LINKS, WRONG_SECONDS)
        self.writes = Rates(WRITTEN, WRITTEN_SECONDS)
        self.turns = Rates(TURNED, LIVE_SECONDS)
        self.stems = Rates(STEMS_SENT, LIVE_SECONDS)


def limits_of(connection: HTTPConnection) -> LinkLimits:
    """Return the limits of the application that a request came to."""
    state = connection.app.state
    if not hasattr(state, "link_limits"):
        state.link_limits = LinkLimits()
    limits: LinkLimits = state.link_limits
    return limits


@contextmanager
def check_link(
    connection: HTTPConnection, *, writes: bool = False, counts: Literal["turns", "stems"] | None = None
) -> Iterator[None]:
    """Refuse an address that guesses or asks too often; count wrong links.

    Raises
    ------
    TooOften
    """
    limits, address = limits_of(connection), address_of(connection)
    limits.wrong.refuse_guessers(address)
    if writes:
        limits.writes.take(address)
    if counts:
        (limits.turns if counts == "turns" else limits.stems).take(address)
    try:
        yield
    except Unknown as error:
        if error.problems[0].where == "this link":
            limits.wrong.count(address)
        raise
