"""Sign-offs: one per proposal, permanent; the record's content; what `verify` detects."""

from __future__ import annotations

import datetime
import hashlib
import json
import shutil
import sqlite3
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hostile import KEPT
from proposal_case import TAKE, Made, again, made
from server_client import client_of

from server.database.store import FILE, Store
from server.proposals import signoffs, work
from server.proposals.clip_files import clip_path
from server.proposals.signoffs import (
    BY_LINK,
    STATEMENTS,
    Choice,
    canonical,
    fingerprint,
    insert_signoff,
    verify,
)

TODAY = datetime.datetime.now(datetime.UTC).date()
YESTERDAY = (TODAY - datetime.timedelta(days=1)).isoformat()
SIGNED = {"wiring": 1, "name": "R. Winter", "date": TODAY.isoformat(), "confirm": True}

OVER = "expires = '2020-01-01T00:00:00.000Z' WHERE id = ?"


def sign(one: Made, **change: Any) -> Any:
    return one.client.post(f"{one.link}/signoff", json={**SIGNED, **change})


@pytest.fixture(scope="module")
def workshop(tmp_path_factory: pytest.TempPathFactory) -> Made:
    """Make a commission for many proposals; its own is never signed."""
    return made(tmp_path_factory.mktemp("workshop")).render()


@pytest.fixture
def proposal(workshop: Made) -> Made:
    return workshop.another().render()


@pytest.fixture(scope="module")
def signed_folder(tmp_path_factory: pytest.TempPathFactory) -> tuple[Made, Path]:
    """Sign two proposals in turn, for tests to copy and tamper with."""
    folder = tmp_path_factory.mktemp("signed")
    first = made(folder)
    second = first.another().render()
    for one in (first, second):
        assert sign(one).status_code == 201
    first.store.close()
    return first, folder


@pytest.fixture
def signed(signed_folder: tuple[Made, Path], tmp_path: Path) -> Made:
    first, folder = signed_folder
    shutil.copytree(folder / "data", tmp_path / "data")
    data = tmp_path / "data"
    return Made(client_of(data), data, first.commission, first.version, first.id, first.token)


# --- Signing


def test_a_sign_off_is_seen_by_both_at_once(proposal: Made) -> None:
    after = proposal.bench()["after"]
    answer = sign(proposal)
    assert answer.status_code == 201, answer.text
    signed_off = answer.json()
    assert (signed_off["number"], signed_off["name"], signed_off["date"]) == (
        1,
        "R. Winter",
        TODAY.isoformat(),
    )
    assert proposal.offer()["signoff"] == signed_off
    bench = proposal.bench()
    assert bench["state"] == "signed"
    assert bench["signoff"]["sha256"] == signed_off["sha256"]
    assert bench["signoff"]["version"] == proposal.version
    events = proposal.client.get(f"/api/proposals/{proposal.id}/events", params={"after": after})
    assert events.json()["changed"] is True


def test_the_record_names_wiring_and_clips_by_their_content(proposal: Made) -> None:
    signed_off = sign(proposal).json()
    answer = proposal.client.get(f"{proposal.link}/record")
    assert "attachment" in answer.headers["content-disposition"]
    assert hashlib.sha256(answer.content).hexdigest() == signed_off["sha256"]
    record = json.loads(answer.content)
    assert canonical(record).encode() == answer.content
    text = proposal.client.get(f"/api/versions/{proposal.version}").json()["text"]
    assert record["chosen"]["text_sha256"] == hashlib.sha256(text.encode()).hexdigest()
    assert (record["chosen"]["number"], record["chosen"]["sounds"]) == (1, [1, 2, 3])
    assert record["wirings"] == [record["chosen"]]
    assert [one["number"] for one in record["offered"]] == [1, 2, 3]
    assert record["offered"][1]["position"] == "2"
    assert record["offered"][1]["knobs"] == {"volume": 10.0, "tone": 10.0}
    assert record["statement"] == STATEMENTS["wiring"] == proposal.offer()["statement"]
    clips = {item["number"]: item["clips"][TAKE] for item in proposal.offer()["items"]}
    assert record["clips"] == [
        {"number": number, "take": TAKE, "wired_gain_db": clip["wired_gain_db"], **{
            f"{ending}_sha256": hashlib.sha256(proposal.client.get(clip[ending]).content).hexdigest()
            for ending in ("flac", "mp3")
        }}
        for number, clip in clips.items()
    ]  # fmt: skip


