"""Proposals heard through the chain: clips of each way, their loudness, live knobs, what is signed for."""

from __future__ import annotations

import contextlib
import io
import json
import os
import re
import shutil
import sqlite3
import subprocess
import zipfile
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import tolerances as tol
from answer_case import seal, send
from proposal_case import TAKE, Made, made, today
from server_client import client_of
from talk_case import said, wish

from dsp.chain.run import drive_gain, respond_small
from dsp.chain.ways import WAYS
from dsp.filters.design import design_bank
from dsp.live.model import model_frequencies
from dsp.sound.live_level import TARGET_LUFS
from dsp.sound.loudness import OFFSET_LU
from server.answers import views as answers
from server.answers.taking_in import take_in
from server.bench.hearing import played_chain
from server.clips.run import make_chain
from server.database import store as database
from server.database.store import FILE, Store, migrations
from server.proposals import signoffs
from server.proposals.clip_files import clip_path
from server.proposals.describe import read_version

NAMES = ["clean", "direct", "driven"]
ESTIMATE_LU = 0.4
"""Of a short take: a gating block more or less counts for as much."""
SECOND = [{"number": 1, "way": "clean"}, {"number": 2, "way": "clean"}, {"number": 2, "way": "direct"}]


@pytest.fixture(scope="module")
def offered(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Made]:
    """Make a neck and a bridge position to be heard in three ways, rendered."""
    folder = tmp_path_factory.mktemp("ways")
    one = made(folder)
    items = [{"version": one.version, "position": position} for position in ("1", "6")]
    through = one.another(items=items, ways=NAMES).render()
    through.store.close()
    return folder, through


@pytest.fixture
def proposal(offered: tuple[Path, Made], tmp_path: Path) -> Made:
    folder, one = offered
    shutil.copytree(folder / "data", tmp_path / "data")
    return Made(
        client_of(tmp_path / "data"), tmp_path / "data", one.commission, one.version, one.id, one.token
    )


@pytest.fixture(scope="module")
def still(offered: tuple[Path, Made]) -> Made:
    """Look at it without a change."""
    return offered[1]


def file_of(one: Made, url: str) -> Path:
    sha256, _, ending = url.rpartition("/")[2].partition(".")
    return clip_path(one.data, sha256, ending)


def ffmpeg_lufs(path: Path) -> float:
    """Return integrated loudness as ffmpeg's ebur128 filter prints it (EBU R 128)."""
    words = ["ffmpeg", "-nostdin", "-hide_banner", "-i", str(path), "-af", "ebur128", "-f", "null", "-"]
    printed = subprocess.run(words, capture_output=True, text=True, check=True).stderr
    return float(re.findall(r"I:\s+(-?[\d.]+) LUFS", printed)[-1])


def voice(one: Made, way: str, number: int = 1) -> Any:
    return one.client.get(f"{one.link}/live/{number}/voice", params={"take": TAKE, "way": way})


def sign(one: Made, status: int = 201, **more: Any) -> Any:
    body = {"wiring": 1, "name": "R. Winter", "date": today(), "confirm": True, **more}
    answer = one.client.post(f"{one.link}/signoff", json=body)
    assert answer.status_code == status, answer.text
    return answer.json()


# --- What is offered


def test_the_way_heard_first_comes_first_and_each_has_its_own_clips(still: Made) -> None:
    offer = still.offer()
    assert [one["name"] for one in offer["ways"]] == NAMES == still.bench()["ways"]
    assert [one["about"] for one in offer["ways"]] == [WAYS[name].about for name in NAMES]
    first = offer["heard"]["clean"]
    assert {str(item["number"]): item["clips"] for item in offer["items"]} == first["clips"]
    assert {take["id"]: {key: take[key] for key in ("gain_db", "room_db")} for take in offer["takes"]} == (
        first["takes"]
    )
    files = [clip[TAKE]["flac"] for heard in offer["heard"].values() for clip in heard["clips"].values()]
    assert len(set(files)) == 6
    assert all(still.client.get(file).status_code == 200 for file in files)
    records = still.client.get(f"/api/proposals/{still.id}/clips").json()
    assert [one["through"] for one in records] == [*NAMES, *NAMES]


