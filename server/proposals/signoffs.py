"""Sign-offs: one per proposal, for good.

A record is written once, as canonical JSON. It holds the wiring by the digest of its text, its sounds,
parts and terms, the clips and pictures by their digests, all that was offered, in which ways it could be
heard and was, who signed, when, by which way, and the sentence agreed to. Its SHA-256 is the record's
fingerprint, which the customer sees and can keep; each record holds the fingerprint of the one signed before
it. Triggers protect the rows; `verify` finds changes made in spite of them. If somebody rewrites a record and
all later ones with new fingerprints, only the fingerprints that customers kept can show it.
"""

from __future__ import annotations

import datetime
import hashlib
import json
import sqlite3
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from dsp.errors import InputError
from server.database.store import Store, now
from server.proposals.clip_files import clip_problem
from server.proposals.pictures import pictures_of
from server.proposals.queue import clips_of
from server.proposals.store import by_token, count_change, items_of, row_of, takes_of
from server.proposals.variants import first_sounds
from server.proposals.ways import DIRECT_ALONE, ways_of
from server.proposals.wirings import offered_wirings, require_wiring
from server.refusals import Conflict

FORMATS = {"sound": 3, "wiring": 4}
"""Of a record, by what is signed for. 3 says by which way the signature came; 2 holds the digests of the
pictures shown, 1 neither. Sounds are signed for by answers to files that were sent before wirings were.
All of these are of sounds heard direct."""
HEARD_FORMAT = 5
"""Of a record with sounds that could be heard otherwise: ``ways`` names how, the one heard first at the
start; each clip has its ``way``; ``heard`` tells by number in which ways the signer's page had played a
sound. Such a clip is no direct one, so a reader of an older format must not take it for one."""
BY_LINK = {"via": "link"}
"""The way of a signature on the page that a link opens."""
STATEMENTS = {
    "sound": "I have listened to the sounds of this proposal and choose this one."
    " The workshop may build it as I heard it.",
    "wiring": "I have listened to the sounds of this proposal and choose this wiring: its sounds, its parts"
    " and its terms as shown. The workshop may build it as I heard it.",
}
"""The sentence agreed to by signing, by what is signed for; the page and the record show it."""
SENTENCES = {"sound": 1, "wiring": 2}
"""The numbers of these sentences in an answer."""
Heard = Sequence[tuple[int, str]]
"""Numbers of sounds, each with a way in which a page has played it."""
DAYS_AROUND = 1
"""Most days between the typed date and the server's: time zones differ."""


@dataclass(frozen=True)
class Choice:
    """What is signed for.

    Attributes
    ----------
    of : str
        ``wiring``, with all of its sounds; or ``sound``.
    number : int
        Of the wiring or sound.
    sounds : int or None
        How many sounds were offered then, the first ones; all for None.
    way : str or None
        The only one in which they could be heard; None for each that the proposal offers.
    """

    of: str
    number: int
    sounds: int | None = None
    way: str | None = None


def canonical(record: Any) -> str:
    """Return JSON with sorted keys and no spaces: one text per content."""
    return json.dumps(record, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)


def fingerprint(record: str) -> str:
    """Return the SHA-256 of a canonical record, hexadecimal."""
    return hashlib.sha256(record.encode()).hexdigest()


def sign(
    store: Store,
    token: str,
    wiring: int,
    name: str,
    date: str,
    shown: Collection[int] | None = None,
    heard: Heard = (),
) -> dict[str, Any]:
    """Sign a proposal off, choosing one wiring, and return the sign-off.

    The same request again, as after a lost answer, returns the sign-off that is there.

    Parameters
    ----------
    shown : collection of int or None
        Numbers of the sounds that the signer was shown with the wiring; None for those offered at first.
    heard : sequence of tuple of int and str
        What the signer's page has played. What is not offered is left out.

    Raises
    ------
    Unknown, Gone
        As `by_token`.
    InputError
        For a number that is not offered, or a date more than a day from today.
    Conflict
        If it is signed already, a clip of the wiring is not rendered yet, or a sound of it was not shown.
    """
    _check_date(date)
    with store.write() as db:
        proposal = by_token(db, token)["id"]
        sounds = require_wiring(db, proposal, wiring)["sounds"]
        before = signoff_of(db, proposal)
        if before is not None:
            if [before[key] for key in ("of", "number", "name", "date")] == ["wiring", wiring, name, date]:
                return before
            got = f"signed by {before['name']} on {before['date']}, choosing “{before['label']}”"
            hint = "talk to the workshop if you want something else"
            raise Conflict("this proposal", got, "one sign-off for each proposal", hint)
        _require_shown(sounds, first_sounds(db, proposal) if shown is None else shown)
        return insert_signoff(db, proposal, Choice("wiring", wiring), name, date, BY_LINK, heard)


