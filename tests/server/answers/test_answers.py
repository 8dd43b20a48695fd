"""Answers at the bench: taken in once, checked against what was sent, signed with if that is clear."""

from __future__ import annotations

import datetime
import json
import shutil
import sqlite3
from pathlib import Path
from typing import Any

import pytest
from answer_case import NOW, seal, seal_text, send, send_before_wirings, with_clips_of, written
from proposal_case import TAKE, Made, made, today
from talk_case import said, wish

from server.answers.views import verify
from server.database.store import FILE, Store
from server.proposals.signoffs import STATEMENTS, canonical, fingerprint

LONG_AGO = "2020-01-01T00:00:00.000Z"


@pytest.fixture(scope="module")
def workshop(tmp_path_factory: pytest.TempPathFactory) -> Made:
    return made(tmp_path_factory.mktemp("workshop")).render()


@pytest.fixture
def proposal(workshop: Made) -> Made:
    """Make a commission's newest proposal."""
    return with_clips_of(workshop, workshop.another())


def bring(one: Made, text: str, status: int = 201) -> dict[str, Any]:
    answer = one.client.post("/api/answers", json={"text": text})
    assert answer.status_code == status, answer.text
    found: dict[str, Any] = answer.json()
    return found


def kinds(answer: dict[str, Any]) -> list[str]:
    return [one["kind"] for one in answer["warnings"]]


def verified(one: Made) -> dict[str, Any]:
    found: dict[str, Any] = one.client.get(f"/api/proposals/{one.id}/verify").json()
    return found


# --- Taking in


def test_an_answer_is_shown_and_its_signature_signs(proposal: Made) -> None:
    before = proposal.bench()["after"]
    sent = send(proposal)
    sealed = seal(sent)
    answer = bring(proposal, f"  {sealed[:40]}\r\n{sealed[40:]}\n")
    assert answer["again"] is False
    assert (answer["proposal"], answer["title"]) == (proposal.id, "Your baritone")
    assert answer["favourites"] == [1, 3]
    assert answer["notes"] == [
        {"number": 2, "text": "Zwei Töne heller, bitte"},
        {"number": None, "text": "When?"},
    ]
    unanswered = {"sound": None, "making": None, "label": "", "problem": ""}
    assert answer["wishes"] == [{"number": 2, "knobs": {"tone": 6.5}, **unanswered}]
    assert answer["heard"] == [1, 2, 3]
    assert answer["warnings"] == []
    assert answer["signature"] == {
        "label": "Your baritone",
        "name": "R. Winter",
        "date": written()[:10],
        "state": "signed",
    }
    bench = proposal.bench()
    assert (bench["state"], bench["signoff"]["name"]) == ("signed", "R. Winter")
    assert bench["after"] > before
    listed = proposal.client.get(f"/api/commissions/{proposal.commission}/answers").json()
    assert {**listed[0], "again": False} == answer


def test_the_record_holds_the_answer_and_how_it_came(proposal: Made) -> None:
    sent = send(proposal)
    answer = bring(proposal, seal(sent))
    record = json.loads(proposal.client.get(f"{proposal.link}/record").content)
    assert (record["format"], record["via"], record["sent"]) == (4, "answer", sent.sha256)
    assert fingerprint(record["answer"]) == record["answer_sha256"] == answer["sha256"]
    assert json.loads(record["answer"])["sign"] == {"n": 1, "name": "R. Winter", "agrees": 2}
    assert (record["date"], record["received"]) == (written()[:10], answer["received"])
    assert "word" not in record
    assert verified(proposal) == {"holds": True, "problems": []}


def test_the_same_answer_again_is_told_and_changes_nothing(proposal: Made) -> None:
    sealed = seal(send(proposal))
    first = bring(proposal, sealed)
    before = proposal.bench()
    assert bring(proposal, sealed, 200) == {**first, "again": True}
    assert proposal.bench() == before


def test_answers_of_two_people_stand_side_by_side(proposal: Made) -> None:
    sent = send(proposal)
    bring(proposal, seal(sent, sign=None))
    bring(proposal, seal(sent, sign=None, fav=[2], notes=[], r="0" * 12))
    listed = proposal.client.get(f"/api/commissions/{proposal.commission}/answers").json()
    assert [one["favourites"] for one in listed if one["proposal"] == proposal.id] == [[2], [1, 3]]
    assert proposal.bench()["signoff"] is None