def test_the_record_names_the_pictures_that_were_shown(proposal: Made) -> None:
    """The customer agrees to what is shown: it is a file of its own, and no later program changes it."""
    assert sign(proposal).status_code == 201
    record = json.loads(proposal.client.get(f"{proposal.link}/record").content)
    shown = {str(item["number"]): item["picture"] for item in proposal.offer()["items"]}
    files = {number: proposal.client.get(picture["file"]) for number, picture in shown.items()}
    assert record["pictures"] == {
        number: hashlib.sha256(file.content).hexdigest() for number, file in files.items()
    }
    assert len(set(record["pictures"].values())) == 3, "another position lights another path"
    assert (record["format"], record["via"]) == (4, "link")
    assert "What sounds: neck a, neck b." in shown["1"]["words"]
    text = files["1"].text
    assert files["1"].headers["content-type"].startswith("image/svg+xml")
    assert "sandbox" in files["1"].headers["content-security-policy"]
    assert "coil heard" in text
    assert ">A1<" not in text, "no lug names"


def test_a_picture_that_changed_after_the_signature_is_detected(signed: Made) -> None:
    sha256 = signed.offer()["items"][0]["picture"]["file"].rpartition("/")[2].removesuffix(".svg")
    path = clip_path(signed.data, sha256, "svg")
    path.write_text(path.read_text(encoding="utf-8").replace("coil heard", "coil hangs"), encoding="utf-8")
    assert verify(signed.store, signed.data, signed.id) == [f"{path.name}: the file's content is another"]


def test_a_record_that_does_not_say_how_it_came_still_holds(
    workshop: Made, monkeypatch: pytest.MonkeyPatch
) -> None:
    one = workshop.another(items=[{"version": workshop.version, "position": "2"}]).render()
    sign_for_a_sound(one, monkeypatch, 2, {})
    assert "via" not in json.loads(one.client.get(f"{one.link}/record").content)
    assert one.client.get(f"/api/proposals/{one.id}/verify").json() == {"holds": True, "problems": []}


