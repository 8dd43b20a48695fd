"""What a customer's browser says to a proposal, for tests over the API."""

from __future__ import annotations

import secrets
from typing import Any

PHONE, TABLET = "phone-0123456789", "tablet-012345678"
"""Two devices of a customer."""
WRITTEN = "2026-11-29T10:00:00.000Z"


def operation(kind: str, **more: Any) -> dict[str, Any]:
    """Return an operation with an id of its own."""
    return {"id": secrets.token_urlsafe(12), "kind": kind, "written": WRITTEN, **more}


def favourite(number: int) -> dict[str, Any]:
    """Return a mark."""
    return operation("favourite", number=number)


def unfavourite(number: int, seen: int) -> dict[str, Any]:
    """Take the marks of a sound back, as far as a page knew of them."""
    return operation("unfavourite", number=number, seen=seen)


def note(text: str, number: int | None = None) -> dict[str, Any]:
    """Return a note on a sound, or on the whole."""
    return operation("note", number=number, text=text)


def wish(number: int, **knobs: float) -> dict[str, Any]:
    """Return a wish for the knobs as they stand."""
    return operation("wish", number=number, knobs=knobs)


def said(*operations: dict[str, Any], device: str = PHONE) -> dict[str, Any]:
    """Return the body of a request with operations."""
    return {"device": device, "operations": list(operations)}
