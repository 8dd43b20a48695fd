"""An answer as the bench shows it, and whether a signature that came with one still holds."""

from __future__ import annotations

import sqlite3
from pathlib import Path
from typing import Any

from server.answers.manifests import find_manifest, manifest_problem
from server.answers.sealing import is_sealed, open_text
from server.answers.taking_in import Answer, answers_of, find_answer, is_second, warnings_of
from server.database.store import Store
from server.proposals import signoffs
from server.proposals import store as proposals
from server.proposals.signoffs import fingerprint, read_record, signoff_of
from server.proposals.variants import Answers


def get_answer(store: Store, sha256: str) -> dict[str, Any]:
    """Return an answer that was taken in.

    Raises
    ------
    Unknown
        If there is none.
    """
    with store.read() as db:
        return _answer_json(db, find_answer(db, sha256))


def list_answers(store: Store, commission: str) -> list[dict[str, Any]]:
    """Return the answers to a commission's proposals, the newest first.

    Raises
    ------
    Unknown
        If there is no such commission.
    """
    ids = proposals.of_commission(store, commission)
    with store.read() as db:
        found = [_answer_json(db, one) for proposal in ids for one in answers_of(db, proposal)]
    return sorted(found, key=lambda one: str(one["received"]), reverse=True)


def _answer_json(db: sqlite3.Connection, answer: Answer) -> dict[str, Any]:
    content, manifest = answer.content, answer.sent.manifest
    commission = db.execute(
        "SELECT commissions.id, commissions.title FROM commissions JOIN proposals"
        " ON commission_id = commissions.id WHERE proposals.id = ?", (answer.sent.proposal,),
    ).fetchone()  # fmt: skip
    return {
        "sha256": answer.sha256,
        "proposal": answer.sent.proposal,
        "commission": commission["id"],
        "commission_title": commission["title"],
        "title": manifest["title"],
        "sent": answer.sent.created,
        "written": content.w,
        "received": answer.received,
        "items": [{key: item[key] for key in ("number", "label")} for item in manifest["items"]],
        "favourites": content.fav,
        "notes": [{"number": number, "text": text} for number, text in content.notes],
        "wishes": _wishes_json(db, answer),
        "state": proposals.state_of(db, proposals.row_of(db, answer.sent.proposal)),
        "heard": sorted({number for number, _ in content.heard}),
        "signature": signature_json(db, answer),
        "warnings": warnings_of(db, answer),
    }


def _wishes_json(db: sqlite3.Connection, answer: Answer) -> list[dict[str, Any]]:
    """Return the wishes, each with the sound that answers it or how far that is."""
    found = Answers(db, answer.sent.proposal)
    return [
        {"number": number, "knobs": knobs, **found.find(number, knobs).told_at_bench()}
        for number, knobs in answer.content.wish
    ]


def signature_json(db: sqlite3.Connection, answer: Answer) -> dict[str, Any] | None:
    """Return the signature.

    Its state is signed, signed before, second, or waiting for a word.
    """
    sign, signed = answer.content.sign, signoff_of(db, answer.sent.proposal)
    if sign is None:
        return None
    record = read_record(db, answer.sent.proposal) or {}
    if signed is None:
        state = "waiting"
    elif record.get("answer_sha256") == answer.sha256:
        state = "signed"
    else:
        state = "second" if is_second(answer, signed) else "signed before"
    return {
        "label": answer.sent.label(sign.n),
        "name": sign.name.strip(),
        "date": answer.content.date,
        "state": state,
    }


def verify(store: Store, data: Path, proposal: str) -> list[str]:
    """Return what changed after the signature, in its answer too.

    Parameters
    ----------
    data : Path
        The folder with the clips.

    Raises
    ------
    Unknown
        If there is no such proposal.
    InputError
        If it was never signed, or its sign-off was deleted.
    """
    problems = signoffs.verify(store, data, proposal)
    with store.read() as db:
        record = read_record(db, proposal) or {}
        return problems + (_answer_problems(db, record) if record.get("via") == "answer" else [])


def _answer_problems(db: sqlite3.Connection, record: dict[str, Any]) -> list[str]:
    sent, kept = find_manifest(db, record["sent"]), manifest_problem(db, record["sent"])
    row = db.execute("SELECT * FROM answers WHERE sha256 = ?", (record["answer_sha256"],)).fetchone()
    problems = [kept] if kept else []
    if fingerprint(record["answer"]) != record["answer_sha256"]:
        problems.append("the answer in the record is another")
    if row is None:
        problems.append("the answer that was signed is gone")
    elif row["answer"] != record["answer"] or not _seal_holds(row["sealed"], row["answer"], sent):
        problems.append("the answer that was signed is another")
    if sent is not None and [sent.manifest["items"], sent.manifest.get("wirings")] != [
        record["offered"],
        record.get("wirings"),
    ]:
        problems.append("what was sent is not what the record says")
    return problems


def _seal_holds(sealed: str, answer: str, sent: Any) -> bool:
    try:
        return sent is not None and is_sealed(sealed, sent.secret) and open_text(sealed)[0] == answer
    except ValueError:
        return False
