"""Takes over the API: listed, uploaded, refused; hostile files and names."""

from __future__ import annotations

import asyncio
import hashlib
import io
import os
import struct
import threading
import time
from collections.abc import AsyncIterator, Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import httpx2
import numpy as np
import pytest
import soundfile
import tolerances as tol
from fastapi.testclient import TestClient
from hostile import KEPT, REFUSED
from server_client import MARK, client_of

from dsp.takes.model import COIL_PLACES_LEFT_OUT
from dsp.takes.reading.take import read_take
from server.files.yaml_text import load_tree, parse_tree
from server.takes import examine as take_examiner
from server.takes import intake as take_intake
from server.takes import routes as take_routes
from server.takes.library import TAKES
from server.takes.load import demo_listener

RATE = 48000


@pytest.fixture
def client(tmp_path: Path) -> TestClient:
    return client_of(tmp_path / "data")


def sound(seconds: float = 1.0, channels: int = 1, form: str = "WAV", rate_hz: int = RATE) -> bytes:
    """Return a decaying tone as a sound file."""
    times_s = np.arange(round(seconds * rate_hz)) / rate_hz
    tone = 0.3 * np.sin(2 * np.pi * 220.0 * times_s) * np.exp(-times_s)
    file = io.BytesIO()
    soundfile.write(file, np.stack([tone] * channels, axis=1), rate_hz, format=form)
    return file.getvalue()


def bring(client: TestClient, content: bytes, **said: Any) -> Any:
    return client.post("/api/takes", params={"name": "Riff", **said}, content=content)


def refused(answer: Any, status: int = 422) -> dict[str, str]:
    assert answer.status_code == status, answer.text
    problem: dict[str, str] = answer.json()["problems"][0]
    return problem


def folders(client: TestClient) -> list[Path]:
    """Return the names in the folder of takes, unfinished ones included."""
    return [path for path in (client.app.state.store.folder / TAKES).rglob("*") if path.name != ".coming"]


@pytest.mark.usefixtures("compiled_tracker")
def test_the_demo_and_its_honesty_labels_are_listed(client: TestClient) -> None:
    found = {one["id"]: one for one in client.get("/api/takes").json()}
    assert len(found) == 12
    assert found["demo:open_chords"]["kind"] == "score"
    for take_id, listed in found.items():
        assert (listed["state"], listed["seconds"]) == ("waiting", None)
        one = client.get(f"/api/takes/{take_id}").json()
        heard = one["warnings"] if one["kind"] == "mono" else []  # by a look at the whole recording
        assert bool(heard) == (one["kind"] == "mono")
        assert all(" s: " in text for text in heard[:-1])
        assert one["warnings"] == (heard or listed["warnings"])
        known = {
            **one,
            "state": "waiting",
            "seconds": None,
            "coil_places": "",
            "warnings": listed["warnings"],
        }
        assert known == listed
        performance = client.app.state.library.performance(take_id)
        assert one["coil_places"] == performance.coil_places(demo_listener())
        assert one["seconds"] == pytest.approx(performance.seconds, abs=tol.SHOWN_SECONDS)
    found = {one["id"]: one for one in client.get("/api/takes").json()}
    assert {one["state"] for one in found.values()} == {"ready"}
    assert "modelled" in found["demo:open_chords"]["coil_places"]


@pytest.mark.parametrize("form", ["WAV", "FLAC", "AIFF", "OGG", "MP3"])
def test_an_uploaded_recording_can_be_played(client: TestClient, form: str) -> None:
    content = sound(form=form)
    answer = bring(client, content, line="chords")
    assert answer.status_code == 201, answer.text
    take = answer.json()
    assert take["sha256"] == hashlib.sha256(content).hexdigest()
    assert take["coil_places"] == COIL_PLACES_LEFT_OUT
    listed = client.get("/api/takes").json()[-1]
    assert {key: take[key] for key in listed} == listed
    performance = client.app.state.library.performance(take["id"])
    heard = np.concatenate(list(performance.stems(demo_listener(), RATE)), axis=1)
    assert heard.shape[0] == 4
    assert abs(heard.shape[1] - RATE) <= 2304  # an MP3 is known to within two of its frames
    assert np.abs(heard).max() > 0.01


def test_the_uploaded_bytes_are_stored_with_their_hash(client: TestClient) -> None:
    content = sound()
    take = bring(client, content, name="../../evil/name.wav").json()
    folder = client.app.state.store.folder / TAKES / take["id"]
    assert sorted(path.name for path in folder.iterdir()) == [f"{take['sha256']}.wav", "take.yaml"]
    assert (folder / f"{take['sha256']}.wav").read_bytes() == content
    assert take["name"] == "../../evil/name.wav"