def _require_shown(sounds: Collection[int], shown: Collection[int]) -> None:
    """Refuse a signature for a sound that came after its page was loaded."""
    if newer := [number for number in sounds if number not in shown]:
        told = ", ".join(map(str, newer))
        got = f"a new sound of this wiring, number {told}, that you have not been shown"
        raise Conflict("sounds", got, "a signature for sounds that you know", "listen to it first, then sign")


def _check_date(date: str) -> None:
    try:
        day = datetime.date.fromisoformat(date)
    except ValueError as error:
        raise InputError("date", date, "a day such as 2026-03-12") from error
    today = datetime.datetime.now(datetime.UTC).date()
    if len(date) != 10 or abs((day - today).days) > DAYS_AROUND:
        raise InputError("date", date, f"today, {today.isoformat()}")


def insert_signoff(
    db: sqlite3.Connection,
    proposal: str,
    choice: Choice,
    name: str,
    date: str,
    way: Mapping[str, Any],
    heard: Heard = (),
) -> dict[str, Any]:
    """Insert the only sign-off of a proposal, and return it.

    Parameters
    ----------
    way : mapping of str to Any
        How the signature came; the record holds it.
    heard : sequence of tuple of int and str
        Numbers and ways of the sounds that the signer's page has played.

    Raises
    ------
    Conflict
        If a clip of what was chosen is not rendered yet.
    """
    last = db.execute("SELECT sha256 FROM signoffs ORDER BY place DESC LIMIT 1").fetchone()
    previous = "" if last is None else str(last["sha256"])
    record = _record(db, proposal, choice, heard)
    record |= {"name": name, "date": date, "signed": now(), "previous": previous, **way}
    text = canonical(record)
    columns = {**_columns(record), "record": text, "sha256": fingerprint(text)}
    db.execute(
        f"INSERT INTO signoffs ({', '.join(columns)}) VALUES ({', '.join('?' * len(columns))})",
        tuple(columns.values()),
    )
    count_change(db, proposal)
    signed = signoff_of(db, proposal)
    assert signed is not None
    return signed


def _record(db: sqlite3.Connection, proposal: str, choice: Choice, heard: Heard) -> dict[str, Any]:
    """Return the record of a sign-off without who and when."""
    row = row_of(db, proposal)
    items = offered_items(db, proposal)[: choice.sounds]
    wirings = offered_wirings(db, proposal, choice.sounds)
    offered = wirings if choice.of == "wiring" else items
    chosen = next(one for one in offered if one["number"] == choice.number)
    ways = ways_of(db, proposal) if choice.way is None else [choice.way]
    direct = tuple(ways) == DIRECT_ALONE
    clips = _clips(db, proposal, chosen, choice.of, ways)
    pictures = picture_digests(db, proposal)
    return {
        "format": FORMATS[choice.of] if direct else HEARD_FORMAT,
        "statement": STATEMENTS[choice.of],
        "proposal": proposal,
        "commission": row["commission_id"],
        "title": row["title"],
        "created": row["created"],
        "chosen": chosen,
        "clips": clips,
        "offered": items,
        **({"wirings": wirings} if choice.of == "wiring" else {}),
        **({} if direct else {"ways": ways, "heard": _heard(chosen, choice.of, ways, heard)}),
        "pictures": {number: sha256 for number, sha256 in pictures.items() if int(number) <= len(items)},
    }


def _heard(chosen: Mapping[str, Any], of: str, ways: Sequence[str], heard: Heard) -> dict[str, list[str]]:
    """Return by number in which ways the sounds of a choice were played."""
    return {str(number): [way for way in ways if (number, way) in heard] for number in _sounds_of(chosen, of)}


