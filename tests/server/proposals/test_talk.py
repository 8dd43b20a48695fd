"""What customer and workshop say: single operations, each once, whatever two phones do."""

from __future__ import annotations

import sqlite3
import threading
from pathlib import Path
from typing import Any

import pytest
from hostile import HALF, KEPT
from proposal_case import Made, again, made
from server_client import KEY, client_of
from talk_case import PHONE, TABLET, WRITTEN, favourite, note, operation, said, unfavourite, wish

from server.database import store as database
from server.database.store import Store, migrations
from server.proposals import talk
from server.proposals.talk import Operation
from server.web.links import WAITING_PER_LINK


@pytest.fixture
def proposal(tmp_path: Path) -> Made:
    return made(tmp_path)


@pytest.fixture(scope="module")
def shared(tmp_path_factory: pytest.TempPathFactory) -> Made:
    """Make a proposal for tests that only add notes, or are refused."""
    return made(tmp_path_factory.mktemp("shared"))


def send(one: Made, *operations: dict[str, Any], device: str = PHONE) -> Any:
    return one.client.post(f"{one.link}/operations", json=said(*operations, device=device))


def now(one: Made, *operations: dict[str, Any], device: str = PHONE) -> dict[str, Any]:
    """Send operations, and return what is said then."""
    answer = send(one, *operations, device=device)
    assert answer.status_code == 200, answer.text
    found: dict[str, Any] = answer.json()
    return found


def where(answer: Any, status: int) -> list[str]:
    assert answer.status_code == status, answer.text
    return [one["where"] for one in answer.json()["problems"]]


# --- Each once, in order


def test_the_same_operation_again_changes_nothing(proposal: Made) -> None:
    mark, text = favourite(2), note("Warmer?")
    first = now(proposal, mark, text)
    after = proposal.bench()["after"]
    assert now(proposal, mark, text) == first
    assert now(proposal, text) == first
    assert proposal.bench()["after"] == after
    assert [one["text"] for one in first["comments"]] == ["Warmer?"]
    assert [one["text"] for one in now(proposal, note("Warmer?"))["comments"]] == ["Warmer?", "Warmer?"]


def test_an_id_stands_for_one_thing_alone(proposal: Made) -> None:
    text = note("Warmer?")
    now(proposal, text)
    for other in ({**text, "text": "Colder?"}, {**text, "number": 1}, {**favourite(1), "id": text["id"]}):
        assert where(send(proposal, other), 409) == ["id"]
    assert where(send(proposal, text, device=TABLET), 409) == ["id"]
    assert [one["text"] for one in proposal.offer()["comments"]] == ["Warmer?"]


def test_ids_of_another_proposal_mean_nothing_here(proposal: Made) -> None:
    other, text = proposal.another(), note("Warmer?", 1)
    now(other, text)
    unwish = operation("unwish", about=text["id"])
    assert where(send(proposal, unwish), 404) == ["about"]
    answer = {"id": "r" * 16, "written": WRITTEN, "about": text["id"], "text": "Yes"}
    address = f"/api/proposals/{proposal.id}/replies"
    assert where(proposal.client.post(address, json=answer), 404) == ["about"]
    assert [one["text"] for one in now(proposal, {**text, "text": "Mine"})["comments"]] == ["Mine"]
    assert [one["text"] for one in other.offer()["comments"]] == ["Warmer?"]


def test_all_or_none_of_a_request_is_stored(proposal: Made) -> None:
    answer = send(proposal, favourite(1), note("Warmer?"), favourite(4))
    assert where(answer, 422) == ["number"]
    assert (proposal.offer()["favourites"], proposal.offer()["comments"]) == ([], [])


def test_operations_stand_in_the_order_they_came(proposal: Made) -> None:
    late, early = note("first"), {**note("second"), "written": "2020-01-01T00:00:00.000Z"}
    found = now(proposal, late, favourite(1), early)
    assert [(one["text"], one["place"]) for one in found["comments"]] == [("first", 1), ("second", 3)]
    assert found["place"] == 3


def test_many_at_once_get_places_without_gaps(proposal: Made) -> None:
    threads = [
        threading.Thread(target=now, args=(proposal, note(f"note {k}")), kwargs={"device": f"device-{k:010}"})
        for k in range(8)
    ]
    for one in threads:
        one.start()
    for one in threads:
        one.join()
    found = proposal.offer()["comments"]
    assert sorted(one["text"] for one in found) == [f"note {k}" for k in range(8)]
    assert [one["place"] for one in found] == list(range(1, 9))


