"""What customer and workshop say to a proposal: single operations, each with an id its page made up.

An operation is stored once, in the order of arrival. The same one again, as after a lost answer,
changes nothing. So two phones, or one that was offline, never undo each other: a note or a wish
only adds, and taking a favourite back takes back the marks that the phone knew of.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from dsp.errors import InputError
from server.database.store import Store, now
from server.proposals.store import by_token, count_change, require_number, row_of
from server.proposals.variants import Answers
from server.refusals import Conflict, Unknown

LONGEST_NOTE = 2000
"""Characters."""
MOST_NOTES = 300
"""In one proposal."""
MOST_OPERATIONS = 3000
"""In one proposal, the workshop's own not counted."""
WORKSHOP = ""
"""The device of the workshop."""
CALL = "call the workshop"
SAID = ("device", "kind", "number", "text", "about")
"""What an operation says, beside its knobs."""


@dataclass(frozen=True)
class Operation:
    """Something said to a proposal.

    Attributes
    ----------
    id : str
        Made up by the page that says it.
    kind : str
        favourite, unfavourite, note, wish, unwish; of the workshop: reply.
    number : int or None
        The item; None for the whole.
    about : str or None
        Id of the note or wish that is answered, of the wish that is taken back.
    seen : int
        The newest place that the page knew.
    written : str
        By the clock of who says it.
    """

    id: str
    kind: str
    written: str
    number: int | None = None
    text: str = ""
    knobs: Mapping[str, float] = field(default_factory=dict)
    about: str | None = None
    seen: int = 0


def say(store: Store, token: str, device: str, operations: Iterable[Operation]) -> dict[str, Any]:
    """Store a customer's operations, all or none, and return as `talk_of`.

    Raises
    ------
    Unknown, Gone
        As `by_token`; Unknown for an answer to what was never said.
    InputError
        For a number or a knob that is not offered.
    Conflict
        Beyond 300 notes or 3,000 operations, or for an id that stands for something else.
    """
    with store.write() as db:
        proposal = str(by_token(db, token)["id"])
        new = [_add(db, proposal, device, one) for one in operations]
        if any(new):
            count_change(db, proposal)
        return talk_of(db, proposal)


def reply(store: Store, proposal: str, operation: Operation) -> None:
    """Store the workshop's answer to a note or a wish.

    Raises
    ------
    Unknown
        If there is no such proposal, or nothing that could be answered.
    Conflict
        If the id stands for something else.
    """
    with store.write() as db:
        row_of(db, proposal)
        if _add(db, proposal, WORKSHOP, operation):
            count_change(db, proposal)


def note_looked(store: Store, proposal: str, place: int) -> None:
    """Note up to which place the workshop has seen; it never goes back.

    Raises
    ------
    Unknown
    InputError
        For a place that nothing has.
    """
    with store.write() as db:
        looked, newest = row_of(db, proposal)["looked"], _newest(db, proposal)
        if place > newest:
            raise InputError("place", str(place), f"0 to {newest}")
        if place > looked:
            db.execute("UPDATE proposals SET looked = ? WHERE id = ?", (place, proposal))
            count_change(db, proposal)


def _newest(db: sqlite3.Connection, proposal: str) -> int:
    row = db.execute("SELECT coalesce(max(place), 0) FROM operations WHERE proposal_id = ?", (proposal,))
    return int(row.fetchone()[0])


def _add(db: sqlite3.Connection, proposal: str, device: str, one: Operation) -> bool:
    """Store an operation; whether it was new."""
    before = _find(db, proposal, one.id)
    knobs = json.dumps(dict(sorted(one.knobs.items())), ensure_ascii=False)
    if before is not None:
        said = (device, one.kind, one.number, one.text, one.about, knobs)
        if said != (*(before[key] for key in SAID), before["knobs"]):
            raise Conflict("id", f"'{one.id}', which stands for something else", "an id of its own")
        return False
    if one.number is not None:
        _require_knobs(require_number(db, proposal, one.number), one.knobs)
    if one.about is not None:
        _require_answerable(_find(db, proposal, one.about), one)
    if device != WORKSHOP:
        _require_room(db, proposal, one)
    db.execute(
        "INSERT INTO operations VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (proposal, _newest(db, proposal) + 1, one.id, device, one.kind, one.number, one.text, knobs,
         one.about, one.seen, one.written, now()),
    )  # fmt: skip
    return True


def _find(db: sqlite3.Connection, proposal: str, id: str) -> sqlite3.Row | None:
    row: sqlite3.Row | None = db.execute(
        "SELECT * FROM operations WHERE proposal_id = ? AND id = ?", (proposal, id)
    ).fetchone()
    return row


