"""Recordings beside a sign-off: kept over a restart, judged, thrown away; the sign-off never changes."""

from __future__ import annotations

import io
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from places import DEMO
from proposal_case import TAKE, Made, again, made, today
from server_client import KEY
from strummed import RATE_HZ, Bench, settings_of

from dsp.checking.points import setting_text
from dsp.errors import InputError
from server.verifying import routes
from server.verifying.intake import KEPT_PEAK, _read, take_recording
from server.verifying.store import Taken
from server.verifying.work import Sound, Verdicts, judge_sounds
from server.wirings.text import load_wiring

TAKEN = Taken(8.0, 4, 0.5, -21.5, b"fLaC and so on")
VERDICT = {"verdict": "as proposed", "probability_sound": 0.97}
STRINGS = """    - {note: E2, gauge: 0.046 in, wound: true}
    - {note: D3, gauge: 0.026 in, wound: true}
    - {note: E4, gauge: 0.010 in}
"""


@pytest.fixture
def signed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Made]:
    """Make a signed proposal; decoder and helper have tests of their own, and take seconds to start."""
    monkeypatch.setattr(routes, "take_recording", lambda content, folder: TAKEN)
    monkeypatch.setattr(Verdicts, "judge", lambda self, text, sounds, fields: VERDICT)
    one = made(tmp_path).render()
    body = {"wiring": 1, "name": "Our customer", "date": today(), "confirm": True}
    answer = one.client.post(f"{one.link}/signoff", json=body)
    assert answer.status_code == 201, answer.text
    yield one
    one.store.close()


def address(one: Made, rest: str = "") -> str:
    return f"/api/verifying/{one.id}{rest}"


def bring(one: Made, setting: str, content: bytes = b"a recording") -> Any:
    params = {"setting": setting, "name": f"position {setting}.wav"}
    return one.client.post(address(one, "/recordings"), params=params, content=content)


def by_setting(found: dict[str, Any]) -> dict[str, dict[str, Any]]:
    return {one["setting"]: one for one in found["settings"]}


def test_the_plan_is_the_signed_sounds_and_what_helps(signed: Made) -> None:
    found = signed.client.get(address(signed)).json()
    rows = by_setting(found)
    assert list(rows)[:3] == ["1", "2", "3"]
    assert [rows[one]["sound"]["number"] for one in ("1", "2", "3")] == [1, 2, 3]
    (clip,) = rows["1"]["sound"]["clips"]
    assert (clip["take"], clip["way"]) == (TAKE, "direct")
    assert clip["lufs"] < 0
    assert [one["id"] for one in found["takes"]] == [TAKE]
    assert found["ways"] == ["direct"]
    assert {"4", "5", "6"} <= set(rows)
    assert rows["5"]["sound"] is None
    assert any("tone=0" in one for one in rows)
    assert found["cautions"]
    assert found["verdict"] is None


def test_what_was_brought_is_kept_and_the_sign_off_stays(signed: Made) -> None:
    before = signed.client.get(f"/api/proposals/{signed.id}").json()["signoff"]
    for setting in ("1", "2"):
        assert bring(signed, setting).status_code == 200
    judged = signed.client.post(address(signed, "/verdict")).json()
    assert judged["verdict"] == VERDICT
    after = again(signed)
    found = after.get(address(signed)).json()
    assert found["verdict"] == VERDICT
    assert by_setting(found)["2"]["recording"] == {
        "name": "position 2.wav",
        "came": by_setting(judged)["2"]["recording"]["came"],
        "seconds": 8.0,
        "strums": 4,
        "peak": 0.5,
        "loudness_lufs": -21.5,
    }
    sound = after.get(address(signed, "/recordings/sound"), params={"setting": "2"})
    assert sound.content == TAKEN.sound
    assert after.get(f"/api/proposals/{signed.id}").json()["signoff"] == before
    assert after.get(f"/api/proposals/{signed.id}/verify").json()["problems"] == []
    after.app.state.store.close()  # type: ignore[attr-defined]


def test_a_recording_of_two_megabytes_comes_through(signed: Made) -> None:
    """Whoever checks every request first leaves the size of a file to the handler."""
    answer = bring(signed, "1", bytes(2 << 20))
    assert answer.status_code == 200, answer.text
    assert by_setting(answer.json())["1"]["recording"]["strums"] == TAKEN.strums


def test_any_change_takes_the_verdict_away(signed: Made) -> None:
    def judge() -> None:
        assert signed.client.post(address(signed, "/verdict")).json()["verdict"] == VERDICT

    bring(signed, "1")
    judge()
    assert bring(signed, "2").json()["verdict"] is None
    judge()
    fields = {"frets": "0 2 2 1 0 0", "cable": "3 m", "input": "1 MΩ"}
    typed = signed.client.put(address(signed), json=fields).json()
    assert typed["fields"] == fields
    assert typed["verdict"] is None
    judge()
    assert signed.client.put(address(signed), json=fields).json()["verdict"] == VERDICT  # nothing changed
    dropped = signed.client.delete(address(signed, "/recordings"), params={"setting": "1"}).json()
    assert dropped["verdict"] is None
    assert by_setting(dropped)["1"]["recording"] is None


