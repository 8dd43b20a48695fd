"""Sounds that answer wishes: an offered sound, rendered with its knobs where the customer wants them.

A wish is for settings, so the sounds themselves say whether it is answered: the same wish twice is the
same sound, by a link or in a sealed answer. A variant is rendered whole before it is offered, as the
next sound of its proposal. So numbers stay, and nobody can be asked to sign for half a sound.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from server.bench.hearing import Draft, Hearing
from server.commissions.versions import version_row
from server.database.store import Store, now
from server.proposals.describe import SoundRequest, describe_sounds, plain_name, read_version
from server.proposals.queue import MOST_TRIES, Made, insert_clips, readiness
from server.proposals.store import (
    MOST_ITEMS,
    Item,
    count_change,
    insert_item,
    items_of,
    require_number,
    row_of,
    state_of,
)
from server.refusals import Conflict, Unknown

WAITING = ("queued", "running")
DECIMALS = 2
"""Of a knob's value: a hundredth of its scale is far below what a hand can set."""
WHOLE = "a proposal with all its clips"
ANOTHER = "make a new proposal"
WHY_NOT = {
    "signed": ("one that is signed: nothing changes after a sign-off", ANOTHER),
    "revoked": ("one that you ended", "make a new link first"),
    "expired": ("one that has expired", "make a new link first"),
}
"""By a proposal's state: why no sound is added to it, and what to do."""
Setting = tuple[str, str, str, str]
"""What makes a sound: version, position, switches and knobs."""


@dataclass(frozen=True)
class Found:
    """How far the answer to a wish is.

    Attributes
    ----------
    sound : int or None
        The sound with the settings wished for.
    making : float or None
        Rendered share of it, 0 to 1.
    label : str
        Of that sound.
    problem : str
        Why it could not be made; the workshop's to know.
    """

    sound: int | None = None
    making: float | None = None
    label: str = ""
    problem: str = ""

    def told(self) -> dict[str, Any]:
        """Return what both sides are told."""
        return {"sound": self.sound, "making": self.making}

    def told_at_bench(self) -> dict[str, Any]:
        """Return what the bench is told."""
        return {**self.told(), "label": self.label, "problem": self.problem}


NOT_YET = Found()


@dataclass(frozen=True)
class VariantJob:
    """A variant that is to be rendered with every take of its proposal."""

    proposal: str
    line: int


class Answers:
    """Which sounds of a proposal answer which wishes, as the database stands."""

    def __init__(self, db: sqlite3.Connection, proposal: str) -> None:
        self._items = {item["number"]: item for item in items_of(db, proposal)}
        self._found: dict[Setting, Found] = {}
        for row in _rows(db, proposal):
            setting = _setting(self._items[row["of_number"]], json.loads(row["knobs"]))
            if row["state"] != "done":
                making = row["share"] if row["state"] in WAITING else None
                self._found[setting] = Found(making=making, problem=row["error"])
        for number, item in reversed(self._items.items()):
            self._found[_setting(item, {})] = Found(sound=number, label=item["label"])

    def find(self, number: int, knobs: Mapping[str, float]) -> Found:
        """Return how far the answer to a wish for a sound's knobs is."""
        item = self._items.get(number)
        return NOT_YET if item is None else self._found.get(_setting(item, knobs), NOT_YET)


def _rows(db: sqlite3.Connection, proposal: str) -> list[sqlite3.Row]:
    return db.execute(
        "SELECT * FROM proposal_variants WHERE proposal_id = ? ORDER BY line", (proposal,)
    ).fetchall()


def _knobs(item: Mapping[str, Any], turned: Mapping[str, float]) -> dict[str, float]:
    """Return every knob of a sound, some of them turned."""
    return {name: round(float(value), DECIMALS) for name, value in {**item["knobs"], **turned}.items()}


def _setting(item: Mapping[str, Any], turned: Mapping[str, float]) -> Setting:
    knobs, switches = (
        json.dumps(one, sort_keys=True) for one in (_knobs(item, turned), dict(item["switches"]))
    )
    return str(item["version_id"]), str(item["position"]), switches, knobs


