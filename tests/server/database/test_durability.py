"""Kill the server during saves and uploads: everything it acknowledged is there afterwards."""

from __future__ import annotations

import contextlib
import hashlib
import io
import random
import signal
import sqlite3
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import httpx2
import numpy as np
import pytest
import soundfile
from server_process import Running

from server.database.store import FILE, Store
from server.takes.library import TAKES, Library

KILLS = 50
WITHIN_UPLOADS = 2.5
"""Kills fall before, into and after an upload, whatever the machine's speed."""
AWAIT_A_TAKE_EVERY = 5
"""On a busy machine uploads end late: every fifth kill counts its time from an acknowledged take on."""
PATIENCE_S = 120.0
MARK = {"X-Presolder": "1"}


class Acknowledged:
    """Everything the server acknowledged."""

    def __init__(self) -> None:
        self.versions: dict[str, str] = {}
        self.takes: dict[str, str] = {}
        self.titles: dict[str, str] = {}
        self.taken = threading.Event()


def sound(seed: int) -> bytes:
    """Return a short recording that differs from all others."""
    samples = np.random.default_rng(seed).uniform(-0.5, 0.5, 4800)
    file = io.BytesIO()
    soundfile.write(file, samples, 48000, format="WAV")
    return file.getvalue()


def keep_saving(client: httpx2.Client, commission: str, acknowledged: Acknowledged, seed: int) -> None:
    """Save versions and rename, until the server is gone."""
    (wiring,) = client.get(f"/api/commissions/{commission}").json()["wirings"]
    base, n = wiring["versions"][-1]["id"], 0
    while True:
        n += 1
        value = f"{10 + seed}.{n:04d} nF"
        body = {"base": base, "edits": [{"path": ["parts", "tone_cap", "capacitance"], "value": value}]}
        answer = client.post(f"/api/wirings/{wiring['id']}/versions", json=body)
        assert answer.status_code == 201, answer.text
        base = answer.json()["id"]
        acknowledged.versions[base] = value
        title = f"Job {seed}.{n}"
        if client.patch(f"/api/commissions/{commission}", json={"title": title}).status_code == 200:
            acknowledged.titles[commission] = title


def keep_bringing(client: httpx2.Client, acknowledged: Acknowledged, seed: int) -> None:
    """Upload recordings until the server is gone."""
    for n in range(1000):
        content = sound(1000 * seed + n)
        answer = client.post("/api/takes", params={"name": f"Riff {seed}.{n}"}, content=content)
        assert answer.status_code == 201, answer.text
        acknowledged.takes[answer.json()["id"]] = hashlib.sha256(content).hexdigest()
        acknowledged.taken.set()


def upload_s(server: Running) -> float:
    """Return how long a fresh server takes for its first upload."""
    for name in ("ahead", "timed"):  # the first of an installation compiles
        server.stop()
        server.start()
        began_s = time.monotonic()
        answer = httpx2.post(
            f"{server.url}/api/takes",
            params={"name": name},
            content=sound(999_999),
            headers=MARK,
            timeout=120,
        )
        assert answer.status_code == 201, answer.text
    return time.monotonic() - began_s


def until_gone(work: Callable[..., None], url: str, *given: Any) -> threading.Thread:
    """Start work in a thread that ends with the server."""

    def run() -> None:
        gone = contextlib.suppress(httpx2.TransportError)
        with gone, httpx2.Client(base_url=url, headers=MARK, timeout=20) as client:
            work(client, *given)

    thread = threading.Thread(target=run)
    thread.start()
    return thread


@pytest.mark.long
def test_what_was_acknowledged_survives_kills(tmp_path: Path) -> None:
    server = Running(tmp_path / "data", tmp_path / "server.log", ("serve",)).start()
    created = httpx2.post(
        f"{server.url}/api/commissions", json={"title": "Job", "starter": "baritone"}, headers=MARK
    )
    commission = created.json()["id"]
    acknowledged, rng = Acknowledged(), random.Random(7)
    within_s = WITHIN_UPLOADS * upload_s(server)
    for seed in range(KILLS):
        acknowledged.taken.clear()
        try:
            threads = [
                until_gone(keep_saving, server.url, commission, acknowledged, seed),
                until_gone(keep_bringing, server.url, acknowledged, seed),
            ]
            if seed % AWAIT_A_TAKE_EVERY == 0:
                assert acknowledged.taken.wait(PATIENCE_S), "no upload was acknowledged"
            time.sleep(rng.uniform(0.0, within_s))
        finally:
            server.stop(signal.SIGKILL)
        for thread in threads:
            thread.join()
        if seed < KILLS - 1:
            server.start()
    assert "Traceback" not in server.printed()
    verify(tmp_path / "data", acknowledged, commission)
    versions, takes = len(acknowledged.versions), len(acknowledged.takes)
    print(f"{KILLS} kills: {versions} versions and {takes} takes acknowledged, all kept")
    assert len(acknowledged.versions) > KILLS
    assert len(acknowledged.takes) > 5, "too few uploads were acknowledged in time: the test proves little"


def verify(data: Path, acknowledged: Acknowledged, commission: str) -> None:
    """Check that the database and every acknowledged row are there and whole."""
    with sqlite3.connect(data / FILE) as db:
        assert db.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert db.execute("PRAGMA foreign_key_check").fetchall() == []
        texts = dict(db.execute("SELECT id, text FROM versions"))
        sums = db.execute("SELECT text, sha256 FROM versions").fetchall()
        numbers = [row[0] for row in db.execute("SELECT number FROM versions ORDER BY number")]
        takes = dict(db.execute("SELECT id, sha256 FROM takes"))
        (title,) = db.execute("SELECT title FROM commissions WHERE id = ?", (commission,)).fetchone()
    db.close()
    assert [one for one, value in acknowledged.versions.items() if value not in texts[one]] == []
    assert all(hashlib.sha256(text.encode()).hexdigest() == digest for text, digest in sums)
    assert numbers == list(range(1, len(numbers) + 1))
    assert acknowledged.takes.items() <= takes.items()
    for take, digest in takes.items():
        (file,) = (path for path in (data / TAKES / take).iterdir() if path.suffix == ".wav")
        assert hashlib.sha256(file.read_bytes()).hexdigest() == digest
    library = Library(Store(data))
    assert {one.id for one in library.list_takes()} > set(acknowledged.takes)
    assert all(library.performance(take).seconds == 0.1 for take in acknowledged.takes)
    assert tuple(map(float, title.split()[1].split("."))) >= tuple(
        map(float, acknowledged.titles[commission].split()[1].split("."))
    )


def test_the_check_would_notice(tmp_path: Path) -> None:
    """The check finds a missing version and a title that differs."""
    store = Store(tmp_path)
    acknowledged = Acknowledged()
    from server.commissions import store as commissions
    from server.commissions.starters import STARTERS

    commission = commissions.create(store, "Job 0.0", "", {"Blank": STARTERS["blank"].text()})
    acknowledged.titles[commission] = "Job 0.0"
    verify(tmp_path, acknowledged, commission)
    acknowledged.titles[commission] = "Job 0.1"
    with pytest.raises(AssertionError):
        verify(tmp_path, acknowledged, commission)
    acknowledged.titles[commission] = "Job 0.0"
    acknowledged.versions["lost"] = "22 nF"
    with pytest.raises(KeyError):
        verify(tmp_path, acknowledged, commission)
