"""MIDI files over the API: looked at on an instrument, brought in, played; refused in words."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from fastapi.testclient import TestClient
from midi_bytes import FORMAT_0, FORMAT_1, chord, melody, midi, off, on, track
from server_client import client_of

from dsp.takes.model import COIL_PLACES_PLAYED
from server.takes.library import TAKES
from server.takes.load import demo_listener

LOW = midi(track(*chord([35, 42, 47]), *chord([33]), *chord([47, 54, 59])))
"""B1 is the lowest string of the demo's baritone; the second note, A1, lies below."""
EACH_A_STRING = midi(
    *(melody([key, key + 2], channel=place + 1) for place, key in enumerate((59, 54, 50, 45)))
)
"""Four open strings of the baritone and their second frets, a channel each: B3 F#3 D3 A2."""


@pytest.fixture
def client(tmp_path: Path) -> TestClient:
    return client_of(tmp_path / "data")


def version_of(client: TestClient) -> str:
    made = client.post("/api/commissions", json={"title": "Job", "starter": "baritone"}).json()["id"]
    found: str = client.get(f"/api/commissions/{made}").json()["wirings"][0]["versions"][0]["id"]
    return found


def look(client: TestClient, content: bytes, **asked: Any) -> Any:
    return client.post("/api/takes/midi", params={"version": version_of(client), **asked}, content=content)


def bring(client: TestClient, content: bytes, **said: Any) -> Any:
    return client.post("/api/takes", params={"name": "Riff", "kind": "midi", **said}, content=content)


def test_a_look_names_what_cannot_be_played_by_bar_and_beat(client: TestClient) -> None:
    answer = look(client, LOW)
    assert answer.status_code == 200, answer.text
    seen = answer.json()
    assert (seen["strings"], seen["problems"], seen["notes"]) == ("hand", [], 7)
    (left_out,) = seen["left_out"]
    assert (left_out["where"], left_out["got"]) == ("bar 1, beat 2 (0.5 s)", "A1")
    assert left_out["allowed"] == "B1 and above, the lowest open string"
    assert sum(seen["on"]) == 6
    assert client.get("/api/takes").json()[-1]["id"].startswith("demo:"), "a look keeps nothing"
    assert not [one for one in (client.app.state.store.folder / TAKES).rglob("*") if one.is_file()]


def test_a_channel_for_each_string_is_found_out(client: TestClient) -> None:
    seen = look(client, EACH_A_STRING).json()
    assert (seen["strings"], seen["left_out"]) == ("channels", [])
    assert seen["on"] == [2, 2, 2, 2, 0, 0]
    as_tracks = midi(*(melody([key, key + 2]) for key in (59, 54, 50, 45)))
    assert look(client, as_tracks).json()["strings"] == "tracks"


def test_voices_that_no_hand_could_hold_on_a_string_each_are_laid_by_a_hand(client: TestClient) -> None:
    """Each voice lies on a string of its own, but the frets are 12 apart: a band, not a guitar."""
    voices = midi(*(melody([key], channel=place + 1) for place, key in enumerate((60, 67, 51, 58))))
    assert look(client, voices).json()["strings"] == "hand"


def test_a_part_is_chosen(client: TestClient) -> None:
    seen = look(client, FORMAT_1).json()
    assert [(part["track"], part["channels"], part["notes"]) for part in seen["parts"]] == [
        (2, [1], 1),
        (3, [2], 1),
        (4, [3], 2),
    ]
    assert look(client, FORMAT_1, tracks=[4]).json()["notes"] == 2
    take = bring(client, FORMAT_1, tracks=[4]).json()
    assert len(client.app.state.library.performance(take["id"]).midi_notes) == 2


def test_a_midi_file_becomes_a_take_that_is_played(client: TestClient) -> None:
    answer = bring(client, LOW, strings="hand")
    assert answer.status_code == 201, answer.text
    take = answer.json()
    assert (take["kind"], take["coil_places"]) == ("midi", COIL_PLACES_PLAYED)
    listed = client.get("/api/takes").json()[-1]
    assert {key: take[key] for key in listed} == listed
    folder = client.app.state.store.folder / TAKES / take["id"]
    assert sorted(path.name for path in folder.iterdir()) == [f"{take['sha256']}.mid", "take.yaml"]
    (note,) = client.get(f"/api/takes/{take['id']}/notes", params={"version": version_of(client)}).json()[
        "notes"
    ]
    assert note.startswith("left out: Riff: bar 1, beat 2 (0.5 s): A1")
    performance = client.app.state.library.performance(take["id"])
    heard = np.concatenate(list(performance.stems(demo_listener(), 8000)), axis=1)
    first, second = heard[0, 800:3200], heard[0, 4800:7200]
    assert np.std(first) > 10 * np.std(second), "the note below the lowest string is left out"


def sound() -> bytes:
    file = io.BytesIO()
    soundfile.write(file, np.zeros(4800), 48_000, format="WAV")
    return file.getvalue()


LONG = midi(track((0, on(47)), (480 * 2 * 4000, off(47))))
HIGH = midi(melody([120, 122]))


def test_what_is_no_midi_file_is_refused_in_words(client: TestClient) -> None:
    broken_off = FORMAT_0[:-12]
    for content, where, got in (
        (b"", "the file", "an empty file"),
        (sound(), "the file", "wrapped in RIFF"),
        (broken_off, "track 1", "the file breaks off"),
    ):
        answer = look(client, content)
        assert answer.status_code == 422, answer.text
        (problem,) = answer.json()["problems"]
        assert problem["where"] == where
        assert got in problem["got"]
        assert "song.mid" not in str(problem)
    answer = bring(client, broken_off)
    assert answer.status_code == 422
    (problem,) = answer.json()["problems"]
    assert problem["where"] == "the file: track 1"
    assert "the file breaks off" in problem["got"]


def test_what_is_too_long_or_out_of_reach_is_said_beside_the_parts(client: TestClient) -> None:
    seen = look(client, LONG).json()
    assert "4002 s" in seen["problems"][0]["got"]
    assert seen["parts"][0]["notes"] == 1
    assert "4002 s" in bring(client, LONG).json()["problems"][0]["got"]
    seen = look(client, HIGH).json()
    assert seen["problems"][0]["got"] == "nothing that this instrument can play"
    assert {one["got"] for one in seen["left_out"]} >= {"C9", "D9"}
    none = midi(track((0, b"\xff\x03\x01a")))
    assert look(client, none).json()["problems"][0]["got"] == "no note"


def test_tracks_of_a_recording_are_refused(client: TestClient) -> None:
    answer = client.post("/api/takes", params={"name": "Riff", "tracks": [1]}, content=sound())
    assert answer.status_code == 422
    assert answer.json()["problems"][0]["where"] == "tracks, strings"
