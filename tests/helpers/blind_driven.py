"""A blind test driven over HTTP, as its page does it."""

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
    """A test of the demo baritone over two seconds, waited for until its first trial is open."""
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
    """The same test once its sounds are made."""
    until = time.monotonic() + 60.0
    while test["state"] == "making" and time.monotonic() < until:
        time.sleep(0.05)
        test = client.get(f"/api/blind-tests/{test['id']}").json()
    assert test["state"] != "making"
    return test


def say(client: TestClient, test: dict[str, Any], number: int, said: str) -> Any:
    return client.put(f"/api/blind-tests/{test['id']}/answers/{number}", json={"answer": said})


def through(client: TestClient, test: dict[str, Any], answers: str) -> dict[str, Any]:
    """The test after answers from its first trial on."""
    for number, said in enumerate(answers, 1):
        answer = say(client, test, number, said)
        assert answer.status_code == 200, answer.text
        test = answer.json()
    return test


def steps(clip: bytes) -> NDArray[np.float64]:
    """Samples of a clip in steps of 16 bits."""
    samples, rate_hz = soundfile.read(io.BytesIO(clip), dtype="int16")
    assert rate_hz == 48_000
    return np.asarray(samples, float)


def truth(clips: dict[str, NDArray[np.float64]]) -> str:
    """Which of A and B X was made from, told by its samples, as only a determined cheat would."""
    off = {letter: float(np.std(clips["X"] - clips[letter])) for letter in "AB"}
    return min(off, key=off.__getitem__)