def test_a_record_of_the_time_before_pictures_still_holds(
    workshop: Made, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(work, "keep_pictures", lambda *_: None)
    one = workshop.another(items=[{"version": workshop.version, "position": "2"}]).render()
    assert one.offer()["items"][0]["picture"] is None
    real = signoffs._record
    monkeypatch.setattr(
        signoffs, "_record", lambda *given: {k: v for k, v in real(*given).items() if k != "pictures"}
    )
    sign_for_a_sound(one, monkeypatch, 1, {})
    assert verify(one.store, one.data, one.id) == []


def test_a_record_for_one_sound_still_holds(workshop: Made, monkeypatch: pytest.MonkeyPatch) -> None:
    one = workshop.another().render()
    sign_for_a_sound(one, monkeypatch, 3, BY_LINK, number=2)
    assert verify(one.store, one.data, one.id) == []
    label = one.offer()["items"][1]["label"]
    assert [one.offer()["signoff"][key] for key in ("of", "number", "label")] == ["sound", 2, label]
    assert json.loads(one.client.get(f"{one.link}/record").content)["chosen"]["position"] == "2"


def sign_for_a_sound(
    one: Made, monkeypatch: pytest.MonkeyPatch, version: int, way: dict[str, str], number: int = 1
) -> None:
    """Sign as was done before wirings were signed for, by the rules of a format."""
    monkeypatch.setattr(signoffs, "FORMATS", {"sound": version})
    with one.store.write() as db:
        insert_signoff(db, one.id, Choice("sound", number), "R. Winter", TODAY.isoformat(), way)


def test_a_second_sign_off_is_refused_and_changes_nothing(proposal: Made) -> None:
    first = sign(proposal).json()
    for change in ({"date": YESTERDAY}, {"name": "Somebody else"}):
        answer = sign(proposal, **change)
        assert answer.status_code == 409
        assert "R. Winter" in answer.json()["problems"][0]["got"]
    assert proposal.offer()["signoff"] == first
    assert sign(proposal).json() == first  # the same again, as after a lost answer
    with proposal.store.read() as db:
        rows = db.execute("SELECT 1 FROM signoffs WHERE proposal_id = ?", (proposal.id,)).fetchall()
        assert len(rows) == 1


@pytest.mark.parametrize(
    ("change", "where"),
    [
        ({"wiring": 2}, "wiring"),
        ({"name": "  "}, "name"),
        ({"name": "a\nb"}, "name"),
        ({"name": "a" * 121}, "name"),
        ({"date": "12 March"}, "date"),
        ({"date": "2026-02-30"}, "date"),
        ({"date": (TODAY + datetime.timedelta(days=9)).isoformat()}, "date"),
        ({"date": (TODAY - datetime.timedelta(days=9)).isoformat()}, "date"),
        ({"confirm": False}, "confirm"),
        ({"confirm": "true"}, "confirm"),
        ({"more": 1}, "more"),
    ],
)
def test_bodies_that_are_not_sign_offs_are_refused(
    workshop: Made, change: dict[str, Any], where: str
) -> None:
    one = workshop
    answer = sign(one, **change)
    assert answer.status_code == 422
    assert [problem["where"] for problem in answer.json()["problems"]] == [where]
    assert one.offer()["signoff"] is None


def test_nobody_signs_before_the_clips_are_ready(tmp_path: Path) -> None:
    one = made(tmp_path)
    assert sign(one).status_code == 409
    one.render()
    assert sign(one).status_code == 201


def test_a_closed_link_is_not_signed(proposal: Made) -> None:
    proposal.client.post(f"/api/proposals/{proposal.id}/revoke")
    assert sign(proposal).status_code == 410
    with proposal.store.write() as db:
        db.execute(f"UPDATE proposals SET revoked = NULL, {OVER}", (proposal.id,))
    assert sign(proposal).status_code == 410
    assert proposal.bench()["signoff"] is None


def test_a_signed_proposal_is_shown_beyond_its_time(proposal: Made) -> None:
    sign(proposal)
    with proposal.store.write() as db:
        db.execute(f"UPDATE proposals SET {OVER}", (proposal.id,))
    assert proposal.offer()["signoff"]["of"] == "wiring"
    proposal.client.post(f"/api/proposals/{proposal.id}/revoke")
    assert proposal.client.get(proposal.link).status_code == 410
    assert proposal.bench()["signoff"]["number"] == 1  # the bench has it whatever happens to the link


@pytest.mark.parametrize("name", [text for text in KEPT.values() if len(text) <= 120])
def test_names_are_kept_as_typed(workshop: Made, name: str) -> None:
    one = workshop.another(items=[{"version": workshop.version, "position": "2"}]).render()
    assert sign(one, name=name).json()["name"] == name.strip()
    assert one.client.get(f"/api/proposals/{one.id}/verify").json() == {"holds": True, "problems": []}


def test_later_versions_leave_the_record_alone(proposal: Made) -> None:
    before = sign(proposal).json()
    wiring = proposal.client.get(f"/api/versions/{proposal.version}").json()["wiring_id"]
    edit = {"path": ["parts", "tone_cap", "capacitance"], "value": "33 nF"}
    body = {"base": proposal.version, "edits": [edit]}
    assert proposal.client.post(f"/api/wirings/{wiring}/versions", json=body).status_code == 201
    assert proposal.offer()["signoff"] == before
    assert proposal.client.get(f"/api/proposals/{proposal.id}/verify").json()["holds"] is True


# --- Permanence


@pytest.mark.parametrize(
    "change",
    [
        "UPDATE signoffs SET name = 'x'",
        "UPDATE signoffs SET record = '{}', sha256 = ''",
        "DELETE FROM signoffs",
        "REPLACE INTO signoffs SELECT * FROM signoffs",
        "UPDATE OR REPLACE signoffs SET number = 2",
        "UPDATE versions SET text = 'x'",
        "UPDATE proposal_wirings SET price = 'x'",
        "DELETE FROM proposal_wirings",
        "UPDATE proposal_pictures SET sha256 = 'x'",
        "DELETE FROM proposal_pictures",
    ],
)
def test_triggers_protect_signed_rows(signed: Made, change: str) -> None:
    with pytest.raises(sqlite3.IntegrityError), signed.store.write() as db:
        db.execute(change)
    assert verify(signed.store, signed.data, signed.id) == []


def meddle(one: Made, *changes: str) -> None:
    """Change the database's file from outside, without its triggers."""
    one.store.close()
    with sqlite3.connect(one.data / FILE) as db:
        for (trigger,) in db.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            db.execute(f"DROP TRIGGER {trigger}")
        for change in changes:
            assert db.execute(change).rowcount > 0, change
    db.close()


RECORD = "UPDATE signoffs SET record = replace(record, 'R. Winter', 'R. Summer')"
MEDDLED = {
    "name": ("UPDATE signoffs SET name = 'R. Summer'", "name is 'R. Summer'"),
    "date": ("UPDATE signoffs SET date = '2020-01-01'", "date is '2020-01-01'"),
    "time": ("UPDATE signoffs SET signed = '2020-01-01'", "signed is '2020-01-01'"),
    "choice": ("UPDATE signoffs SET number = 2", "number is '2'"),
    "wiring chosen": ("UPDATE signoffs SET wiring = NULL", "wiring is 'None'"),
    "price": ("UPDATE proposal_wirings SET price = '9'", "what was offered is no longer"),
    "parts": ("UPDATE proposal_wirings SET bought = '[]'", "what was offered is no longer"),
    "version": ("UPDATE signoffs SET version_sha256 = 'x'", "version_sha256 is 'x'"),
    "record": (RECORD, "no longer the one its fingerprint"),
    "fingerprint": (f"UPDATE signoffs SET sha256 = '{'0' * 64}'", "no longer the one its fingerprint"),
    "record is no record": ("UPDATE signoffs SET record = 'x'", "no longer the one its fingerprint"),
    "wiring": ("UPDATE versions SET text = replace(text, 'nF', 'pF')", "the wiring of 1 is no longer"),
    "setting": ("UPDATE proposal_items SET knobs = '{}'", "what was offered is no longer"),
    "label": ("UPDATE proposal_items SET label = 'x'", "what was offered is no longer"),
    "picture": ("UPDATE proposal_pictures SET sha256 = 'x'", "the pictures shown are no longer those"),
    "order": ("UPDATE signoffs SET previous = 'x'", "previous is 'x'"),
}


@pytest.mark.parametrize("change", MEDDLED)
def test_tampering_with_the_file_is_detected(signed: Made, change: str) -> None:
    assert verify(signed.store, signed.data, signed.id) == []
    sql, message = MEDDLED[change]
    meddle(signed, sql)
    problems = verify(Store(signed.data), signed.data, signed.id)
    assert any(message in problem for problem in problems), problems
    answer = again(signed).get(f"/api/proposals/{signed.id}/verify").json()
    assert answer == {"holds": False, "problems": problems}


def test_a_deleted_record_is_detected_by_the_next(signed: Made) -> None:
    with signed.store.read() as db:
        second = db.execute("SELECT proposal_id FROM signoffs WHERE previous != '' LIMIT 1").fetchone()[0]
    assert verify(signed.store, signed.data, second) == []
    meddle(signed, f"DELETE FROM signoffs WHERE proposal_id = '{signed.id}'")
    assert verify(Store(signed.data), signed.data, second) == [
        "the sign-off before this one is another, or gone"
    ]


def forge(one: Made) -> str:
    """Rewrite the first record with a matching fingerprint, and return that fingerprint."""
    with one.store.read() as db:
        row = db.execute("SELECT * FROM signoffs WHERE proposal_id = ?", (one.id,)).fetchone()
    record = canonical({**json.loads(row["record"]), "name": "R. Summer"})
    sha256 = fingerprint(record)
    meddle(one, f"UPDATE signoffs SET name = 'R. Summer', record = '{record.replace(chr(39), chr(39) * 2)}',"
                f" sha256 = '{sha256}' WHERE proposal_id = '{one.id}'")  # fmt: skip
    return sha256


def test_a_forged_record_is_detected_by_the_next(signed: Made) -> None:
    forge(signed)
    problems = verify(Store(signed.data), signed.data, signed.id)
    assert problems == ["the sign-off after this one follows another record"]


def test_a_forged_last_record_is_detected_by_the_customers_fingerprint_alone(tmp_path: Path) -> None:
    """A file cannot prove its last record, so the customer receives the fingerprint."""
    proposal = made(tmp_path).render()
    kept = sign(proposal).json()["sha256"]
    forged = forge(proposal)
    assert verify(Store(proposal.data), proposal.data, proposal.id) == []
    assert again(proposal).get(proposal.link).json()["signoff"]["sha256"] == forged != kept


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (lambda path: path.unlink(), "missing"),
        (lambda path: path.write_bytes(path.read_bytes() + b"x"), "another"),
    ],
    ids=["missing", "changed"],
)
def test_clips_are_checked_by_their_content(
    signed: Made, change: Callable[[Path], Any], message: str
) -> None:
    sha256 = signed.offer()["items"][1]["clips"][TAKE]["flac"].rpartition("/")[2].partition(".")[0]
    change(clip_path(signed.data, sha256, "flac"))
    (problem,) = verify(signed.store, signed.data, signed.id)
    assert sha256 in problem
    assert message in problem


def test_there_is_nothing_to_verify_before_a_sign_off(proposal: Made) -> None:
    assert proposal.client.get(f"/api/proposals/{proposal.id}/verify").status_code == 422
    assert proposal.client.get("/api/proposals/none/verify").status_code == 404
    assert proposal.client.get(f"{proposal.link}/record").status_code == 404


def test_canonical_text_does_not_depend_on_the_order_of_keys() -> None:
    assert (
        canonical({"b": 1, "a": [1.5, "ä"]})
        == '{"a":[1.5,"ä"],"b":1}'
        == canonical({"a": [1.5, "ä"], "b": 1})
    )
    with pytest.raises(ValueError, match="not JSON compliant"):
        canonical({"a": float("nan")})