def test_takes_are_there_after_a_restart(client: TestClient) -> None:
    take = bring(client, sound()).json()
    again = client_of(client.app.state.store.folder)
    assert again.get("/api/takes").json()[-1]["id"] == take["id"]
    assert again.app.state.library.performance(take["id"]).seconds == 1.0


def test_several_channels_go_to_the_coils_named(client: TestClient) -> None:
    take = bring(client, sound(channels=2), kind="coils", channels=["neck_a", "bridge_b"]).json()
    performance = client.app.state.library.performance(take["id"])
    assert performance.take.channels == ("neck_a", "bridge_b")
    problem = refused(bring(client, sound(channels=2), kind="coils", channels=["neck_a"]))
    assert "1 named, 2" in problem["got"]


@pytest.mark.parametrize("text", KEPT.values(), ids=KEPT)
def test_a_take_file_holds_any_name_unchanged(text: str) -> None:
    form = take_intake.UploadForm(text, kind="coils", channels=(text, "x"))
    take = read_take(parse_tree(form.text("a.wav"), "take.yaml"), "take.yaml")
    assert (take.name, take.channels, take.audio) == (text, (text, "x"), "a.wav")


@pytest.mark.parametrize("name", ["script", "path", "yaml", "emoji"])
def test_a_hostile_name_is_only_a_name(client: TestClient, name: str) -> None:
    text = KEPT[name]
    answer = bring(client, sound(0.1), name=text)
    assert answer.status_code == 201, answer.text
    take = answer.json()
    assert (take["name"], client.get("/api/takes").json()[-1]["name"]) == (text, text)
    folder = client.app.state.store.folder / TAKES
    assert client.app.state.library.performance(take["id"]).take.name == text
    assert {path.parent.parent for path in folder.rglob("take.yaml")} == {folder}
    load_tree(folder / take["id"] / "take.yaml")


@pytest.mark.parametrize("text", REFUSED.values(), ids=REFUSED)
def test_texts_that_are_not_names_are_refused(client: TestClient, text: str) -> None:
    refused(bring(client, sound(0.1), name=text))
    assert not folders(client)


@pytest.mark.parametrize(
    "said",
    [{"kind": "score"}, {"kind": "x"}, {"line": "some"}, {"source": "wiring"}, {"colour": "red"},
     {"name": None}, {"kind": "coils"}, {"kind": "coils", "channels": ["a", "a"]},
     {"kind": "coils", "channels": [""]}],
)  # fmt: skip
def test_senseless_descriptions_are_refused(client: TestClient, said: dict[str, Any]) -> None:
    refused(bring(client, sound(0.1), **said))
    assert len(client.get("/api/takes").json()) == 12
    assert not folders(client)


def wav_of(frames: int, rate_hz: int = 16000) -> bytes:
    """Return a header that claims so many frames, without any."""
    size = frames * 2
    form = ("<4sI4s4sIHHIIHH4sI", b"RIFF", size + 36, b"WAVE", b"fmt ", 16, 1, 1, rate_hz, 2 * rate_hz, 2, 16)
    return struct.pack(*form, b"data", size)


BAD = {
    "nothing": (b"", "0 bytes"),
    "text": (b"format: 1\n" * 100, "not readable as sound"),
    "page": (b"<script>alert(1)</script>" * 100, "not readable as sound"),
    "cut short": (sound()[:5000], "cut short"),
    "claims too much": (wav_of(16000) + bytes(100), "cut short"),
    "no samples": (wav_of(0), "0 samples"),
    "half a flac": (sound(5.0, form="FLAC")[:3000], ""),
    "silence": (wav_of(16000) + bytes(32000), "silence"),
}


@pytest.mark.parametrize(("content", "words"), BAD.values(), ids=BAD)
def test_a_file_that_is_not_a_recording_is_refused_and_leaves_nothing(
    client: TestClient, content: bytes, words: str
) -> None:
    problem = refused(bring(client, content))
    assert words in problem["got"]
    digest = hashlib.sha256(content).hexdigest()
    inside = (digest, str(client.app.state.store.folder), "take.yaml", "Traceback")
    assert not [word for word in inside if word in str(problem)]
    assert not folders(client)
    assert len(client.get("/api/takes").json()) == 12


def test_too_long_a_recording_is_refused(client: TestClient) -> None:
    content = sound(31 * 60, form="FLAC", rate_hz=8000)
    assert "31.0 minutes" in refused(bring(client, content))["got"]


