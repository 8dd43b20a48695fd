"""Run a blind test over HTTP, as its page does."""

from __future__ import annotations

import io
import time
from typing import Any

import numpy as np
import soundfile
from fastapi.testclient import TestClient
from numpy.typing import NDArray

TAKE = "demo:low_riff"
DULL = {"position": "1", "knobs": {"tone": 2.0}}
BRIGHT = {"position": "6"}


def begin(client: TestClient, *settings: dict[str, Any], trials: int = 8, **more: Any) -> dict[str, Any]:
    """Start a test of two seconds of the demo baritone, and wait for its first trial."""
    commission = next(one for one in client.get("/api/commissions").json() if "aritone" in one["title"])
    draft = {"version": commission["wirings"][0]["version"], "edits": []}
    body = {
        "sounds": [{"draft": draft, "setting": setting} for setting in settings or (DULL, BRIGHT)],
        "take": TAKE, "trials": trials, "from_s": 0.5, "to_s": 2.5, **more,
    }  # fmt: skip
    answer = client.post(f"/api/commissions/{commission['id']}/blind-tests", json=body)
    assert answer.status_code == 201, answer.text
    return opened(client, answer.json())


def opened(client: TestClient, test: dict[str, Any]) -> dict[str, Any]:
    """Wait until the sounds of a test are made, and return it."""
    until = time.monotonic() + 240.0
    while test["state"] == "making" and time.monotonic() < until:
        time.sleep(0.05)
        test = client.get(f"/api/blind-tests/{test['id']}").json()
    assert test["state"] != "making"
    return test


def say(client: TestClient, test: dict[str, Any], number: int, said: str) -> Any:
    return client.put(f"/api/blind-tests/{test['id']}/answers/{number}", json={"answer": said})


def through(client: TestClient, test: dict[str, Any], answers: str) -> dict[str, Any]:
    """Answer every trial from the first on, and return the test."""
    for number, said in enumerate(answers, 1):
        answer = say(client, test, number, said)
        assert answer.status_code == 200, answer.text
        test = answer.json()
    return test


def steps(clip: bytes) -> NDArray[np.float64]:
    """Return the samples of a clip in steps of 16 bits."""
    samples, rate_hz = soundfile.read(io.BytesIO(clip), dtype="int16")
    assert rate_hz == 48_000
    return np.asarray(samples, float)


def truth(clips: dict[str, NDArray[np.float64]]) -> str:
    """Return which of A and B gave X, from its samples, as only a determined cheat would."""
    off = {letter: float(np.std(clips["X"] - clips[letter])) for letter in "AB"}
    return min(off, key=off.__getitem__)