def _sounds_of(chosen: Mapping[str, Any], of: str) -> list[int]:
    return list(chosen["sounds"]) if of == "wiring" else [chosen["number"]]


def _clips(
    db: sqlite3.Connection, proposal: str, chosen: Mapping[str, Any], of: str, ways: Sequence[str]
) -> list[dict[str, Any]]:
    """Return the clips of what was chosen, as a record names them."""
    sounds, direct = _sounds_of(chosen, of), tuple(ways) == DIRECT_ALONE
    clips = [
        {**({"number": clip["number"]} if of == "wiring" else {}),
         **({} if direct else {"way": clip["way"]}),
         "take": clip["take_id"], "flac_sha256": clip["flac_sha256"], "mp3_sha256": clip["mp3_sha256"],
         "wired_gain_db": clip["wired_gain_db"]}
        for clip in clips_of(db, proposal) if clip["number"] in sounds and clip["way"] in ways
    ]  # fmt: skip
    if len(clips) < len(sounds) * len(takes_of(db, proposal)) * len(ways):
        raise Conflict("this choice", "sounds still being prepared", "a choice with all its clips",
                       "try again soon")  # fmt: skip
    return clips


def _columns(record: Mapping[str, Any]) -> dict[str, Any]:
    """Return what the columns of a sign-off repeat of its record."""
    chosen = record["chosen"]
    wiring = chosen["number"] if "sounds" in chosen else None
    return {
        "proposal_id": record["proposal"],
        "number": chosen["number"] if wiring is None else chosen["sounds"][0],
        "wiring": wiring,
        "version_id": chosen["version"],
        "version_sha256": chosen["text_sha256"],
        **{key: record[key] for key in ("name", "date", "signed", "previous")},
    }


def picture_digests(db: sqlite3.Connection, proposal: str) -> dict[str, str]:
    """Return the digests of the pictures shown, by the number of their sound."""
    return {str(row["number"]): row["sha256"] for row in pictures_of(db, proposal)}


def offered_items(db: sqlite3.Connection, proposal: str) -> list[dict[str, Any]]:
    """Return the sounds of a proposal as a record names them."""
    return [_offered(db, item) for item in items_of(db, proposal)]


def _offered(db: sqlite3.Connection, item: dict[str, Any]) -> dict[str, Any]:
    version = db.execute(
        "SELECT versions.number, wirings.name FROM versions JOIN wirings ON wirings.id = wiring_id"
        " WHERE versions.id = ?", (item["version_id"],),
    ).fetchone()  # fmt: skip
    sound = {key: item[key] for key in ("number", "label", "words", "position", "knobs", "switches")}
    wiring = {"wiring": version["name"], "version": item["version_id"], "version_number": version["number"]}
    return {**sound, **wiring, "text_sha256": item["version_sha256"]}


def signoff_of(db: sqlite3.Connection, proposal: str) -> dict[str, Any] | None:
    """Return a proposal's sign-off, or None."""
    row = db.execute(
        "SELECT signoffs.*, label, proposal_wirings.name AS wiring_name FROM signoffs"
        " JOIN proposal_items USING (proposal_id, number)"
        " LEFT JOIN proposal_wirings ON proposal_wirings.proposal_id = signoffs.proposal_id"
        " AND proposal_wirings.number = wiring WHERE signoffs.proposal_id = ?", (proposal,),
    ).fetchone()  # fmt: skip
    if row is None:
        return None
    of = "sound" if row["wiring"] is None else "wiring"
    chosen = (row["number"], row["label"]) if of == "sound" else (row["wiring"], row["wiring_name"])
    return {
        "of": of,
        **dict(zip(("number", "label"), chosen, strict=True)),
        **{key: row[key] for key in ("name", "date", "sha256", "version_sha256")},
        "when": row["signed"],
        "version": row["version_id"],
    }


def signed_versions(store: Store, wiring: str) -> dict[str, str]:
    """Return the signed versions of a wiring, each with its last date."""
    with store.read() as db:
        rows = db.execute(
            "SELECT version_id, signoffs.date FROM signoffs JOIN versions ON versions.id = version_id"
            " WHERE wiring_id = ? ORDER BY place", (wiring,),
        ).fetchall()  # fmt: skip
    return {str(row["version_id"]): str(row["date"]) for row in rows}


