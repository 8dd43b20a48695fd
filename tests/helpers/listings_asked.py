"""Listings asked of a real server: a small catalogue served, jobs made on it, waited for."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import httpx2
from listing_case import catalogue
from server_started import Running

from server.listings.files import listing_folder

MARK = {"X-Presolder": "1"}
LONGEST_S = 120.0
TAKE = "file:pluck_0"


def serving(folder: Path, *, instruments: int = 2, takes: int = 1, tail_s: float = 0.3) -> Running:
    """A server on a catalogue of its own; not started yet."""
    catalogue(folder / "shop", instruments=instruments, takes=takes, tail_s=tail_s).unlink()
    words = ("serve", str(folder / "shop" / "wirings"), str(folder / "shop"))
    return Running(folder / "data", folder / "server.log", words)


class Bench:
    """What the bench asks of a server about listings."""

    def __init__(self, server: Running) -> None:
        self.server = server
        self.data = server.data
        apart = httpx2.Limits(max_keepalive_connections=0)  # the server may be another the next time
        self.client = httpx2.Client(base_url=server.url, headers=MARK, timeout=60, limits=apart)
        wirings = [wiring for row in self.client.get("/api/commissions").json() for wiring in row["wirings"]]
        self.versions = [str(one["version"]) for one in sorted(wirings, key=lambda one: str(one["name"]))]

    def close(self) -> None:
        """Ask nothing more."""
        self.client.close()

    def wanted(self, **other: Any) -> dict[str, Any]:
        """A listing of everything, two positions each, unless something else is said."""
        wirings = [{"version": one, "positions": ["1", "5"]} for one in self.versions]
        return {"title": "Spring catalogue", "wirings": wirings, "takes": [TAKE], **other}

    def start(self, **other: Any) -> str:
        """Put a listing into the queue; its id."""
        answer = self.client.post("/api/listings", json=self.wanted(**other))
        assert answer.status_code == 201, answer.text
        return str(answer.json()["id"])

    def get(self, job: str) -> dict[str, Any]:
        """A listing as it stands."""
        found: dict[str, Any] = self.client.get(f"/api/listings/{job}").json()
        return found

    def until(self, job: str, holds: Callable[[dict[str, Any]], bool]) -> dict[str, Any]:
        """A listing as soon as something holds of it."""
        end_s = time.monotonic() + LONGEST_S
        while not holds(found := self.get(job)):
            assert time.monotonic() < end_s, f"not within {LONGEST_S:g} s: {found}"
            time.sleep(0.02)
        return found

    def ended(self, job: str) -> dict[str, Any]:
        """A listing once it has ended."""
        return self.until(job, lambda one: one["state"] in ("done", "failed", "cancelled"))

    def post(self, job: str, act: str) -> httpx2.Response:
        """Cancel or resume."""
        return self.client.post(f"/api/listings/{job}/{act}")

    def folder(self, job: str) -> Path:
        """Where its files lie."""
        return listing_folder(self.data, job)


def files_done(job: dict[str, Any]) -> int:
    """Files of a listing that are finished."""
    return sum(one["files_done"] for one in job["instruments"])
