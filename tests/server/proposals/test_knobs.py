"""The customer's live knobs: only those offered, as loud as the clip, within limits."""

from __future__ import annotations

import datetime
import io
import json
import struct
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from proposal_case import TAKE, Made, made
from scipy.signal import lfilter
from tolerances import LIVE_STEPS_OF_16_BITS

from dsp.filters.bank import Bank
from dsp.filters.design import design_bank
from dsp.sound.loudness import OFFSET_LU, LoudnessMeter
from dsp.wiring.model import Wiring
from server.proposals.describe import read_version
from server.web.links import STEMS_SENT, WRONG_LINKS

RATE_HZ = 48_000
QUIET = {"volume": 2.0}
STEP = 1 / 2**15
"""Of 16 bits, full scale 1."""
POWERS_LU = {"as offered": 0.1, "turned": 0.8}
"""Turned, a block near the gates counts or not: in a short decaying note one is a third of a decibel."""


@pytest.fixture(scope="module")
def proposal(tmp_path_factory: pytest.TempPathFactory) -> Made:
    """Make three sounds with their clips, the third with its volume far down."""
    one = made(tmp_path_factory.mktemp("live"))
    items = [{"version": one.version, "position": position} for position in ("1", "4")]
    items.append({"version": one.version, "position": "1", "knobs": QUIET})
    return one.another(items=items).render()


def voice(one: Made, number: int = 1, take: str = TAKE) -> Any:
    """Ask what a page needs to turn the knobs of a sound."""
    return one.client.get(f"{one.link}/live/{number}/voice", params={"take": take})


def stems(one: Made, number: int = 1, take: str = TAKE, part: int = 0, **headers: str) -> Any:
    url = f"{one.link}/live/{number}/stems/{part}"
    return one.client.get(url, params={"take": take}, headers=headers)


def model_head(one: Made, number: int = 1) -> dict[str, Any]:
    content = one.client.get(voice(one, number).json()["model"]["file"]).content
    (length,) = struct.unpack_from("<I", content)
    found: dict[str, Any] = json.loads(content[4 : 4 + length])
    return found


def wiring_of(one: Made) -> Wiring:
    return read_version(one.client.get(f"/api/versions/{one.version}").json()["text"])


def volts(one: Made) -> Any:
    """Return the stems as a page gets them, shape (n_coils, n_samples), volt."""
    told = voice(one).json()["stems"]
    rows = [soundfile.read(io.BytesIO(one.client.get(part["file"]).content))[0] for part in told["files"]]
    return told["gain"] * np.concatenate([row.reshape(len(row), -1) for row in rows], axis=1).T


def loudness_lufs(samples: Any) -> float:
    meter = LoudnessMeter(RATE_HZ)
    meter.add(samples)
    return meter.integrated_lufs()


def filtered(bank: Bank, samples: Any) -> Any:
    """Return stems through a bank, by another program's filter."""
    total = np.zeros(samples.shape[1])
    for coil, stem in enumerate(samples):
        total += lfilter(bank.taps[coil], [1.0], stem)
        for section, (a1, a2) in enumerate(bank.poles):
            total += lfilter(bank.numerators[coil, section], [1.0, a1, a2], stem)
    return total


def test_a_model_has_the_knobs_of_the_item_as_offered(proposal: Made) -> None:
    for number, offered in ((1, {}), (3, QUIET)):
        head = model_head(proposal, number)
        expected = wiring_of(proposal).setting("1", offered, {}).knobs
        assert {one["name"]: one["value"] for one in head["knobs"]} == expected
        assert not any(one["clicks"] for one in head["knobs"])
        assert head["still"] == []
        assert voice(proposal, number).json()["stems"]["name"] == f"1 {TAKE}"
        assert proposal.version not in voice(proposal, number).text
    url = f"{proposal.link}/live/1/model"
    whole = proposal.client.get(url)
    assert len(whole.content) == voice(proposal).json()["model"]["bytes"]
    again = {"If-None-Match": whole.headers["ETag"]}
    assert proposal.client.get(url, headers=again).status_code == 304


def test_the_voice_as_offered_equals_its_clip_sample_by_sample(proposal: Made) -> None:
    """Stems as sent, through the circuit's own filters, with the gain that the page is told."""
    offer = proposal.offer()
    url = offer["items"][0]["clips"][TAKE]["flac"]
    gain = 10 ** (offer["takes"][0]["gain_db"] / 20)
    clip = gain * soundfile.read(io.BytesIO(proposal.client.get(url).content))[0]
    wiring = wiring_of(proposal)
    bank = design_bank(wiring, wiring.setting("1"))
    live = 10 ** (voice(proposal).json()["clip_db"] / 20) * filtered(bank, volts(proposal))[bank.delay :]
    assert np.abs(live - clip[: len(live)]).max() < LIVE_STEPS_OF_16_BITS * STEP


