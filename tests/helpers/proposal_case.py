"""Proposals for tests, made over the API; this process renders their clips."""

from __future__ import annotations

import datetime
import shutil
import tempfile
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any

from fastapi.testclient import TestClient
from server_client import client_of

from server.database.store import Store
from server.proposals.work import empty_queue

TAKE = "demo:e_slide"
"""A recording of four seconds, the quickest to render."""


@dataclass
class Made:
    """A proposal, its bench and its customer."""

    client: TestClient
    data: Path
    commission: str
    version: str
    id: str
    token: str

    @property
    def link(self) -> str:
        """Return the address of the customer's API."""
        return f"/api/p/{self.token}"

    @property
    def store(self) -> Store:
        """Return the application's database."""
        store: Store = self.client.app.state.store  # type: ignore[attr-defined]
        return store

    def offer(self) -> dict[str, Any]:
        """Return what the customer sees."""
        answer = self.client.get(self.link)
        assert answer.status_code == 200, answer.text
        found: dict[str, Any] = answer.json()
        return found

    def bench(self) -> dict[str, Any]:
        """Return what the bench sees."""
        found: dict[str, Any] = self.client.get(f"/api/proposals/{self.id}").json()
        return found

    def render(self) -> Made:
        """Render every clip that waits."""
        empty_queue(self.data, ())
        return self

    def another(self, **more: Any) -> Made:
        """Make one more proposal of the same commission."""
        return propose(self.client, self.data, self.commission, self.version, **more)


def propose(client: TestClient, data: Path, commission: str, version: str, **more: Any) -> Made:
    """Make a proposal of a commission."""
    items = more.pop("items", None) or [{"version": version, "position": one} for one in ("1", "2", "3")]
    body = {"title": "Your baritone", "items": items, "takes": [TAKE], **more}
    answer = client.post(f"/api/commissions/{commission}/proposals", json=body)
    assert answer.status_code == 201, answer.text
    made = answer.json()
    return Made(client, data, commission, version, made["id"], made["link"].removeprefix("/p/"))


def made(folder: Path, **more: Any) -> Made:
    """Make a commission with a proposal of three of its positions."""
    data = folder / "data"
    if more:
        return _made(data, **more)
    like = _first()
    shutil.copytree(like.data, data)
    return replace(like, client=client_of(data), data=data)


@cache
def _first() -> Made:
    """Make the plain proposal once a process: reading its take starts a process each time."""
    first = _made(Path(_place().name) / "data")
    first.store.close()
    return first


@cache
def _place() -> tempfile.TemporaryDirectory[str]:
    """Make a folder that goes with the process."""
    return tempfile.TemporaryDirectory(prefix="presolder-proposal-")


def _made(data: Path, **more: Any) -> Made:
    client = client_of(data)
    body = {"title": "Secret job", "client": "Secret client", "starter": "baritone"}
    commission = client.post("/api/commissions", json=body).json()["id"]
    wiring = client.get(f"/api/commissions/{commission}").json()["wirings"][0]
    return propose(client, data, commission, wiring["versions"][0]["id"], **more)


def today() -> str:
    """Return the day that a customer signs on."""
    return datetime.datetime.now(datetime.UTC).date().isoformat()


def again(one: Made, **settings: Any) -> TestClient:
    """Start another application on the same data folder."""
    return client_of(one.data, **settings)
