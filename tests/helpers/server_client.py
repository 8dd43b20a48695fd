"""The application in this process, for tests that need no socket."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from fastapi.testclient import TestClient

from server.app import create_app
from server.settings import Settings

MARK = {"X-Presolder": "1"}
"""Header that our page sends with every request that changes something."""
KEY = "a key for the tests"


def client_of(data: Path, *, headers: dict[str, str] | None = None, **settings: Any) -> TestClient:
    """Return a client of an application on a data folder, on loopback unless a host is given."""
    app = create_app(Settings(data, **settings))
    host = settings.get("host", "127.0.0.1")
    return TestClient(app, base_url=f"http://{host}", headers=MARK if headers is None else headers)
