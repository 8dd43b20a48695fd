"""Taking answers in: each is taken in once, beside those before; a clear signature signs.

A signature is clear if the file is the newest that was sent, the proposal was still open, and
nobody signed before. Any other waits until the workshop says how the customer confirmed it.
"""

from __future__ import annotations

import datetime
import json
import sqlite3
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from dsp.errors import InputError
from server.answers.content import Content, read_content
from server.answers.manifests import Sent, find_manifest, newer_offer
from server.answers.sealing import damaged, is_sealed, open_text, squeeze
from server.database.store import Store, now
from server.proposals.signoffs import fingerprint, insert_signoff, signoff_of
from server.proposals.store import count_change, row_of
from server.proposals.variants import ask_for
from server.refusals import Conflict, Unknown

NOT_OURS, THERE = "an answer to something not sent from here", "take it in where that file was saved"
ANOTHER = "make a new proposal if the customer wants something else"
HOURS_APART = 24
"""Beyond these, the customer's clock and the server's are said to differ."""


@dataclass(frozen=True)
class Answer:
    """An answer as it was taken in.

    Attributes
    ----------
    text : str
        Canonical JSON.
    """

    sha256: str
    sent: Sent
    received: str
    text: str
    content: Content


def take_in(store: Store, text: str) -> tuple[str, bool]:
    """Keep a sealed answer; sign with its signature if that is clear.

    Returns
    -------
    tuple of str and bool
        The answer's digest, and whether it was taken in before.

    Raises
    ------
    InputError
        If the text is no answer, was changed, or says what no page lets say.
    TooLarge
    Unknown
        If this workshop never sent what it answers.
    """
    sealed = squeeze(text)
    plain, content = open_text(sealed)
    sha256 = fingerprint(plain)
    with store.write() as db:
        sent = find_manifest(db, str(content.get("s")))
        if sent is None:
            raise Unknown("answer", NOT_OURS, "an answer to a file saved here", THERE)
        if not is_sealed(sealed, sent.secret):
            raise damaged()
        if db.execute("SELECT 1 FROM answers WHERE sha256 = ?", (sha256,)).fetchone() is not None:
            return sha256, True
        answer = Answer(sha256, sent, now(), plain, read_content(content, sent.manifest))
        db.execute(
            "INSERT INTO answers VALUES (?, ?, ?, ?, ?, ?)",
            (sha256, sent.sha256, sent.proposal, answer.received, plain, sealed),
        )
        count_change(db, sent.proposal)
        clear = not any(one["asks"] for one in warnings_of(db, answer))
        if answer.content.sign is not None and clear and signoff_of(db, sent.proposal) is None:
            _sign(db, answer, "")
        return sha256, False


def sign_after_asking(store: Store, sha256: str, word: str) -> None:
    """Sign with a signature in doubt that the customer has confirmed.

    Parameters
    ----------
    word : str
        How the customer confirmed it; the record holds it.

    Raises
    ------
    Unknown
        If there is no such answer.
    InputError
        If it holds no signature.
    Conflict
        If the proposal is signed already.
    """
    with store.write() as db:
        answer = find_answer(db, sha256)
        if answer.content.sign is None:
            raise InputError("answer", "one without a signature", "one that is signed")
        if (before := signoff_of(db, answer.sent.proposal)) is not None:
            got = f"signed by {before['name']}, choosing “{before['label']}”"
            raise Conflict("this proposal", got, "one sign-off for each proposal", ANOTHER)
        _sign(db, answer, word)


def make_sound(store: Store, sha256: str, place: int) -> bool:
    """Ask for the sound of a wish; return whether it is to be rendered.

    Parameters
    ----------
    place : int
        Of the wish in the answer, from 0.

    Raises
    ------
    Unknown
        If there is no such answer.
    InputError
        If it has no such wish, or as `ask_for`.
    Conflict
        As `ask_for`.
    """
    with store.write() as db:
        answer = find_answer(db, sha256)
        wishes = answer.content.wish
        if place >= len(wishes):
            raise InputError("wish", f"number {place}", f"one of its {len(wishes)}, counted from 0")
        return ask_for(db, answer.sent.proposal, *wishes[place])