# --- Two phones


def test_two_phones_do_not_undo_each_other(proposal: Made) -> None:
    now(proposal, favourite(1), favourite(2))
    found = now(proposal, favourite(3), device=TABLET)
    assert found["favourites"] == [1, 2, 3]
    assert {(one["number"], one["device"]) for one in found["marks"]} == {
        (1, PHONE), (2, PHONE), (3, TABLET),
    }  # fmt: skip


def test_a_favourite_is_taken_back_on_either_phone(proposal: Made) -> None:
    place = now(proposal, favourite(1), favourite(2))["place"]
    assert now(proposal, unfavourite(1, place), device=TABLET)["favourites"] == [2]
    assert now(proposal, favourite(1))["favourites"] == [1, 2]


def test_a_mark_made_meanwhile_stays(proposal: Made) -> None:
    """A phone that was offline takes back what it knew of, not what another one marked since."""
    place = now(proposal, favourite(1))["place"]
    now(proposal, favourite(1), device=TABLET)
    assert now(proposal, unfavourite(1, place))["favourites"] == [1]
    assert [one["device"] for one in proposal.offer()["marks"]] == [TABLET]


def test_a_phone_takes_back_its_own_mark_that_it_sent_unseen(proposal: Made) -> None:
    assert now(proposal, favourite(1), unfavourite(1, 0), favourite(2))["favourites"] == [2]
    assert now(proposal, favourite(1), favourite(1))["favourites"] == [1, 2]


def test_wishes_add_and_each_can_be_taken_back(proposal: Made) -> None:
    first, second = wish(1, tone=10.0), wish(1, tone=0.0)
    found = now(proposal, first, second)["wishes"]
    assert [one["knobs"] for one in found] == [{"tone": 10.0}, {"tone": 0.0}]
    back = operation("unwish", about=first["id"])
    assert [one["id"] for one in now(proposal, back, device=TABLET)["wishes"]] == [second["id"]]
    assert [one["id"] for one in proposal.bench()["wishes"]] == [second["id"]]


# --- What may be said


@pytest.mark.parametrize("text", [*KEPT.values(), "two\nlines", "ä" * 2000], ids=[*KEPT, "lines", "longest"])
def test_notes_are_kept_as_written(shared: Made, text: str) -> None:
    found = now(shared, note(text, 1))
    assert found["comments"][-1]["text"] == text.strip()
    assert shared.offer()["comments"] == shared.bench()["comments"] == found["comments"]


@pytest.mark.parametrize("text", ["", "   ", "a" * 2001, "a\x00b", "\x1b[2J"])
def test_texts_that_are_not_notes_are_refused(shared: Made, text: str) -> None:
    assert where(send(shared, note(text)), 422) == ["operations.0.note.text"]


def test_half_a_character_is_refused_without_a_server_error(shared: Made) -> None:
    body = '{"device": "%s", "operations": [{"id": "%s", "kind": "note", "written": "%s", "text": "%s"}]}'
    content = body % (PHONE, "i" * 16, WRITTEN, HALF.encode("unicode_escape").decode())
    headers = {"Content-Type": "application/json"}
    assert (
        shared.client.post(f"{shared.link}/operations", content=content, headers=headers).status_code == 422
    )


@pytest.mark.parametrize(
    ("bad", "status", "place"),
    [
        (favourite(4), 422, "number"),
        (favourite(0), 422, "operations.0.favourite.number"),
        (operation("favourite", number=1, text="no"), 422, "operations.0.favourite.text"),
        (operation("sing", number=1), 422, "operations.0"),
        (operation("reply", about="i" * 16, text="I am the workshop"), 422, "operations.0"),
        ({**favourite(1), "id": "short"}, 422, "operations.0.favourite.id"),
        ({**favourite(1), "id": "'; DROP TABLE operations; --"}, 422, "operations.0.favourite.id"),
        ({**favourite(1), "written": "yesterday"}, 422, "operations.0.favourite.written"),
        (wish(1, volumes=5.0), 422, "knobs"),
        (wish(1, tone=11.0), 422, "operations.0.wish.knobs.tone"),
        (wish(1), 422, "operations.0.wish.knobs"),
        (operation("unfavourite", number=1, seen=-1), 422, "operations.0.unfavourite.seen"),
        (operation("unwish", about="i" * 16), 404, "about"),
    ],
)
def test_what_cannot_be_said_is_refused_by_name(
    shared: Made, bad: dict[str, Any], status: int, place: str
) -> None:
    before = shared.offer()
    assert where(send(shared, bad), status) == [place]
    assert shared.offer() == before