def test_a_second_signature_is_shown_and_overwrites_nothing(proposal: Made) -> None:
    sent = send(proposal)
    first = bring(proposal, seal(sent))
    kept = proposal.bench()["signoff"]
    other = bring(proposal, seal(sent, sign={"n": 1, "name": "M. Summer", "agrees": 2}, r="0" * 12))
    assert other["signature"]["state"] == "second"
    (warning,) = other["warnings"]
    assert (warning["kind"], warning["name"], warning["label"]) == ("second", "R. Winter", "Your baritone")
    asked = proposal.client.post(f"/api/answers/{other['sha256']}/signoff", json={"word": "by telephone"})
    assert asked.status_code == 409
    assert proposal.bench()["signoff"] == kept
    later = bring(proposal, seal(sent, notes=[], r="1" * 12))
    assert (later["signature"]["state"], later["warnings"]) == ("signed before", [])
    assert first["signature"]["state"] == "signed"


# --- What needs a word from the customer


def confirm(one: Made, answer: dict[str, Any], word: str = "by telephone, she read the fingerprint") -> Any:
    return one.client.post(f"/api/answers/{answer['sha256']}/signoff", json={"word": word})


@pytest.mark.parametrize("kind", ["older", "closed", "expired"])
def test_a_doubtful_signature_waits_for_a_word(proposal: Made, kind: str) -> None:
    if kind == "expired":
        with proposal.store.write() as db:
            db.execute("UPDATE proposals SET expires = ? WHERE id = ?", (LONG_AGO, proposal.id))
    sent = send(proposal)
    if kind == "older":
        proposal.another()
    if kind == "closed":
        proposal.client.post(f"/api/proposals/{proposal.id}/revoke")
    answer = bring(proposal, seal(sent))
    assert kinds(answer) == [kind]
    assert answer["signature"]["state"] == "waiting"
    assert answer["notes"], "all else is taken in"
    assert proposal.bench()["signoff"] is None
    assert confirm(proposal, answer, " ").status_code == 422
    done = confirm(proposal, answer)
    assert done.status_code == 200
    assert done.json()["signature"]["state"] == "signed"
    with proposal.store.read() as db:
        row = db.execute("SELECT record FROM signoffs WHERE proposal_id = ?", (proposal.id,)).fetchone()
    assert json.loads(row["record"])["word"] == "by telephone, she read the fingerprint"
    assert verified(proposal)["holds"] is True


def test_a_clock_that_is_days_apart_is_told(proposal: Made) -> None:
    late = seal(send(proposal), w=written(NOW - datetime.timedelta(days=3)))
    answer = bring(proposal, late)
    assert kinds(answer) == ["clock"]
    assert answer["signature"]["state"] == "signed"
    assert answer["signature"]["date"] == written(NOW - datetime.timedelta(days=3))[:10]


def test_a_signature_for_a_sound_that_was_never_played_is_told(proposal: Made) -> None:
    answer = bring(proposal, seal(send(proposal), heard=[[2, TAKE]]))
    assert [(one["kind"], one["numbers"]) for one in answer["warnings"]] == [("unheard", [1, 3])]


def test_an_answer_to_a_file_sent_before_wirings_signs_for_a_sound(proposal: Made) -> None:
    """Its holder agreed to that file's sentence: the record is what it was then."""
    sent = send_before_wirings(proposal)
    wrong = bring(proposal, seal(sent), 422)["problems"]
    assert "sentence 2" in wrong[0]["got"]
    answer = bring(proposal, seal(sent, sign={"n": 2, "name": "R. Winter", "agrees": 1}))
    label = proposal.offer()["items"][1]["label"]
    assert answer["signature"]["label"] == label
    record = json.loads(proposal.client.get(f"{proposal.link}/record").content)
    assert (record["format"], record["statement"]) == (3, STATEMENTS["sound"])
    assert (record["chosen"]["number"], record["chosen"]["position"]) == (2, "2")
    assert [clip["take"] for clip in record["clips"]] == [TAKE]
    assert "wirings" not in record
    signed = proposal.bench()["signoff"]
    assert (signed["of"], signed["number"], signed["label"]) == ("sound", 2, label)
    assert verified(proposal) == {"holds": True, "problems": []}
    other = bring(proposal, seal(send(proposal)))
    assert other["signature"]["state"] == "second", "a wiring is more than a sound"


def test_only_a_signature_can_be_confirmed(proposal: Made) -> None:
    answer = bring(proposal, seal(send(proposal), sign=None))
    assert confirm(proposal, answer).status_code == 422
    assert proposal.client.post(f"/api/answers/{'0' * 64}/signoff", json={"word": "x"}).status_code == 404


# --- What is refused


def test_damage_is_refused_and_nothing_is_kept(proposal: Made) -> None:
    sent = send(proposal)
    sealed = seal(sent)
    swapped = sealed[:60] + ("A" if sealed[60] != "A" else "B") + sealed[61:]
    foreign = seal_text(canonical({"f": 1, "s": sent.sha256}), bytes(32))
    for text in (swapped, foreign, sealed[:-1], "Yes, number two please", ""):
        (problem,) = bring(proposal, text, 422)["problems"]
        assert problem["where"] == "answer"
    assert "another text" in bring(proposal, "Yes please", 422)["problems"][0]["got"]
    assert "cut or changed" in bring(proposal, sealed[:-1], 422)["problems"][0]["got"]
    assert bring(proposal, "a" * 200_000, 413)["problems"][0]["where"] == "answer"
    with proposal.store.read() as db:
        found = db.execute("SELECT 1 FROM answers WHERE proposal_id = ?", (proposal.id,)).fetchall()
        assert found == []