def _sign(db: sqlite3.Connection, answer: Answer, word: str) -> None:
    """Insert the sign-off of an answer; its record holds the answer itself."""
    sign = answer.content.sign
    assert sign is not None
    way = {
        "via": "answer",
        "sent": answer.sent.sha256,
        "answer": answer.text,
        "answer_sha256": answer.sha256,
        "received": answer.received,
        **({"word": word} if word else {}),
    }
    choice = answer.sent.choice(sign.n)
    heard = [(number, answer.sent.way) for number, _ in answer.content.heard]
    insert_signoff(db, answer.sent.proposal, choice, sign.name.strip(), answer.content.date, way, heard)


def find_answer(db: sqlite3.Connection, sha256: str) -> Answer:
    """Return an answer that was taken in.

    Raises
    ------
    Unknown
        If there is none.
    """
    row = db.execute("SELECT * FROM answers WHERE sha256 = ?", (sha256,)).fetchone()
    if row is None:
        raise Unknown("answer", "none that was taken in", "the digest of an answer")
    return _answer_of(db, row)


def answers_of(db: sqlite3.Connection, proposal: str) -> list[Answer]:
    """Return the answers to a proposal, the newest first."""
    rows = db.execute("SELECT * FROM answers WHERE proposal_id = ? ORDER BY rowid DESC", (proposal,))
    return [_answer_of(db, row) for row in rows]


def _answer_of(db: sqlite3.Connection, row: sqlite3.Row) -> Answer:
    sent = find_manifest(db, row["sent"])
    assert sent is not None
    content = read_content(json.loads(row["answer"]), sent.manifest)
    return Answer(row["sha256"], sent, row["received"], row["answer"], content)


def warnings_of(db: sqlite3.Connection, answer: Answer) -> list[dict[str, Any]]:
    """Return what the workshop should know of an answer.

    Returns
    -------
    list of dict
        `kind`: older, closed, expired, second, clock or unheard; `asks`: whether a signature must
        wait for a word from the customer; and what the kind needs to be said.
    """
    found: list[dict[str, Any]] = []
    sent, row = answer.sent, row_of(db, answer.sent.proposal)
    if (newer := newer_offer(db, sent)) is not None:
        found.append({"kind": "older", "asks": True, "sent": sent.created, "newer": newer})
    if row["revoked"] is not None and row["revoked"] < answer.received:
        found.append({"kind": "closed", "asks": True, "closed": row["revoked"]})
    if sent.manifest["expires"] < answer.received:
        found.append({"kind": "expired", "asks": True, "expires": sent.manifest["expires"]})
    if _hours_between(answer.content.w, answer.received) > HOURS_APART:
        found.append({"kind": "clock", "asks": False, "written": answer.content.w,
                      "received": answer.received})  # fmt: skip
    sign, signed = answer.content.sign, signoff_of(db, sent.proposal)
    if sign is None:
        return found
    if signed is not None and is_second(answer, signed):
        keys = ("name", "label", "date")
        found.append({"kind": "second", "asks": True, **{key: signed[key] for key in keys}})
    heard = {number for number, _ in answer.content.heard}
    if unheard := [number for number in _sounds(sent, sign.n) if number not in heard]:
        found.append({"kind": "unheard", "asks": False, "numbers": unheard})
    return found


def is_second(answer: Answer, signed: Mapping[str, Any]) -> bool:
    """Whether an answer's signature is another than the one that counts."""
    sign = answer.content.sign
    assert sign is not None
    choice = answer.sent.choice(sign.n)
    return [signed[key] for key in ("of", "number", "name")] != [choice.of, choice.number, sign.name.strip()]


def _sounds(sent: Sent, number: int) -> list[int]:
    """Return the numbers of the sounds that a signature is for."""
    if sent.choice(number).of == "sound":
        return [number]
    wiring = next(one for one in sent.manifest["wirings"] if one["number"] == number)
    return list(wiring["sounds"])


def _hours_between(first: str, second: str) -> float:
    moments = [datetime.datetime.fromisoformat(one) for one in (first, second)]
    return abs((moments[1] - moments[0]).total_seconds()) / 3600.0