def _require_knobs(item: sqlite3.Row, knobs: Mapping[str, float]) -> None:
    offered = json.loads(item["knobs"])
    for name in knobs:
        if name not in offered:
            raise InputError("knobs", f"'{name}'", ", ".join(offered) or "none: this sound has no knobs")


def _require_answerable(found: sqlite3.Row | None, one: Operation) -> None:
    kinds = ("wish",) if one.kind == "unwish" else ("note", "wish")
    if found is None or found["kind"] not in kinds:
        raise Unknown("about", f"'{one.about}'", f"the id of a {' or a '.join(kinds)} of this proposal")


def _require_room(db: sqlite3.Connection, proposal: str, one: Operation) -> None:
    rows = db.execute(
        "SELECT kind = 'note', count(*) FROM operations WHERE proposal_id = ? AND device != ? GROUP BY 1",
        (proposal, WORKSHOP),
    )
    counts = {bool(is_note): int(count) for is_note, count in rows}
    notes, all_kinds = counts.get(True, 0), sum(counts.values())
    if one.kind == "note" and notes >= MOST_NOTES:
        raise Conflict("notes", f"{notes} already", f"up to {MOST_NOTES}", CALL)
    if all_kinds >= MOST_OPERATIONS:
        raise Conflict("this proposal", f"{all_kinds} changes already", f"up to {MOST_OPERATIONS}", CALL)


def talk_of(db: sqlite3.Connection, proposal: str) -> dict[str, Any]:
    """Return what is said to a proposal now.

    Returns
    -------
    dict
        `favourites`, ascending; `marks`, the operations that make them; `comments` and `wishes` in
        the order they came, each with its `replies`; of a wish also the `sound` that answers it and
        the share of it that is rendered (`making`); `place`, the newest; `looked`, up to which the
        workshop has seen; `unread`, how many of the customer's came after that.
    """
    rows = db.execute("SELECT * FROM operations WHERE proposal_id = ? ORDER BY place", (proposal,)).fetchall()
    looked = int(row_of(db, proposal)["looked"])
    replies: dict[str, list[dict[str, Any]]] = {}
    for row in rows:
        if row["kind"] == "reply":
            said = {"id": row["id"], "text": row["text"], "when": row["received"]}
            replies.setdefault(row["about"], []).append(said)
    taken_back = {row["about"] for row in rows if row["kind"] == "unwish"}
    marks = _standing_marks(rows)

    def shown(kind: str, *keys: str) -> list[dict[str, Any]]:
        return [
            {**{key: row[key] for key in ("id", "number", "device", "place", *keys)},
             "when": row["received"], "replies": replies.get(row["id"], [])}
            for row in rows if row["kind"] == kind
        ]  # fmt: skip

    answers = Answers(db, proposal)

    def wished(said: dict[str, Any]) -> dict[str, Any]:
        knobs = json.loads(said["knobs"])
        told = answers.find(said["number"], knobs).told()
        return {**said, "knobs": knobs, "taken_back": said["id"] in taken_back, **told}

    wishes = [wished(one) for one in shown("wish", "knobs")]
    return {
        "favourites": sorted({row["number"] for row in marks}),
        "marks": [{key: row[key] for key in ("number", "device", "place")} for row in marks],
        "comments": shown("note", "text"),
        "wishes": [one for one in wishes if one["replies"] or not one["taken_back"]],
        "place": len(rows),
        "looked": looked,
        "unread": sum(row["place"] > looked and row["device"] != WORKSHOP for row in rows),
    }


def _standing_marks(rows: Iterable[sqlite3.Row]) -> list[sqlite3.Row]:
    """Return the marks that nothing took back: a set with observed removals.

    Taking a favourite back removes every mark that its page knew of and those of its own device,
    not one that another phone made meanwhile.
    """
    marks: list[sqlite3.Row] = []
    for row in rows:
        if row["kind"] == "favourite":
            marks = [one for one in marks if (one["number"], one["device"]) != (row["number"], row["device"])]
            marks.append(row)
        elif row["kind"] == "unfavourite":
            marks = [one for one in marks if one["number"] != row["number"] or not _knew(row, one)]
    return marks


def _knew(removal: sqlite3.Row, mark: sqlite3.Row) -> bool:
    return bool(mark["place"] <= removal["seen"] or mark["device"] == removal["device"])


def unread_by_commission(store: Store) -> dict[str, int]:
    """Return how much the workshop has not seen, by commission."""
    with store.read() as db:
        rows = db.execute(
            "SELECT commission_id, count(*) FROM operations JOIN proposals ON proposals.id = proposal_id"
            " WHERE place > looked AND device != ? GROUP BY 1",
            (WORKSHOP,),
        )
        return {str(row[0]): int(row[1]) for row in rows}
