"""A finished guitar and requests about it, without the processes that take seconds to start."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from fastapi.testclient import TestClient

from dsp.checking.bands import Band
from dsp.measuring.tone import tone_lines
from dsp.measuring.transfer import Transfer
from server.built import routes
from server.built.excited import ExcitedSound
from server.built.work import BuiltWork, make_bands, make_excited
from server.measurements.recordings import NAME


@cache
def bands_of(text: str) -> tuple[Band, ...]:
    return make_bands(text)


@cache
def excited_of(text: str) -> ExcitedSound:
    return make_excited(text)


SERIES_OHM, KNOWN_OHM, INPUT_OHM = 100e3, 99_870.0, 1e6
PARTS = {"open": 1e12, "short": 1e-9, "known": KNOWN_OHM, "guitar": 6200.0}


def measured_here(content: bytes, folder: Path, *, shorted: bool) -> Transfer:
    """Return what two channels read of a part behind a series resistor, beside an input of 1 MΩ."""
    hz = tone_lines()
    ohm = PARTS[content.decode()] + 2j * np.pi * hz * (2.35 if content == b"guitar" else 0.0)
    at_input = 1 / (1 / ohm + 1 / INPUT_OHM)
    ratio = at_input / (at_input + SERIES_OHM)
    return Transfer(NAME, "lines", hz, ratio, np.full(len(hz), 1e-5), -24.0, -60.0)


@contextmanager
def without_processes() -> Iterator[None]:
    """Compute in this process: helper and decoder have tests of their own."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(BuiltWork, "_make", lambda self, text: bands_of(text))
        patch.setattr(BuiltWork, "_find_excited", lambda self, text: excited_of(text))
        patch.setattr(routes, "measure_recording", measured_here)
        yield


class Guitar:
    """A commission with one coil, and requests about the finished guitar."""

    def __init__(self, client: TestClient, starter: str = "one_coil") -> None:
        self.client = client
        made = client.post("/api/commissions", json={"title": "Built", "starter": starter}).json()
        row = client.get(f"/api/commissions/{made['id']}").json()["wirings"][0]
        self.commission, self.wiring, self.version = made["id"], row["id"], row["versions"][-1]["id"]
        self.plan = client.get("/api/built/plan", params={"version": self.version}).json()

    def type(self, known: str = "", **meter: str) -> Any:
        """Type readings into empty fields."""
        empty = dict.fromkeys(self.state()["fields"]["meter"], "")
        typed = empty | {setting.strip("_"): value for setting, value in meter.items()}
        return self.put({"version": self.version, "known": known, "meter": typed}).json()

    def put(self, fields: dict[str, Any]) -> Any:
        return self.client.put("/api/built/readings", params={"wiring": self.wiring}, json=fields)

    def state(self) -> Any:
        return self.client.get("/api/built/readings", params={"wiring": self.wiring}).json()

    def bring(self, step: str, content: bytes, *, name: str = "", setting: str = "") -> Any:
        where = {"wiring": self.wiring, "version": self.version, "step": step, "setting": setting}
        params = {**where, "name": name or f"{step}.wav"}
        return self.client.post("/api/built/recordings", params=params, content=content)

    def drop(self, step: str, setting: str = "") -> Any:
        params = {"wiring": self.wiring, "step": step, "setting": setting}
        return self.client.delete("/api/built/readings", params=params).json()
