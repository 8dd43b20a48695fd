"""The customers' side of a bench for tests, and a walk over every route that the bench has."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

from fastapi import FastAPI
from fastapi.testclient import TestClient
from server_client import MARK

from server.app import BENCH, CUSTOMER, OPEN, create_app, create_public_app
from server.settings import Public, Settings

URL = "https://sounds.example.com"
OWN = {**MARK, "Origin": URL}
"""What a customer's browser sends with a request that changes something."""
VISITOR = ("127.0.0.1", 50_000)
"""How the proxy's connection looks; the visitor's own address comes in a header."""


def public_client(bench: FastAPI, url: str = URL, visitor: tuple[str, int] = VISITOR) -> TestClient:
    """Return a customer's browser at the public side of a bench."""
    app = create_public_app(bench, Public(url))
    return TestClient(app, base_url=url, headers={**MARK, "Origin": url}, client=visitor)


def bench_with_public(settings: Settings, url: str = URL) -> tuple[FastAPI, TestClient]:
    """Return a bench's application and a customer's browser."""
    app = create_app(settings)
    return app, public_client(app, url)


def bench_routes(app: FastAPI) -> Iterator[tuple[str, str]]:
    """Yield method and path of every route of a bench that is no customer's.

    A WebSocket is asked for by GET.
    """
    theirs = [route for room in CUSTOMER for route in room.router.routes]
    rooms: list[Any] = [
        route for room in (*OPEN, *BENCH) for route in room.router.routes if route not in theirs
    ]
    own = [route for route in app.routes if hasattr(route, "path")]
    for route in (*rooms, *own):
        path = re.sub(r"\{[^}]*\}", "x", route.path)
        if path in ("/p/x", "/web"):
            continue
        for method in sorted(getattr(route, "methods", None) or {"GET"}):
            yield method, path