def test_an_answer_to_what_another_workshop_sent_is_told(proposal: Made) -> None:
    (problem,) = bring(proposal, seal(send(proposal), s="0" * 64), 404)["problems"]
    assert "not sent from here" in problem["got"]
    assert problem["hint"] == "take it in where that file was saved"


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"f": 2}, "f"),
        ({"p": "another"}, "another proposal"),
        ({"w": "yesterday"}, "w"),
        ({"fav": [9]}, "sound 9"),
        ({"fav": ["1"]}, "fav.0"),
        ({"fav": list(range(1, 99))}, "fav"),
        ({"notes": [[1, " "]]}, "text"),
        ({"notes": [[1, "x" * 2001]]}, "text"),
        ({"notes": [[1, "a\u0000b"]]}, "text"),
        ({"notes": [[1]]}, "notes.0"),
        ({"wish": [[1, {"volume": 11}]]}, "wish.0"),
        ({"wish": [[1, {"drive": 1}]]}, "'drive'"),
        ({"heard": [[1, "another"]]}, "'another'"),
        ({"sign": {"n": 4, "name": "R. Winter", "agrees": 2}}, "wiring 4"),
        ({"sign": {"n": 1, "name": "\n", "agrees": 2}}, "name"),
        ({"sign": {"n": 1, "name": "R. Winter", "agrees": 1}}, "sentence 1"),
        ({"sign": {"n": 1, "name": "R. Winter", "agrees": 3}}, "sign.agrees"),
        ({"sign": {"n": 1, "name": "R. Winter", "agrees": True}}, "sign.agrees"),
        ({"r": "short"}, "r"),
        ({"more": 1}, "more"),
    ],
)
def test_content_that_no_page_makes_is_refused(workshop: Made, change: dict[str, Any], said: str) -> None:
    """Whoever has the file has its secret: a right seal alone makes no answer sound."""
    problems = bring(workshop, seal(send(workshop), **change), 422)["problems"]
    assert any(said in f"{one['where']} {one['got']}" for one in problems), problems


def test_an_answer_is_for_the_bench_alone(workshop: Made) -> None:
    paths = workshop.client.get("/api/openapi.json").json()["paths"]
    assert {"/api/answers", "/api/commissions/{commission}/answers"} <= paths.keys()
    assert not [path for path in paths if "answers" in path and path.startswith("/api/p/")]


# --- Permanence


@pytest.fixture(scope="module")
def signed(workshop: Made) -> Made:
    """Make a proposal that was signed by an answer."""
    one = with_clips_of(workshop, workshop.another())
    bring(one, seal(send(one)))
    return one


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ("UPDATE answers SET answer = replace(answer, 'Winter', 'Summer')", "that was signed is another"),
        ("UPDATE answers SET sealed = 'x'", "that was signed is another"),
        ("DELETE FROM answers", "that was signed is gone"),
        ("UPDATE manifests SET manifest = replace(manifest, 'Your', 'Our')", "what was sent is another"),
        ("UPDATE manifests SET secret = zeroblob(32)", "that was signed is another"),
    ],
)
def test_what_changed_after_an_answer_was_signed_is_found(
    signed: Made, tmp_path: Path, change: str, message: str
) -> None:
    one = signed
    with pytest.raises(sqlite3.IntegrityError), one.store.write() as db:
        db.execute(change)
    shutil.copytree(one.data, tmp_path / "data")
    with sqlite3.connect(tmp_path / "data" / FILE) as file:
        for (trigger,) in file.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            file.execute(f"DROP TRIGGER {trigger}")
        assert verify(Store(tmp_path / "data"), one.data, one.id) == []
        assert file.execute(change).rowcount > 0
    file.close()
    problems = verify(Store(tmp_path / "data"), one.data, one.id)
    assert any(message in problem for problem in problems), problems


# --- Wishes that become sounds


@pytest.fixture
def done(workshop: Made) -> Made:
    """Make a proposal of two sounds, rendered to the end."""
    items = [{"version": workshop.version, "position": one} for one in ("2", "3")]
    return workshop.another(items=items).render()


def make_sound(one: Made, answer: dict[str, Any], place: int, status: int = 200) -> dict[str, Any]:
    made_so = one.client.post(f"/api/answers/{answer['sha256']}/variants", json={"place": place})
    assert made_so.status_code == status, made_so.text
    found: dict[str, Any] = made_so.json()
    return found