def test_a_request_holds_fifty_operations_and_a_device(shared: Made) -> None:
    assert where(send(shared, *(favourite(1) for _ in range(51))), 422) == ["operations"]
    assert where(send(shared), 422) == ["operations"]
    assert where(send(shared, favourite(1), device=""), 422) == ["device"]
    large = shared.client.post(f"{shared.link}/operations", json={"device": "a" * (2 << 20)})
    assert large.status_code == 413


def test_beyond_its_room_a_proposal_takes_no_more(proposal: Made, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(talk, "MOST_NOTES", 2)
    monkeypatch.setattr(talk, "MOST_OPERATIONS", 4)
    first = note("one")
    now(proposal, first, note("two"))
    refused = send(proposal, note("three"))
    assert where(refused, 409) == ["notes"]
    assert refused.json()["problems"][0]["hint"] == "call the workshop"
    now(proposal, favourite(1), favourite(2))
    assert where(send(proposal, favourite(3)), 409) == ["this proposal"]
    assert now(proposal, first)["place"] == 4, "what is there already is still acknowledged"
    reply(proposal, first["id"], "Yes")  # the workshop always has room


# --- The workshop's side


def reply(one: Made, about: str, text: str, id: str = "reply-0123456789") -> Any:
    body = {"id": id, "written": WRITTEN, "about": about, "text": text}
    answer = one.client.post(f"/api/proposals/{one.id}/replies", json=body)
    assert answer.status_code == 200, answer.text
    return answer.json()


def test_the_workshop_answers_a_note_and_a_wish(proposal: Made) -> None:
    question, wanted = note("Smaller knob?"), wish(2, tone=3.0)
    after = now(proposal, question, wanted) and proposal.offer()["after"]
    for _ in range(2):  # a lost answer is sent again
        reply(proposal, question["id"], "Yes, 15 mm.")
    reply(proposal, wanted["id"], "That needs another capacitor.", id="reply-9876543210")
    offer = proposal.offer()
    assert offer["after"] > after
    assert [one["text"] for one in offer["comments"][0]["replies"]] == ["Yes, 15 mm."]
    assert [one["text"] for one in offer["wishes"][0]["replies"]] == ["That needs another capacitor."]
    back = operation("unwish", about=wanted["id"])
    (kept,) = now(proposal, back)["wishes"]
    assert kept["taken_back"] is True, "what was answered stays to be read"


def test_only_the_bench_answers(proposal: Made) -> None:
    question = note("Smaller knob?")
    now(proposal, question)
    outside = again(proposal, host="192.0.2.1", key=KEY)
    body = {"id": "i" * 16, "written": WRITTEN, "about": question["id"], "text": "I am the workshop"}
    for path, sent in (("replies", body), ("looked", {"place": 1})):
        assert outside.post(f"/api/proposals/{proposal.id}/{path}", json=sent).status_code == 401
    assert outside.get("/api/unread").status_code == 401
    assert proposal.offer()["comments"][0]["replies"] == []


def test_what_the_workshop_has_seen_is_said_and_counted(proposal: Made) -> None:
    now(proposal, note("one"), favourite(2))
    assert (proposal.offer()["looked"], proposal.bench()["unread"]) == (0, 2)
    assert proposal.client.get("/api/unread").json() == {proposal.commission: 2}
    address = f"/api/proposals/{proposal.id}/looked"
    seen = proposal.client.post(address, json={"place": 1}).json()
    assert (seen["looked"], seen["unread"]) == (1, 1)
    proposal.client.post(address, json={"place": 2})
    assert proposal.client.post(address, json={"place": 1}).json()["looked"] == 2, "it never goes back"
    assert where(proposal.client.post(address, json={"place": 3}), 422) == ["place"]
    assert proposal.offer()["looked"] == 2
    assert proposal.client.get("/api/unread").json() == {}
    reply(proposal, proposal.offer()["comments"][0]["id"], "Yes")
    assert proposal.bench()["unread"] == 0, "its own words are no news to the workshop"


# --- Waiting for news


def test_a_customer_learns_of_an_answer_at_once(proposal: Made) -> None:
    question = note("Smaller knob?")
    now(proposal, question)
    after = proposal.offer()["after"]
    heard: list[dict[str, Any]] = []
    waiting = threading.Thread(
        target=lambda: heard.append(
            proposal.client.get(f"{proposal.link}/events", params={"after": after}).json()
        )
    )
    waiting.start()
    waiting.join(0.6)
    assert waiting.is_alive(), "nothing has happened"
    reply(proposal, question["id"], "Yes")
    waiting.join(10.0)
    assert heard == [{"after": after + 1, "changed": True}]
    behind = proposal.client.get(f"{proposal.link}/events", params={"after": after}).json()
    assert behind["changed"] is True


def test_a_link_that_ends_ends_the_waiting(proposal: Made) -> None:
    proposal.client.post(f"/api/proposals/{proposal.id}/revoke")
    assert where(proposal.client.get(f"{proposal.link}/events", params={"after": 1}), 410) == ["this link"]
    assert where(proposal.client.get("/api/p/nothing/events", params={"after": 1}), 404) == ["this link"]


def test_one_look_serves_everybody_who_waits(proposal: Made, monkeypatch: pytest.MonkeyPatch) -> None:
    import asyncio

    from server.proposals import news

    looks: list[set[str]] = []
    count = news.changes_of_each

    def counted(store: Store, names: set[str]) -> dict[str, int]:
        looks.append(set(names))
        if len(looks) == 3:
            talk.say(store, proposal.token, PHONE, [Operation("i" * 16, "note", WRITTEN, text="Now")])
        return count(store, names)

    monkeypatch.setattr(news, "changes_of_each", counted)
    after = proposal.offer()["after"]

    async def wait_together() -> list[dict[str, Any]]:
        told = news.News(proposal.store)
        return await asyncio.gather(*(told.wait(proposal.id, after) for _ in range(100)))

    assert asyncio.run(wait_together()) == [{"after": after + 1, "changed": True}] * 100
    assert looks == [{proposal.id}] * 3


def test_a_link_has_so_many_who_wait(proposal: Made) -> None:
    from server.refusals import TooOften
    from server.web.links import Waits

    waits = Waits(2)
    with waits.hold("a"), waits.hold("a"), waits.hold("b"), pytest.raises(TooOften), waits.hold("a"):
        pass
    with waits.hold("a"):
        assert WAITING_PER_LINK > 2, "a phone, a tablet and some tabs"


# --- What was there before


def test_what_was_said_before_becomes_operations(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    every = migrations()
    upto = next(number for number, name, _ in every if name == "operations") - 1
    with monkeypatch.context() as patch:
        patch.setattr(database, "migrations", lambda: every[:upto])
        old = Store(tmp_path)
        with old.write() as db:
            for line in (
                "INSERT INTO commissions VALUES ('c', 'C', '', '2026', '2026', NULL, '{}', NULL)",
                "INSERT INTO wirings VALUES ('w', 'c', 1, 'W', '2026', NULL, NULL)",
                "INSERT INTO versions VALUES ('v', 'w', 1, '', '', '', '2026')",
                "INSERT INTO proposals VALUES ('p', 'c', 't', 'P', '2026-01', '2027', NULL, NULL, 4)",
                "INSERT INTO proposal_items VALUES ('p', 1, 'v', '', '1', '{}', '{}', 'L', '[]', '[]', 0.5)",
                "INSERT INTO favourites VALUES ('p', 1)",
                "INSERT INTO comments VALUES (7, 'p', 1, 'Warmer?', '2026-02')",
                "INSERT INTO comments VALUES (8, 'p', NULL, 'When?', '2026-03')",
            ):
                db.execute(line)
        old.close()
    new = Store(tmp_path)
    with new.read() as db:
        found = talk.talk_of(db, "p")
        assert db.execute("PRAGMA foreign_key_check").fetchall() == []
    assert found["favourites"] == [1]
    assert [(one["number"], one["text"], one["when"]) for one in found["comments"]] == [
        (1, "Warmer?", "2026-02"), (None, "When?", "2026-03"),
    ]  # fmt: skip
    assert found["unread"] == 3


def test_what_was_said_does_not_change(proposal: Made) -> None:
    now(proposal, note("a"))
    for change in ("UPDATE operations SET text = 'x'", "DELETE FROM operations",
                   "REPLACE INTO operations SELECT * FROM operations"):  # fmt: skip
        with pytest.raises(sqlite3.IntegrityError), proposal.store.write() as db:
            db.execute(change)


def test_operations_survive_the_server(proposal: Made) -> None:
    found = now(proposal, note("a"), favourite(3))
    later = client_of(proposal.data).get(proposal.link).json()
    assert {key: later[key] for key in found} == found
