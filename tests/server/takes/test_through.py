"""A recording uploaded with its known wiring, and one with a channel per string."""

from __future__ import annotations

import io
import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
import tolerances as tol
from fastapi.testclient import TestClient
from server_client import client_of

from dsp.circuit.response import respond
from dsp.wiring.model import Wiring
from dsp.wiring.reading.wiring import read_wiring
from server.files.yaml_text import parse_tree
from server.takes.library import TAKES

RATE_HZ = 48_000
KNOBS = {"volume": 8.5, "tone": 6.0}


@pytest.fixture
def client(tmp_path: Path) -> TestClient:
    return client_of(tmp_path / "data")


def version_of(client: TestClient) -> dict[str, Any]:
    made = client.post("/api/commissions", json={"title": "Job", "starter": "baritone"}).json()["id"]
    version = client.get(f"/api/commissions/{made}").json()["wirings"][0]["versions"][0]["id"]
    found: dict[str, Any] = client.get(f"/api/versions/{version}").json()
    return found


def line(channels: int = 1) -> tuple[np.ndarray, bytes]:
    """Return tones of the guitar's range that swell and die, and the same as a 24-bit file."""
    times_s = np.arange(2 * RATE_HZ) / RATE_HZ
    tones = sum(np.sin(2 * np.pi * f_hz * times_s) for f_hz in (110.0, 440.0, 1300.0, 3100.0))
    samples = 0.1 * tones * np.hanning(len(times_s))
    file = io.BytesIO()
    soundfile.write(file, np.stack([samples] * channels, 1), RATE_HZ, format="WAV", subtype="PCM_24")
    return samples, file.getvalue()


def bring(client: TestClient, content: bytes, **said: Any) -> Any:
    return client.post("/api/takes", params={"name": "Riff", **said}, content=content)


def through(version: str, **said: Any) -> dict[str, Any]:
    knobs = {"source_knobs": json.dumps(KNOBS)}
    return {"source": "wiring", "source_version": version, "source_position": "5", **knobs, **said}


def at_the_jack(client: TestClient, take: str, wiring: Wiring, position: str) -> np.ndarray:
    """Filter a take by the circuit's own responses."""
    performance = client.app.state.library.performance(take)
    stems = np.concatenate(list(performance.stems(wiring, RATE_HZ)), axis=1)
    frequencies_hz = np.fft.rfftfreq(stems.shape[1], 1 / RATE_HZ)
    frequencies_hz[0] = frequencies_hz[1]
    coils = respond(wiring, [wiring.setting(position, KNOBS, {})], frequencies_hz).coil[0]
    heard: np.ndarray = np.fft.irfft(np.sum(np.fft.rfft(stems) * coils, axis=0), stems.shape[1])
    return heard


def off_db(heard: np.ndarray, want: np.ndarray) -> float:
    """Return the level of the difference re the wanted signal."""
    return float(10 * np.log10(np.sum((heard - want) ** 2) / np.sum(want**2)))


def test_a_recording_through_its_own_wiring_is_unchanged(client: TestClient) -> None:
    version = version_of(client)
    samples, content = line()
    answer = bring(client, content, **through(version["id"]))
    assert answer.status_code == 201, answer.text
    take = answer.json()
    folder = client.app.state.store.folder / TAKES / take["id"]
    assert (folder / "source.yaml").read_bytes().decode() == version["text"]
    wiring = read_wiring(parse_tree(version["text"], "text"), "text")
    assert off_db(at_the_jack(client, take["id"], wiring, "5"), samples) < tol.OWN_WIRING_DB
    assert off_db(at_the_jack(client, take["id"], wiring, "1"), samples) > tol.OWN_WIRING_DB  # the twin
    again = client_of(client.app.state.store.folder)
    assert again.app.state.library.performance(take["id"]).take.source.knobs == KNOBS


@pytest.mark.parametrize(
    ("said", "where"),
    [
        ({"source_version": "none"}, "version"),
        ({"source_position": "9"}, "source"),
        ({"source_knobs": '{"volum": 3}'}, "source"),
        ({"source_knobs": '{"volume": 11}'}, "source"),
        ({"source_knobs": '{"volume": 0}'}, "source"),
        ({"source_knobs": "[1]"}, "source_knobs"),
        ({"source_knobs": '{"volume": NaN}'}, "source"),
        ({"source_switches": '{"split": "up"}'}, "source"),
        ({"source_switches": "{"}, "source_switches"),
        ({"kind": "coils", "channels": ["neck_a"]}, "source"),
        ({"source": "flat"}, "source"),
    ],
)
def test_a_source_that_makes_no_sense_is_refused(
    client: TestClient, said: dict[str, Any], where: str
) -> None:
    answer = bring(client, line()[1], **through(version_of(client)["id"], **said))
    assert answer.status_code in (404, 422), answer.text
    assert where in answer.json()["problems"][0]["where"]
    assert [one for one in client.get("/api/takes").json() if one["name"] == "Riff"] == []


def test_a_channel_per_string_is_moved_to_the_coils(client: TestClient) -> None:
    take = bring(client, line(2)[1], kind="strings", channels=["6", "5"]).json()
    performance = client.app.state.library.performance(take["id"])
    assert (performance.take.kind, performance.take.channels) == ("strings", ("6", "5"))
    wrong = bring(client, line(2)[1], kind="strings", channels=["6", "low"])
    assert wrong.status_code == 422
    assert "'low'" in wrong.json()["problems"][0]["got"]
