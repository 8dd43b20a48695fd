"""Why a request is refused: one exception per kind, each with the problems to tell.

InputError          what was sent cannot be used (422)
├── Unknown         no such thing (404)
├── Conflict        somebody was faster (409)
├── Gone            it was there, and is over (410)
├── TooSlow         not whole in time (408)
├── TooLarge        more than is taken (413)
├── TooOften        too many in too short a time (429)
├── KeyNeeded       the bench's key has not been given (401)
├── NotAllowed      not from there, not like this (403)
└── Unavailable     the disk or the database refuses (503)
"""

from __future__ import annotations

from typing import Any

from dsp.errors import InputError


class Unknown(InputError):
    """No such thing."""


class Conflict(InputError):
    """Somebody, or another page, was faster.

    Attributes
    ----------
    newer : dict or None
        What is there now, as the answer tells it.
    """

    newer: dict[str, Any] | None = None


class Gone(InputError):
    """It was there, and is over."""


class TooSlow(InputError):
    """Not whole in time."""


class TooLarge(InputError):
    """More than is taken."""


class TooOften(InputError):
    """Too many in too short a time."""


class KeyNeeded(InputError):
    """The bench's key has not been given."""


class NotAllowed(InputError):
    """Not from there, or not like this."""


class Unavailable(InputError):
    """The disk or the database refuses; nothing was changed."""


STATUS: dict[type[InputError], int] = {
    KeyNeeded: 401,
    NotAllowed: 403,
    Unknown: 404,
    TooSlow: 408,
    Conflict: 409,
    Gone: 410,
    TooLarge: 413,
    TooOften: 429,
    Unavailable: 503,
    InputError: 422,
}
"""The HTTP status of each refusal (RFC 9110, section 15; 429: RFC 6585, section 4)."""