def test_stems_are_those_of_the_bench_in_16_bits(proposal: Made) -> None:
    bench = proposal.client.get("/api/stems", params={"version": proposal.version, "take": TAKE})
    whole = np.frombuffer(bench.content, "<f4").reshape(-1, int(bench.headers["X-Samples"]))
    told, mine = voice(proposal).json()["stems"], volts(proposal)
    assert mine.shape == whole.shape
    assert np.abs(mine - whole).max() <= 0.51 * told["gain"] * STEP
    assert sum(part["bytes"] for part in told["files"]) < len(bench.content) / 4
    sent = stems(proposal)
    assert sent.headers["Content-Type"] == "audio/flac"
    assert len(sent.content) == told["files"][0]["bytes"]
    assert stems(proposal, 2, **{"If-None-Match": sent.headers["ETag"]}).status_code == 304
    assert stems(proposal, part=len(told["files"])).status_code == 422


def test_a_transfer_goes_on_where_it_was_interrupted(proposal: Made) -> None:
    whole = stems(proposal)
    rest = stems(proposal, Range="bytes=5000-")
    assert rest.status_code == 206
    assert rest.content == whole.content[5000:]
    assert rest.headers["Content-Range"] == f"bytes 5000-{len(whole.content) - 1}/{len(whole.content)}"
    for other in ("bytes=5-9", "bytes=999999999-", "pages=1-"):
        answer = stems(proposal, Range=other)
        assert answer.status_code == 200, "all of it"
        assert len(answer.content) == len(whole.content)


def test_the_powers_tell_how_loud_a_setting_is(proposal: Made) -> None:
    wiring, told = wiring_of(proposal), voice(proposal, 2).json()["powers"]
    hz, values = np.array(told["hz"]), np.array(told["values"])
    for knobs in ({}, QUIET, {"tone": 0.0}):
        bank = design_bank(wiring, wiring.setting("4", knobs))
        response = bank.response(hz)
        first, second = np.triu_indices(len(response), 1)
        pairs = response[first] * response[second].conj()
        weights = np.concatenate([np.abs(response) ** 2, pairs.real, -pairs.imag]).T.ravel()
        gain_db = 30.0  # above the absolute gate, as the page plays
        right = loudness_lufs(10 ** (gain_db / 20) * filtered(bank, volts(proposal))) - gain_db
        within = POWERS_LU["turned" if knobs else "as offered"]
        assert OFFSET_LU + 10 * np.log10(weights @ values) == pytest.approx(right, abs=within), knobs


def test_voices_of_other_sounds_and_takes_are_refused(proposal: Made) -> None:
    for number in (0, 4, 99):
        assert voice(proposal, number).status_code == 422
        assert stems(proposal, number).status_code == 422
        assert proposal.client.get(f"{proposal.link}/live/{number}/model").status_code == 422
    for take in ("demo:staccato", "nothing"):
        assert stems(proposal, take=take).status_code == 404
        assert voice(proposal, take=take).status_code == 404


def test_a_sound_without_its_clip_is_not_live_yet(proposal: Made) -> None:
    assert voice(proposal.another()).status_code == 409


def test_a_signature_is_for_the_sound_as_offered(tmp_path: Path) -> None:
    one = made(tmp_path).render()
    today = datetime.datetime.now(datetime.UTC).date().isoformat()
    signed = {"wiring": 1, "name": "A", "date": today, "confirm": True}
    assert one.client.post(f"{one.link}/signoff", json=signed).status_code == 201
    assert one.client.get(f"{one.link}/record").json()["offered"][0]["knobs"]["tone"] == 10.0


@pytest.mark.parametrize("how", ["expired", "revoked"])
def test_a_closed_link_plays_nothing(tmp_path: Path, how: str) -> None:
    one = made(tmp_path).render()
    if how == "expired":
        with one.store.write() as db:
            db.execute("UPDATE proposals SET expires = '2020-01-01T00:00:00.000Z' WHERE id = ?", (one.id,))
    else:
        one.client.post(f"/api/proposals/{one.id}/revoke")
    model = one.client.get(f"{one.link}/live/1/model")
    for answer in (voice(one), stems(one), model):
        assert answer.status_code == 410
        assert "ask the workshop" in answer.text


@pytest.mark.long
def test_wrong_links_and_floods_are_refused(tmp_path: Path) -> None:
    one = made(tmp_path)
    answers = [stems(one, take="nothing").status_code for _ in range(STEMS_SENT + 1)]
    assert answers[-1] == 429
    assert set(answers[:-1]) == {404}
    wrong = [one.client.get("/api/p/nothing/live/1/model").status_code for _ in range(WRONG_LINKS + 1)]
    assert wrong == [404] * WRONG_LINKS + [429]