def test_a_proposal_without_a_word_on_ways_is_heard_direct(tmp_path: Path) -> None:
    one = made(tmp_path)
    assert one.bench()["ways"] == ["direct"]
    for wrong in (["clean", "clean"], ["loud"], []):
        body = {"title": "x", "items": [{"version": one.version, "position": "1"}], "takes": [TAKE]}
        url = f"/api/commissions/{one.commission}/proposals"
        assert one.client.post(url, json={**body, "ways": wrong}).status_code == 422, wrong


@pytest.mark.reference
def test_every_sound_of_every_way_plays_at_one_loudness(still: Made) -> None:
    """By ffmpeg; what is true differs between positions, and otherwise in each way."""
    if not shutil.which("ffmpeg"):
        if os.environ.get("CI") == "true":
            pytest.fail("ffmpeg is missing")
        pytest.skip("ffmpeg is missing")
    apart = {}
    for way, heard in still.offer()["heard"].items():
        gain_db, clips = heard["takes"][TAKE]["gain_db"], [one[TAKE] for one in heard["clips"].values()]
        found = [ffmpeg_lufs(file_of(still, clip["flac"])) + gain_db for clip in clips]
        played = [lufs + clip["even_gain_db"] for lufs, clip in zip(found, clips, strict=True)]
        print(f"{way}: {played} LUFS")
        assert played == pytest.approx([TARGET_LUFS] * 2, abs=tol.LISTING_LU + tol.PRINTED_LU)
        true = [lufs + clip["wired_gain_db"] for lufs, clip in zip(found, clips, strict=True)]
        apart[way] = true[1] - true[0]
    assert apart["direct"] < apart["clean"] - 1.0 < apart["driven"] - 1.0, "an amplifier lifts the bridge"


# --- Live knobs: before the chain


def test_a_linear_way_is_a_response_behind_the_model(still: Made) -> None:
    direct, clean = voice(still, "direct").json(), voice(still, "clean").json()
    assert not {"behind", "chain"} & direct.keys()
    hz = model_frequencies()
    real, imag = np.split(np.array(clean["behind"]), 2)
    assert real + 1j * imag == pytest.approx(respond_small(WAYS["clean"], hz), rel=1e-6)
    assert (clean["model"], clean["stems"]) == (direct["model"], direct["stems"])
    assert still.client.get(f"{still.link}/live/1/voice", params={"take": TAKE}).json() == clean
    assert voice(still, "edge").status_code == 422


@pytest.mark.parametrize("way", NAMES)
def test_a_turned_sound_is_held_to_the_loudness_of_the_way(still: Made, way: str) -> None:
    """The page sums the powers with the guitar's own response: as offered it finds the clip's loudness."""
    told = voice(still, way, 2).json()
    hz, values = np.array(told["powers"]["hz"]), np.array(told["powers"]["values"])
    with still.store.read() as db:
        text = db.execute("SELECT text FROM versions WHERE id = ?", (still.version,)).fetchone()["text"]
    wiring = read_version(text)
    response = design_bank(wiring, wiring.setting("6")).response(hz)
    first, second = np.triu_indices(len(response), 1)
    pairs = response[first] * response[second].conj()
    weights = np.concatenate([np.abs(response) ** 2, pairs.real, -pairs.imag]).T.ravel()
    found = OFFSET_LU + 10 * np.log10(weights @ values) + told["clip_db"]
    assert found == pytest.approx(TARGET_LUFS, abs=ESTIMATE_LU)


def test_a_way_that_bends_is_sent_whole(still: Made) -> None:
    chain = voice(still, "driven").json()["chain"]
    assert (chain["way"]["name"], chain["way"]["oversampling"]) == ("driven", 8)
    assert set(chain) == {"rate_hz", "stack", "speaker", "soft", "way"}
    assert played_chain() is played_chain(), "its filters are designed once"


