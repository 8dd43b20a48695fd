"""Listings of a real server: serve a small catalogue, order listings and wait for them."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import httpx2
from listing_case import catalogue
from server_process import Running

from server.listings.files import listing_folder

MARK = {"X-Presolder": "1"}
LONGEST_S = 240.0
TAKE = "file:pluck_0"


def serving(folder: Path, *, instruments: int = 2, takes: int = 1, tail_s: float = 0.3) -> Running:
    """Prepare a server on a catalogue of its own, without starting it."""
    catalogue(folder / "shop", instruments=instruments, takes=takes, tail_s=tail_s).unlink()
    words = ("serve", str(folder / "shop" / "wirings"), str(folder / "shop"))
    return Running(folder / "data", folder / "server.log", words)


class Bench:
    """The bench's requests about listings."""

    def __init__(self, server: Running) -> None:
        self.server = server
        self.data = server.data
        apart = httpx2.Limits(max_keepalive_connections=0)  # the next request may go to a restarted server
        self.client = httpx2.Client(base_url=server.url, headers=MARK, timeout=60, limits=apart)
        wirings = [wiring for row in self.client.get("/api/commissions").json() for wiring in row["wirings"]]
        self.versions = [str(one["version"]) for one in sorted(wirings, key=lambda one: str(one["name"]))]

    def close(self) -> None:
        """Close the connection."""
        self.client.close()

    def wanted(self, **other: Any) -> dict[str, Any]:
        """Return an order of everything, two positions each, unless `other` replaces a field."""
        wirings = [{"version": one, "positions": ["1", "5"]} for one in self.versions]
        return {"title": "Spring catalogue", "wirings": wirings, "takes": [TAKE], **other}

    def examined(self, take: str) -> dict[str, Any]:
        """Wait until a take of a folder has been examined, and return it."""
        end_s = time.monotonic() + LONGEST_S
        while True:
            found: dict[str, Any] = self.client.get(f"/api/takes/{take}").json()
            if found["seconds"] is not None:
                return found
            assert time.monotonic() < end_s, f"not within {LONGEST_S:g} s: {found}"
            time.sleep(0.05)

    def start(self, **other: Any) -> str:
        """Put a listing into the queue and return its id."""
        answer = self.client.post("/api/listings", json=self.wanted(**other))
        assert answer.status_code == 201, answer.text
        return str(answer.json()["id"])

    def get(self, job: str) -> dict[str, Any]:
        """Return the present state of a listing."""
        found: dict[str, Any] = self.client.get(f"/api/listings/{job}").json()
        return found

    def until(self, job: str, holds: Callable[[dict[str, Any]], bool]) -> dict[str, Any]:
        """Wait until a condition holds of a listing, and return it."""
        end_s = time.monotonic() + LONGEST_S
        while not holds(found := self.get(job)):
            assert time.monotonic() < end_s, f"not within {LONGEST_S:g} s: {found}"
            time.sleep(0.02)
        return found

    def ended(self, job: str) -> dict[str, Any]:
        """Wait until a listing has ended, and return it."""
        return self.until(job, lambda one: one["state"] in ("done", "failed", "cancelled"))

    def post(self, job: str, act: str) -> httpx2.Response:
        """Cancel or resume a listing."""
        return self.client.post(f"/api/listings/{job}/{act}")

    def folder(self, job: str) -> Path:
        """Return the folder of its files."""
        return listing_folder(self.data, job)


def files_done(job: dict[str, Any]) -> int:
    """Return the number of finished files."""
    return sum(one["files_done"] for one in job["instruments"])