def test_a_verdict_on_what_has_changed_meanwhile_is_not_kept(
    signed: Made, monkeypatch: pytest.MonkeyPatch
) -> None:
    def slow(self: Verdicts, text: str, sounds: list[Sound], fields: dict[str, str]) -> dict[str, Any]:
        bring(signed, "3")
        return VERDICT

    bring(signed, "1")
    monkeypatch.setattr(Verdicts, "judge", slow)
    assert signed.client.post(address(signed, "/verdict")).json()["verdict"] is None


def test_what_cannot_be_is_refused_in_words(signed: Made) -> None:
    assert bring(signed, "9").status_code == 422
    assert bring(signed, "1", b"").status_code == 422
    assert signed.client.get(address(signed, "/recordings/sound"), params={"setting": "4"}).status_code == 404
    direct = {"take": TAKE, "way": "direct"}
    for rest, heard in (("/clips/9", direct), ("/clips/1", {**direct, "way": "clean"}),
                        ("/clips/1", {**direct, "take": "another"})):  # fmt: skip
        assert signed.client.get(address(signed, rest), params=heard).status_code == 404
    assert signed.client.get("/api/verifying/none").status_code == 404
    clip = signed.client.get(address(signed, "/clips/1"), params=direct)
    assert clip.headers["content-type"] == "audio/flac"
    open_one = signed.another()
    refused = signed.client.get(address(open_one))
    assert refused.status_code == 409
    assert "no sign-off yet" in refused.text


def test_a_customer_comes_to_none_of_it(signed: Made) -> None:
    guest = again(signed, host="192.0.2.7", key=KEY)
    assert guest.get(address(signed)).status_code in (401, 403)
    guest.app.state.store.close()  # type: ignore[attr-defined]


@pytest.fixture(scope="module")
def sounds(tmp_path_factory: pytest.TempPathFactory) -> tuple[str, list[Sound]]:
    """Two positions of a guitar of three strings."""
    folder = tmp_path_factory.mktemp("sounds")
    text = (DEMO / "twelve.yaml").read_text(encoding="utf-8")
    start, end = text.index("    - {note: E2"), text.index("parts:")
    text = text[:start] + STRINGS + text[end:]
    (folder / "guitar.yaml").write_text(text, encoding="utf-8")
    wiring = load_wiring(folder / "guitar.yaml")
    settings = [settings_of(wiring)[k] for k in (0, 2)]
    found = []
    recordings = Bench(wiring, settings, 3, 340, hand="pick", strums=3).record_all(wiring, 341)
    for k, samples in enumerate(recordings):
        path = folder / f"{k}.wav"
        soundfile.write(path, samples, RATE_HZ, subtype="FLOAT")
        said, flac = _read(path)
        assert np.abs(soundfile.read(io.BytesIO(flac))[0]).max() == pytest.approx(KEPT_PEAK, abs=1e-3)
        assert said["strums"] == 3
        found.append(Sound(path.name, setting_text(wiring, settings[k]), said["peak"], flac))
    return text, found


def test_kept_sounds_are_judged_with_their_true_levels(sounds: tuple[str, list[Sound]]) -> None:
    """What was kept at one peak is brought back to its own: levels differ as they were recorded."""
    text, found = sounds
    record = judge_sounds(text, found, {"cable": "5 m"})
    assert record["verdict"] == "as proposed"
    (pair,) = record["pairs"]
    assert pair["level_db"] == pytest.approx(pair["predicted_level_db"], abs=4.0)
    json.dumps(record)
    with pytest.raises(InputError, match="3 frets from 0 to 24"):
        judge_sounds(text, found, {"frets": "0 0"})


@pytest.mark.long
def test_a_child_reads_a_recording_and_says_what_is_wrong(tmp_path: Path) -> None:
    time_s = np.arange(4 * RATE_HZ) / RATE_HZ
    tone = 0.3 * np.sin(2 * np.pi * 220 * time_s) * np.exp(-2 * (time_s % 1.0))
    held = io.BytesIO()
    soundfile.write(held, tone, RATE_HZ, "PCM_24", format="WAV")
    taken = take_recording(held.getvalue(), tmp_path)
    assert taken.seconds == pytest.approx(4.0)
    assert taken.peak == pytest.approx(0.3, rel=0.02)
    with pytest.raises(InputError, match="not readable as sound"):
        take_recording(b"no sound at all", tmp_path)