def test_too_large_a_file_is_refused_during_its_upload(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(take_intake, "LARGEST", 3_000_000)
    sent = 0

    def pieces() -> Any:
        nonlocal sent
        for _ in range(1000):
            sent += 100_000
            yield bytes(100_000)

    answer = client.post("/api/takes", params={"name": "Big"}, content=pieces())
    assert "3000000" in refused(answer, 413)["allowed"]
    assert not folders(client)


def test_the_limit_is_the_one_agreed() -> None:
    assert take_intake.LARGEST == 200_000_000


@pytest.fixture
def stand_in(monkeypatch: pytest.MonkeyPatch) -> Callable[..., None]:
    """Replace the examination in the child by a function of the helpers."""

    def put(function: str, **more: Any) -> None:
        work = replace(take_examiner.WORK, run=f"bad_decoders:{function}", **more)
        monkeypatch.setattr(take_examiner, "WORK", work)

    return put


def test_a_file_that_decodes_for_ever_is_given_up(
    client: TestClient, monkeypatch: pytest.MonkeyPatch, stand_in: Callable[..., None]
) -> None:
    monkeypatch.setattr(take_examiner, "LONGEST_S", 2.0)
    stand_in("sleep")
    begun = time.perf_counter()
    assert "too much time" in refused(bring(client, sound(0.1)))["got"]
    assert 2.0 < time.perf_counter() - begun < 20.0
    assert not folders(client)


GREEDY = ["take_memory", "write_a_file", "open_many_files"]


@pytest.mark.parametrize("function", GREEDY)
def test_a_child_that_wants_too_much_is_stopped(
    client: TestClient, stand_in: Callable[..., None], function: str
) -> None:
    """Misbehaviour of a decoder with a hostile file: every child dies, and the answer says so."""
    stand_in(function)
    assert "broke off" in refused(bring(client, sound(0.1)))["got"]
    assert not folders(client)


@pytest.mark.parametrize("function", GREEDY)
def test_without_limits_the_same_child_answers(
    client: TestClient, stand_in: Callable[..., None], function: str
) -> None:
    """The twin of the test above: the stand-in starts, so what stopped it was the limits."""
    stand_in(function, limits=None)
    answer = bring(client, sound(0.1))
    assert answer.status_code == 201, answer.text
    assert answer.json()["seconds"] == 1.0


def test_a_child_within_its_limits_answers(client: TestClient, stand_in: Callable[..., None]) -> None:
    stand_in("modest")
    answer = bring(client, sound(0.1))
    assert answer.status_code == 201, answer.text
    assert answer.json()["seconds"] == 1.0


@pytest.mark.long
def test_a_child_that_computes_for_too_long_is_stopped(
    client: TestClient, stand_in: Callable[..., None]
) -> None:
    stand_in("compute", limits=replace(take_examiner.WORK.limits, processor_s=1))  # type: ignore[type-var]
    begun = time.perf_counter()
    assert "broke off" in refused(bring(client, sound(0.1)))["got"]
    assert time.perf_counter() - begun < 30.0


@pytest.mark.long
def test_the_longest_recording_passes_within_the_limits(client: TestClient) -> None:
    """30 minutes, almost the largest file: the limits leave room for every allowed recording."""
    noise = np.random.default_rng(1).integers(-8000, 8000, 29 * 60 * RATE, dtype=np.int16)
    file = io.BytesIO()
    soundfile.write(file, noise, RATE, format="WAV", subtype="PCM_16")
    content = file.getvalue()
    assert 160_000_000 < len(content) < take_intake.LARGEST
    answer = bring(client, content)
    assert answer.status_code == 201, answer.text
    assert answer.json()["seconds"] == 29 * 60


def test_of_sixty_uploads_at_once_a_few_are_served_and_the_others_told_to_wait(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    """No clock decides: the examinations end when everything else has been answered."""
    over = threading.Event()
    examine = take_routes.examine

    def slow(upload: take_intake.Upload, kind: str) -> take_intake.Examined:
        assert over.wait(60.0)
        return examine(upload, kind)

    monkeypatch.setattr(take_routes, "examine", slow)
    monkeypatch.setattr(take_intake, "MOST_COMING", 3)
    content = sound(0.1)

    async def run() -> tuple[list[Any], Any, Any]:
        transport = httpx2.ASGITransport(client.app)
        async with httpx2.AsyncClient(
            transport=transport, base_url="http://127.0.0.1", headers=MARK, timeout=120.0
        ) as page:
            tasks = [
                asyncio.create_task(page.post("/api/takes", params={"name": f"{k}"}, content=content))
                for k in range(60)
            ]
            while sum(task.done() for task in tasks) < 57:
                await asyncio.sleep(0.01)
            others = await page.get("/api/commissions")
            over.set()
            first = await asyncio.gather(*tasks)
            return first, others, await page.post("/api/takes", params={"name": "late"}, content=content)

    answers, others, late = asyncio.run(run())
    assert others.status_code == 200
    assert sorted(answer.status_code for answer in answers) == [201] * 3 + [429] * 57
    problem = refused(next(one for one in answers if one.status_code == 429), 429)
    assert problem["got"] == "3 recordings on their way already"
    assert problem["hint"] == "send it again in a minute"
    assert late.status_code == 201, late.text
    assert len(client.get("/api/takes").json()) == 12 + 4
    assert client.app.state.library.coming == set()


def test_an_upload_that_never_ends_gives_its_place_back(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(take_routes, "ARRIVE_S", 0.1)

    async def run() -> Any:
        async def pieces() -> AsyncIterator[bytes]:
            while True:
                yield b"x"
                await asyncio.sleep(0.01)

        transport = httpx2.ASGITransport(client.app)
        async with httpx2.AsyncClient(transport=transport, base_url="http://127.0.0.1", headers=MARK) as page:
            return await page.post("/api/takes", params={"name": "slow"}, content=pieces())

    assert "an end later than" in refused(asyncio.run(run()), 408)["got"]
    assert client.app.state.library.coming == set()
    assert not folders(client)


def left_behind(client: TestClient, name: str, *, folder_age_s: float, file_age_s: float) -> Path:
    """Return the folder of half an upload, last written to so long ago."""
    folder: Path = client.app.state.library.folder / take_intake.COMING / name
    folder.mkdir(parents=True)
    (folder / "sound").write_bytes(b"half")
    for path, age_s in ((folder / "sound", file_age_s), (folder, folder_age_s)):
        os.utime(path, (time.time() - age_s,) * 2)
    return folder


def test_what_a_killed_server_left_is_swept_after_a_day(client: TestClient) -> None:
    library, day_s = client.app.state.library, take_intake.STALE_S
    old = left_behind(client, "old", folder_age_s=day_s + 60, file_age_s=day_s + 60)
    new = left_behind(client, "new", folder_age_s=day_s - 60, file_age_s=day_s - 60)
    slow = left_behind(client, "slow", folder_age_s=2 * day_s, file_age_s=10.0)
    ours = left_behind(client, "ours", folder_age_s=2 * day_s, file_age_s=2 * day_s)
    library.coming.add("ours")
    take_intake.sweep(library)
    assert [folder.exists() for folder in (old, new, slow, ours)] == [False, True, True, True]


def test_an_upload_is_known_as_coming_until_it_is_kept_or_dropped(client: TestClient) -> None:
    library = client.app.state.library
    with take_intake.open_upload(library) as upload:
        assert library.coming == {upload.id}
        assert upload.folder.name == upload.id
    assert library.coming == set()


def test_leftovers_are_swept_at_the_start_and_every_hour(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    ages = {"folder_age_s": 2 * take_intake.STALE_S, "file_age_s": 2 * take_intake.STALE_S}
    before = left_behind(client, "before", **ages)
    again = client_of(client.app.state.store.folder)
    assert not before.exists()
    assert take_intake.SWEEP_EVERY_S == 3600.0
    monkeypatch.setattr(take_intake, "SWEEP_EVERY_S", 0.01)
    later = left_behind(client, "later", **ages)
    with again:
        until = time.monotonic() + 60.0
        while later.exists() and time.monotonic() < until:
            time.sleep(0.01)
    assert not later.exists()


def test_an_error_of_one_leftover_leaves_the_others_to_be_swept(client: TestClient) -> None:
    folder = left_behind(client, "old", folder_age_s=2e5, file_age_s=2e5)
    (folder.parent / "a file").write_bytes(b"")
    take_intake.sweep(client.app.state.library)
    assert not folder.exists()


def test_an_unknown_take_is_refused(client: TestClient) -> None:
    from server.refusals import Unknown

    for take_id in ("none", "demo:../baritone", "demo:none", "../x", ""):
        with pytest.raises(Unknown):
            client.app.state.library.performance(take_id)


def test_takes_of_served_folders_are_listed(tmp_path: Path) -> None:
    for folder in ("one", "two"):
        (tmp_path / folder).mkdir()
        (tmp_path / folder / "riff.wav").write_bytes(sound())
        text = "format: 1\nname: Own\nkind: mono\naudio: riff.wav\nsource: flat\n"
        (tmp_path / folder / "riff.yaml").write_text(text)
    client = client_of(tmp_path / "data", places=(tmp_path / "one", tmp_path / "two"))
    ids = [one["id"] for one in client.get("/api/takes").json()]
    assert ids[12:] == ["file:riff", "file:riff:2"]
    assert client.app.state.library.performance("file:riff:2").take.name == "Own"