def first_sounds(db: sqlite3.Connection, proposal: str) -> list[int]:
    """Return the numbers of the sounds that were offered at first."""
    rows = db.execute(
        "SELECT number FROM proposal_items WHERE proposal_id = ?1 AND number NOT IN (SELECT number"
        " FROM proposal_variants WHERE proposal_id = ?1 AND number IS NOT NULL) ORDER BY number",
        (proposal,),
    )
    return [int(row["number"]) for row in rows]


def newest_offered(db: sqlite3.Connection, proposal: str, after: int) -> str | None:
    """Return when the newest sound beyond the first ones was offered."""
    row = db.execute(
        "SELECT max(offered) FROM proposal_variants WHERE proposal_id = ? AND number > ?", (proposal, after)
    ).fetchone()
    return None if row[0] is None else str(row[0])


def make_sound(store: Store, proposal: str, wish: str) -> bool:
    """Ask for the sound of a wish; return whether it is to be rendered.

    Parameters
    ----------
    wish : str
        Id of the operation.

    Raises
    ------
    Unknown
        If there is no such proposal or wish.
    Conflict
        If the wish was taken back, or as `ask_for`.
    InputError
        As `ask_for`.
    """
    with store.write() as db:
        row_of(db, proposal)
        row = db.execute(
            "SELECT * FROM operations WHERE proposal_id = ? AND id = ? AND kind = 'wish'", (proposal, wish)
        ).fetchone()
        if row is None:
            raise Unknown("wish", f"'{wish}'", "the id of a wish of this proposal")
        back = db.execute(
            "SELECT 1 FROM operations WHERE proposal_id = ? AND kind = 'unwish' AND about = ?",
            (proposal, wish),
        ).fetchone()
        if back is not None:
            raise Conflict("wish", "one that the customer has taken back", "a wish that stands")
        return ask_for(db, proposal, int(row["number"]), json.loads(row["knobs"]))


def ask_for(db: sqlite3.Connection, proposal: str, number: int, knobs: Mapping[str, float]) -> bool:
    """Queue a sound with its knobs turned; False if it is there or queued.

    Raises
    ------
    InputError
        For a number or a knob that is not offered, or a knob outside 0 to 10.
    Conflict
        If the proposal is signed, ended, full, or has not all of its clips yet.
    """
    require_number(db, proposal, number)
    items = items_of(db, proposal)
    item = items[number - 1]
    found = Answers(db, proposal).find(number, knobs)
    if found.sound is not None:
        return False
    if (state := state_of(db, row_of(db, proposal))) in WHY_NOT:
        got, hint = WHY_NOT[state]
        raise Conflict("this proposal", got, "a proposal that is open", hint)
    if found.making is not None:
        return False
    wiring = read_version(version_row(db, item["version_id"])["text"])
    full = _knobs(item, dict(wiring.setting(item["position"], {**item["knobs"], **knobs}).knobs))
    ready, failed = readiness(db, proposal)
    if ready < 1.0:
        got = f"sounds that could not be rendered: {failed[0]}" if failed else "sounds still being rendered"
        raise Conflict("this proposal", got, WHOLE, ANOTHER if failed else "try again soon")
    rows = _rows(db, proposal)
    if len(items) + sum(row["state"] in WAITING for row in rows) >= MOST_ITEMS:
        raise Conflict("this proposal", f"{len(items)} sounds already", f"up to {MOST_ITEMS}", ANOTHER)
    first = next((row["of_number"] for row in rows if row["number"] == number), number)
    again = [row for row in rows if (row["of_number"], json.loads(row["knobs"])) == (first, full)]
    if again:
        _set(db, VariantJob(proposal, again[0]["line"]), "queued", tries=0)
        return True
    db.execute(
        "INSERT INTO proposal_variants (proposal_id, line, of_number, knobs, asked) VALUES (?, ?, ?, ?, ?)",
        (proposal, len(rows) + 1, first, json.dumps(full, sort_keys=True), now()),
    )
    count_change(db, proposal)
    return True


def _set(
    db: sqlite3.Connection,
    job: VariantJob,
    state: str,
    *,
    share: float = 0.0,
    error: str = "",
    tries: int | None = None,
) -> None:
    db.execute(
        "UPDATE proposal_variants SET state = ?, share = ?, error = ?, tries = coalesce(?, tries)"
        " WHERE proposal_id = ? AND line = ?",
        (state, share, error, tries, job.proposal, job.line),
    )
    count_change(db, job.proposal)


