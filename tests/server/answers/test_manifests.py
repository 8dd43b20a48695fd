"""Manifests: what was sent is kept once, for good, with a secret of its own."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest
from answer_case import with_clips_of
from proposal_case import Made, made

from server.answers.manifests import Sent, find_manifest, keep_manifest, manifest_problem, newer_offer
from server.database.store import FILE
from server.proposals import work
from server.proposals.pictures import keep_pictures
from server.proposals.queue import items_to_render
from server.proposals.signoffs import STATEMENTS, canonical, fingerprint
from server.refusals import Conflict


def keep(one: Made, page: str = "1", **stems: str) -> Sent:
    return keep_manifest(one.store, one.id, page=page, stems=stems, models={"live": "a" * 64})


@pytest.fixture(scope="module")
def proposal(tmp_path_factory: pytest.TempPathFactory) -> Made:
    return made(tmp_path_factory.mktemp("sent")).render()


def test_a_manifest_names_all_that_was_sent(proposal: Made) -> None:
    sent, offer = keep(proposal, e_slide="b" * 64), proposal.offer()
    assert fingerprint(canonical(sent.manifest)) == sent.sha256
    assert len(sent.secret) == 32
    assert sent.manifest["title"] == offer["title"]
    assert sent.manifest["statement"] == STATEMENTS["wiring"] == offer["statement"]
    (wiring,) = sent.manifest["wirings"]
    assert {key: wiring[key] for key in offer["wirings"][0]} == offer["wirings"][0]
    assert [one["label"] for one in sent.manifest["items"]] == [one["label"] for one in offer["items"]]
    files = {clip[ending].rpartition("/")[2] for item in offer["items"] for clip in item["clips"].values()
             for ending in ("flac", "mp3")}  # fmt: skip
    kept = {f"{clip[f'{ending}_sha256']}.{ending}" for clip in sent.manifest["clips"]
            for ending in ("flac", "mp3")}  # fmt: skip
    assert kept == files
    assert sent.manifest["stems"] == {"e_slide": "b" * 64}
    assert sent.manifest["models"] == {"live": "a" * 64}


def test_the_same_content_is_one_manifest_with_one_secret(proposal: Made) -> None:
    first, again, other = keep(proposal), keep(proposal), keep(proposal, page="2")
    assert again == first
    assert other.sha256 != first.sha256
    assert other.secret != first.secret


def test_another_file_of_the_same_offer_makes_no_older_one(proposal: Made) -> None:
    first, _ = keep(proposal, page="3"), keep(proposal, page="4", another="c" * 64)
    with proposal.store.read() as db:
        assert newer_offer(db, first) is None


def test_pictures_drawn_later_make_an_older_offer(proposal: Made, monkeypatch: pytest.MonkeyPatch) -> None:
    with monkeypatch.context() as patch:
        patch.setattr(work, "keep_pictures", lambda *_: None)
        one = proposal.another(items=[{"version": proposal.version, "position": "2"}]).render()
    first = keep(one)
    keep_pictures(one.store, one.id, items_to_render(one.store, one.id))
    later = keep(one)
    with one.store.read() as db:
        assert newer_offer(db, first) == later.created
        assert newer_offer(db, later) is None


def test_a_later_proposal_makes_an_older_offer_until_it_is_taken_back(proposal: Made) -> None:
    one = with_clips_of(proposal, proposal.another())
    sent, later = keep(one), one.another()
    with one.store.read() as db:
        assert newer_offer(db, sent) == later.bench()["created"]
    one.client.post(f"/api/proposals/{later.id}/revoke")
    with one.store.read() as db:
        assert newer_offer(db, sent) is None


def test_nothing_is_sent_before_its_clips_are_ready(proposal: Made) -> None:
    with pytest.raises(Conflict, match="still being prepared"):
        keep(proposal.another())


def test_a_manifest_stays_and_a_change_in_spite_of_that_is_found(tmp_path: Path) -> None:
    one = made(tmp_path).render()
    sent = keep(one)
    db = sqlite3.connect(one.data / FILE)
    for change in ("UPDATE manifests SET manifest = ''", "DELETE FROM manifests"):
        with pytest.raises(sqlite3.IntegrityError):
            db.execute(change)
    db.execute("DROP TRIGGER manifests_stay")
    db.execute("UPDATE manifests SET manifest = replace(manifest, 'baritone', 'soprano')")
    db.commit()
    db.close()
    with one.store.read() as read:
        assert manifest_problem(read, sent.sha256) == "what was sent is another"
        assert find_manifest(read, "0" * 64) is None
        assert manifest_problem(read, "0" * 64) == "what was sent is gone"