def read_record(db: sqlite3.Connection, proposal: str) -> dict[str, Any] | None:
    """Return a signed record as it stands, or None if none can be read."""
    row = db.execute("SELECT record FROM signoffs WHERE proposal_id = ?", (proposal,)).fetchone()
    try:
        found = None if row is None else json.loads(row["record"])
    except ValueError:
        return None
    return found if isinstance(found, dict) else None


def record_of(store: Store, token: str) -> tuple[str, str] | None:
    """Return the record of a link's proposal and its fingerprint, or None."""
    with store.read() as db:
        proposal = by_token(db, token)["id"]
        row = db.execute("SELECT record, sha256 FROM signoffs WHERE proposal_id = ?", (proposal,)).fetchone()
        return None if row is None else (str(row["record"]), str(row["sha256"]))


def verify(store: Store, data: Path, proposal: str) -> list[str]:
    """Return what changed after the signature; empty if the sign-off holds.

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
    with store.read() as db:
        row_of(db, proposal)
        row = db.execute("SELECT * FROM signoffs WHERE proposal_id = ?", (proposal,)).fetchone()
        if row is None:
            raise InputError("sign-off", "none", "a proposal that was signed")
        problems = _record_problems(row)
        if problems:
            return problems  # the record cannot be trusted
        record = json.loads(row["record"])
        problems += _column_problems(row, record) + _chain_problems(db, row)
        problems += _wiring_problems(db, record)
        count = len(record["offered"])  # a sound that came later is not in what was signed
        wirings = offered_wirings(db, proposal, count) if "wirings" in record else []
        if offered_items(db, proposal)[:count] != record["offered"] or wirings != record.get("wirings", []):
            problems.append("what was offered is no longer what the record says")
        if not set(record.get("ways", DIRECT_ALONE)) <= set(ways_of(db, proposal)):
            problems.append("the ways to hear it are no longer those of the record")
        shown = record.get("pictures", {})
        now_shown = picture_digests(db, proposal)
        if any(now_shown.get(number) != sha256 for number, sha256 in shown.items()):
            problems.append("the pictures shown are no longer those of the record")
    problems += filter(None, (clip_problem(data, sha256, "svg") for sha256 in shown.values()))
    for clip in record["clips"]:
        found = (clip_problem(data, clip[f"{ending}_sha256"], ending) for ending in ("flac", "mp3"))
        problems += [one for one in found if one]
    return problems


def _record_problems(row: sqlite3.Row) -> list[str]:
    if fingerprint(row["record"]) != row["sha256"]:
        return ["the record is no longer the one its fingerprint was taken from"]
    try:
        again = canonical(json.loads(row["record"]))
    except ValueError:
        return ["the record is no longer readable"]
    return [] if again == row["record"] else ["the record is not in its canonical form"]


def _column_problems(row: sqlite3.Row, record: dict[str, Any]) -> list[str]:
    return [
        f"{key} is '{row[key]}', the record says '{value}'"
        for key, value in _columns(record).items()
        if row[key] != value
    ]


def _chain_problems(db: sqlite3.Connection, row: sqlite3.Row) -> list[str]:
    before = db.execute(
        "SELECT sha256 FROM signoffs WHERE place < ? ORDER BY place DESC LIMIT 1", (row["place"],)
    ).fetchone()
    after = db.execute(
        "SELECT previous FROM signoffs WHERE place > ? ORDER BY place LIMIT 1", (row["place"],)
    ).fetchone()
    problems = []
    if (before["sha256"] if before else "") != row["previous"]:
        problems.append("the sign-off before this one is another, or gone")
    if after is not None and after["previous"] != row["sha256"]:
        problems.append("the sign-off after this one follows another record")
    return problems


def _wiring_problems(db: sqlite3.Connection, record: dict[str, Any]) -> list[str]:
    problems = []
    for item in record["offered"]:
        row = db.execute("SELECT text FROM versions WHERE id = ?", (item["version"],)).fetchone()
        if row is None or hashlib.sha256(row["text"].encode()).hexdigest() != item["text_sha256"]:
            problems.append(f"the wiring of {item['number']} is no longer the one that was offered")
    return problems