# --- The queue, see `queue`: a variant comes after all clips of its proposal


def waiting(store: Store) -> int:
    """How many variants have not ended."""
    with store.read() as db:
        row = db.execute("SELECT count(*) FROM proposal_variants WHERE state IN ('queued', 'running')")
        return int(row.fetchone()[0])


def requeue_interrupted(store: Store) -> None:
    """Queue again what a worker left behind. Call as the only worker."""
    with store.write() as db:
        for row in db.execute("SELECT * FROM proposal_variants WHERE state = 'running'").fetchall():
            given_up = row["tries"] >= MOST_TRIES
            error = f"stopped {MOST_TRIES} times without an end" if given_up else ""
            _set(db, VariantJob(row["proposal_id"], row["line"]), "failed" if given_up else "queued",
                 error=error)  # fmt: skip


def take_next(store: Store) -> VariantJob | None:
    """Mark the oldest waiting variant as running; that one, or None."""
    with store.write() as db:
        row = db.execute(
            "SELECT * FROM proposal_variants WHERE state = 'queued' ORDER BY asked, line LIMIT 1"
        ).fetchone()
        if row is None:
            return None
        job = VariantJob(row["proposal_id"], row["line"])
        _set(db, job, "running", tries=row["tries"] + 1)
        return job


def save_progress(store: Store, job: VariantJob, share: float) -> None:
    """Save the share of a running variant that is done, 0 to 1."""
    with store.write() as db:
        _set(db, job, "running", share=share)


def fail(store: Store, job: VariantJob, error: str) -> None:
    """End a variant that cannot be made, and say why."""
    with store.write() as db:
        _set(db, job, "failed", error=error)


def item_to_render(store: Store, job: VariantJob) -> tuple[Item, dict[str, Any]]:
    """Return a variant described among other sounds, and as it is rendered.

    Its number is not given yet: 0.

    Raises
    ------
    InputError
        If its wiring cannot be read or does not have these settings.
    """
    with store.read() as db:
        row = next(one for one in _rows(db, job.proposal) if one["line"] == job.line)
        items = items_of(db, job.proposal)
        first = items[row["of_number"] - 1]
        text = str(version_row(db, first["version_id"])["text"])
    knobs = json.loads(row["knobs"])
    turned = [
        f"{plain_name(one)} {knobs[one]:g}"
        for one, at in first["knobs"].items()
        if knobs[one] != round(float(at), DECIMALS)
    ]
    label = f"{first['label']}, turned to {', '.join(turned)}"
    requests = [SoundRequest(_hearing(one, one["knobs"])) for one in items]
    item = describe_sounds(store, [*requests, SoundRequest(_hearing(first, knobs), label)])[-1]
    return item, {**first, "number": 0, "knobs": dict(item.knobs), "text": text}


def _hearing(item: Mapping[str, Any], knobs: Mapping[str, float]) -> Hearing:
    return Hearing(Draft(item["version_id"]), item["position"], knobs, item["switches"])


def offer_variant(
    store: Store,
    job: VariantJob,
    item: Item,
    clips: Mapping[str, Sequence[Made]],
    picture: tuple[str, str] | None,
) -> None:
    """Offer a rendered variant as its proposal's next sound, at once.

    If somebody signed meanwhile, nothing is added.

    Parameters
    ----------
    clips : mapping of str to sequence of Made
        By take.
    picture : tuple of str or None
        Digest and words.
    """
    with store.write() as db:
        if state_of(db, row_of(db, job.proposal)) == "signed":
            _set(db, job, "failed", error="It was signed before this sound was ready: nothing was added.")
            return
        number = len(items_of(db, job.proposal)) + 1
        insert_item(db, job.proposal, number, item)
        for take, made in clips.items():
            insert_clips(db, job.proposal, take, [replace(one, number=number) for one in made])
        if picture is not None:
            db.execute("INSERT INTO proposal_pictures VALUES (?, ?, ?, ?)", (job.proposal, number, *picture))
        db.execute(
            "UPDATE proposal_variants SET state = 'done', share = 1, error = '', number = ?, offered = ?"
            " WHERE proposal_id = ? AND line = ?", (number, now(), job.proposal, job.line),
        )  # fmt: skip
        count_change(db, job.proposal)