# --- What is signed for


def test_the_record_says_in_which_ways_it_was_heard(proposal: Made) -> None:
    """What a browser kept wrongly, or of another proposal, is left out and stops no signature."""
    not_offered = [{"number": 1, "way": "edge"}, {"number": 3, "way": "clean"}]
    strange = [{"number": None, "way": "clean"}, {"number": 1, "way": "loud"}, {"number": 2}, "1 direct", 7]
    sign(proposal, heard=[*not_offered, *strange, *SECOND])
    record = proposal.client.get(f"{proposal.link}/record").json()
    assert (record["format"], record["ways"]) == (5, NAMES)
    assert record["heard"] == {"1": ["clean"], "2": ["clean", "direct"]}
    assert [(one["number"], one["way"]) for one in record["clips"]] == [
        (number, way) for number in (1, 2) for way in NAMES
    ]
    assert signoffs.verify(proposal.store, proposal.data, proposal.id) == []
    receipt = proposal.client.get(f"{proposal.link}/receipt").text
    assert "How it was heard" in receipt
    assert "<td>clean, direct</td>" in receipt
    driven = next(one for one in record["clips"] if one["way"] == "driven")
    clip_path(proposal.data, driven["flac_sha256"], "flac").unlink()
    (problem,) = signoffs.verify(proposal.store, proposal.data, proposal.id)
    assert "missing" in problem


def test_a_way_that_is_gone_from_the_offer_is_found(proposal: Made) -> None:
    sign(proposal)
    with proposal.store.write() as db:
        db.execute("PRAGMA defer_foreign_keys = ON")
        for trigger in ("proposal_ways_stay", "clips_stay"):
            db.execute(f"DROP TRIGGER {trigger}")
        for table in ("proposal_ways", "proposal_clips"):
            db.execute(f"UPDATE {table} SET way = 'edge' WHERE way = 'driven' AND proposal_id = ?",
                       (proposal.id,))  # fmt: skip
    (problem,) = signoffs.verify(proposal.store, proposal.data, proposal.id)
    assert "ways" in problem


def test_a_file_has_the_first_way_alone_and_its_answer_signs_for_that(proposal: Made) -> None:
    sent = send(proposal)
    assert (sent.manifest["format"], sent.manifest["way"]) == (3, "clean")
    assert len(sent.manifest["clips"]) == 2
    take_in(proposal.store, seal(sent, fav=[1], notes=[], wish=[], heard=[[2, TAKE]]))
    with proposal.store.read() as db:
        record = signoffs.read_record(db, proposal.id)
    assert record is not None
    assert (record["format"], record["ways"]) == (5, ["clean"])
    assert record["heard"] == {"1": [], "2": ["clean"]}
    assert [one["way"] for one in record["clips"]] == ["clean", "clean"]
    assert answers.verify(proposal.store, proposal.data, proposal.id) == []


def test_the_page_of_a_file_says_how_it_is_heard(still: Made) -> None:
    page = still.client.post(f"/api/proposals/{still.id}/bundle/file").text
    found = re.search(r'<script type="application/json" id="sent">(.*?)</script>', page)
    assert found
    told = json.loads(found[1])
    assert [one["name"] for one in told["offer"]["ways"]] == ["clean"]
    assert "heard" not in told["offer"]
    assert list(told["voices"]) == [TAKE]
    first = still.offer()["heard"]["clean"]["clips"]["1"][TAKE]["mp3"].rpartition("/")[2]
    assert told["offer"]["items"][0]["clips"][TAKE]["mp3"][:16] == first[:16]
    zipped = still.client.post(f"/api/proposals/{still.id}/bundle/zip").content
    with zipfile.ZipFile(io.BytesIO(zipped)) as folder:
        size = len(folder.read("index.html"))
    print(f"the folder's page: {size} characters")
    assert size < 100_000  # as of a proposal that is heard direct: two seconds at 400 kbit/s