@pytest.mark.long
def test_a_wish_in_an_answer_becomes_a_sound(done: Made) -> None:
    sent = send(done)
    wishes = [[2, {"tone": 6.5}], [1, {"tone": 10}]]
    answer = bring(done, seal(sent, fav=[1], notes=[], wish=wishes, heard=[], sign=None))
    first, second = answer["wishes"]
    assert (first["sound"], first["making"], first["problem"]) == (None, None, "")
    assert second["sound"] == 1, "what is offered already"
    asked = make_sound(done, answer, 0)["wishes"][0]
    assert (asked["sound"], asked["making"]) == (None, 0.0)
    done.render()
    (shown,) = [one for one in done.client.get(f"/api/commissions/{done.commission}/answers").json()
                if one["sha256"] == answer["sha256"]]  # fmt: skip
    assert shown["wishes"][0]["sound"] == 3
    assert shown["wishes"][0]["label"].endswith("turned to tone 6.5")
    assert done.offer()["items"][2]["stands"] == ["tone at 6.5"]
    by_link = wish(2, tone=6.5)
    talk = done.client.post(f"{done.link}/operations", json=said(by_link)).json()
    assert talk["wishes"][0]["sound"] == 3, "the same wish by the link is the same sound"
    again = bring(done, seal(sent, fav=[], notes=[], wish=wishes, heard=[], sign=None, r="00000000000a"))
    assert make_sound(done, again, 0)["wishes"][0]["sound"] == 3
    assert len(done.render().offer()["items"]) == 3
    assert "counted from 0" in make_sound(done, answer, 2, 422)["problems"][0]["allowed"]
    make_sound(done, {"sha256": "0" * 64}, 0, 404)


def test_a_signature_for_an_older_file_is_for_the_sounds_that_it_showed(done: Made) -> None:
    """It is kept and verified, but waits for a word: the workshop has made a sound since."""
    older = send(done)
    wished = bring(done, seal(older, fav=[], notes=[], wish=[[1, {"tone": 2}]], heard=[], sign=None))
    make_sound(done, wished, 0)
    done.render()
    newer = send(done)
    assert [len(one.manifest["items"]) for one in (older, newer)] == [2, 3]
    assert newer.manifest["format"] == older.manifest["format"] == 2
    assert newer.manifest["wirings"][0]["sounds"] == [1, 2, 3]
    heard = {"fav": [], "notes": [], "heard": [[1, TAKE], [2, TAKE]]}
    answer = bring(done, seal(older, wish=[], **heard))
    assert kinds(answer) == ["older"]
    assert answer["signature"]["state"] == "waiting"
    confirmed = done.client.post(f"/api/answers/{answer['sha256']}/signoff", json={"word": "by telephone"})
    assert confirmed.json()["signature"]["state"] == "signed"
    record = done.client.get(f"{done.link}/record").json()
    assert (record["format"], record["chosen"]["sounds"]) == (4, [1, 2])
    assert [one["number"] for one in record["offered"]] == [1, 2]
    assert verified(done) == {"holds": True, "problems": []}
    again = make_sound(done, wished, 0)
    assert (again["state"], again["wishes"][0]["sound"]) == ("signed", 3)


def test_a_signature_is_older_even_before_the_new_sound_is_sent(done: Made) -> None:
    older = send(done)
    wished = bring(done, seal(older, fav=[], notes=[], wish=[[1, {"tone": 3}]], heard=[], sign=None))
    make_sound(done, wished, 0)
    unsigned = seal(older, fav=[], notes=[], wish=[], heard=[], r="00000000000b", sign=None)
    assert kinds(bring(done, unsigned)) == [], "nothing is offered yet"
    done.render()
    answer = bring(done, seal(older, fav=[], notes=[], wish=[], heard=[[1, TAKE], [2, TAKE]]))
    assert (kinds(answer), answer["signature"]["state"]) == (["older"], "waiting")


def test_a_signature_for_the_newer_file_is_for_all_of_its_sounds(done: Made) -> None:
    wanted = wish(1, tone=4)
    done.client.post(f"{done.link}/operations", json=said(wanted))
    done.client.post(f"/api/proposals/{done.id}/variants", json={"wish": wanted["id"]})
    sent = send(done.render())
    heard = [[number, TAKE] for number in (1, 2, 3)]
    answer = bring(done, seal(sent, fav=[3], notes=[[3, "This one"]], wish=[], heard=heard))
    assert (kinds(answer), answer["signature"]["state"]) == ([], "signed")
    assert done.client.get(f"{done.link}/record").json()["chosen"]["sounds"] == [1, 2, 3]
    assert verified(done)["holds"] is True
    body = {"wiring": 1, "name": "Another", "date": today(), "confirm": True, "sounds": [1, 2, 3]}
    assert done.client.post(f"{done.link}/signoff", json=body).status_code == 409