def test_a_file_through_a_bent_way_says_that_its_knobs_do_not_turn(still: Made) -> None:
    items = [{"version": still.version, "position": "1"}]
    one = still.another(items=items, ways=["edge"]).render()
    saved = one.client.post(f"/api/proposals/{one.id}/bundle/file")
    assert "through edge they turn by the link alone" in saved.headers["X-Note"].replace("%20", " ")
    assert '"voices":{}' in saved.text


# --- A wish becomes a sound in every way


def test_a_variant_is_rendered_in_every_way(proposal: Made) -> None:
    new = wish(2, volume=6.0)
    proposal.client.post(f"{proposal.link}/operations", json=said(new))
    proposal.client.post(f"/api/proposals/{proposal.id}/variants", json={"wish": new["id"]})
    proposal.render()
    offer = proposal.offer()
    assert {way: len(heard["clips"]) for way, heard in offer["heard"].items()} == dict.fromkeys(NAMES, 3)
    for way, heard in offer["heard"].items():
        before, after = (heard["clips"][number][TAKE] for number in ("2", "3"))
        assert before["even_gain_db"] == after["even_gain_db"] == 0.0, way
        assert after["wired_gain_db"] < before["wired_gain_db"], f"{way}: turned down"


def make_older(data: Path, before_ways: int) -> None:
    """Write the database anew as the program of so many migrations made it, keys and triggers and all."""
    new, older = data / FILE, data / "older"
    every = migrations()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(database, "migrations", lambda: every[:before_ways])
        Store(older).close()
    with contextlib.closing(sqlite3.connect(older / FILE, isolation_level=None)) as db:
        db.execute("ATTACH ? AS new", (str(new),))
        named = "SELECT name FROM sqlite_master WHERE type = 'table' AND name != 'schema_version'"
        for (table,) in db.execute(named).fetchall():
            columns = ", ".join(row[1] for row in db.execute(f"PRAGMA main.table_info({table})"))
            # its own first rows, as the workshop's, come again
            db.execute(f"DELETE FROM main.{table}")
            db.execute(f"INSERT INTO main.{table} ({columns}) SELECT {columns} FROM new.{table}")
        assert not db.execute("PRAGMA main.foreign_key_check").fetchall()
    for path in data.glob(f"{FILE}*"):
        path.unlink()
    (older / FILE).rename(new)


def test_what_was_made_before_ways_stays_direct(tmp_path: Path) -> None:
    """A database before ways: its clips and its sign-off stay as they were."""
    one = made(tmp_path).render()
    sign(one)
    with one.store.read() as db:
        rows = db.execute("SELECT * FROM proposal_clips").fetchall()
    one.store.close()
    make_older(one.data, before_ways=16)
    again = Store(one.data)
    with again.read() as db:
        found = db.execute("SELECT * FROM proposal_clips").fetchall()
    assert [tuple(row) for row in found] == [tuple(row) for row in rows]
    assert {row["way"] for row in found} == {"direct"}
    assert signoffs.verify(again, one.data, one.id) == []
    again.close()


def test_a_variant_is_driven_as_little_as_the_sounds_before_it(
    still: Made, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Turned down, it alone could be driven harder; then nobody could compare them."""
    with monkeypatch.context() as patch:
        patch.setattr("dsp.chain.run.MOST_DRIVE", {8: 0.3})
        patch.setattr("server.clips.run.make_chain", make_chain.__wrapped__)
        one = still.another(items=[{"version": still.version, "position": "1"}], ways=["driven"]).render()
        new = wish(1, volume=5.0)
        one.client.post(f"{one.link}/operations", json=said(new))
        one.client.post(f"/api/proposals/{one.id}/variants", json={"wish": new["id"]})
        one.render()
    records = one.client.get(f"/api/proposals/{one.id}/clips").json()
    first, variant = (record["drive_lowered_db"] for record in records)
    assert first > 3.0
    assert variant == first
    assert voice(one, "driven").json()["chain"]["way"]["gain"] == pytest.approx(
        drive_gain(WAYS["driven"], first)
    )
