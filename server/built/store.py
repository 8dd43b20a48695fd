"""What is being read at a finished guitar, in the database, until it is thrown away."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from server.commissions.versions import wiring_row
from server.database.store import Store, now
from server.measurements.store import CALIBRATION, Kept
from server.refusals import Conflict, TooLarge, Unknown

MOST_RECORDINGS = 200
"""Of one wiring: more settings than any guitar is read at."""
OF_A_GUITAR = ("meter", "excited", "serial", "notes", "impedance")
"""Fields that belong to one guitar, not to the rig or to all of a wiring."""
MOST_READINGS = 512
"""Of the meter, at one wiring."""
MOST_THROWN = 4
"""Guitars of one wiring whose readings were thrown away and can come back."""


@dataclass(frozen=True)
class JackReadings:
    """Everything that is being read at one guitar.

    Attributes
    ----------
    rig : mapping of str to Kept
        Transfers by step, read at the plug; they serve every guitar.
    fields : mapping of str to Any
        What was typed.
    recordings : mapping of str to Kept
        By setting: a transfer, or a curve from a table.
    emptied : int
        How often other readings came in place of these: each time it is another guitar.
    thrown : bool
        Whether readings that were thrown away can come back.
    """

    rig: Mapping[str, Kept]
    fields: Mapping[str, Any] = field(default_factory=dict)
    recordings: Mapping[str, Kept] = field(default_factory=dict)
    emptied: int = 0
    thrown: bool = False

    @property
    def is_empty(self) -> bool:
        """Whether nothing of a guitar is there, but for the rig's own."""
        return not self.recordings and not any(self.fields.get(key) for key in OF_A_GUITAR)


def get_readings(store: Store, wiring: str) -> JackReadings:
    """Return what is being read at a guitar, empty before anything was.

    The known resistor belongs to the rig: one serves every guitar, of whichever wiring.

    Raises
    ------
    Unknown
        If there is no such wiring.
    """
    with store.read() as db:
        wiring_row(db, wiring)
        return _readings(db, wiring)


def keep_fields(store: Store, wiring: str, changes: Mapping[str, Any]) -> JackReadings:
    """Keep what was typed, and return what stands then.

    All else stays, for somebody may type in another window: of the meter and of an exciter each reading
    by itself. An empty reading goes.

    Raises
    ------
    Unknown
    TooLarge
        Beyond `MOST_READINGS` of the meter or of an exciter.
    """
    with store.write() as db:
        wiring_row(db, wiring)
        before = _readings(db, wiring).fields
        typed = {**before.get("meter", {}), **changes.get("meter", {})}
        meter = {setting: value for setting, value in typed.items() if value}
        excited = _excited_with(before, changes.get("excited", {}))
        if len(meter) > MOST_READINGS:
            raise TooLarge("readings", f"{len(meter)} of the meter", f"up to {MOST_READINGS}")
        _set_fields(db, wiring, {**before, **changes, "meter": meter, "excited": excited})
        return _readings(db, wiring)


def keep_excited(
    store: Store, wiring: str, values: Mapping[str, Mapping[str, str]], name: str, *, emptied: int
) -> None:
    """Keep what a recording under an exciter reads, not what was typed.

    Parameters
    ----------
    values : mapping
        By what, then by setting.
    name : str
        Of the recording's file.
    emptied : int
        Of the readings when the file began to come.

    Raises
    ------
    Unknown
    Conflict
        If the fields were emptied since.
    TooLarge
        Beyond `MOST_READINGS`.
    """
    with store.write() as db:
        wiring_row(db, wiring)
        _require_same(db, wiring, name, emptied)
        before = _readings(db, wiring).fields
        _set_fields(db, wiring, {**before, "excited": _excited_with(before, values)})


def _excited_with(
    before: Mapping[str, Any], values: Mapping[str, Mapping[str, str]]
) -> dict[str, dict[str, str]]:
    """Return readings of an exciter with others in their place; empty ones go."""
    found = {what: dict(of) for what, of in before.get("excited", {}).items()}
    for what, of in values.items():
        found[what] = {**found.get(what, {}), **of}
    found = {what: {at: value for at, value in of.items() if value} for what, of in found.items()}
    found = {what: of for what, of in found.items() if of}
    count = sum(map(len, found.values()))
    if count > MOST_READINGS:
        raise TooLarge("readings", f"{count} of an exciter", f"up to {MOST_READINGS}")
    return found


def _require_same(db: sqlite3.Connection, wiring: str, name: str, emptied: int) -> None:
    """Refuse a file of a guitar that is gone: the fields were emptied since it began to come."""
    if _emptied(db, wiring) != emptied:
        got = f"{name}, of the guitar before"
        allowed = "a file of the guitar that is being read"
        hint = "the fields were emptied while it was on its way: bring it again if it is of this guitar"
        raise Conflict("recordings", got, allowed, hint)


def keep_calibration(store: Store, step: str, name: str, content: Any) -> None:
    """Keep a recording of the rig without a guitar.

    Parameters
    ----------
    step : str
        One of `CALIBRATION`.
    content : object
        A transfer as JSON.
    """
    with store.write() as db:
        db.execute(
            "INSERT OR REPLACE INTO jack_rig (step, name, came, transfer) VALUES (?, ?, ?, ?)",
            (step, name, now(), json.dumps(content)),
        )


def keep_recording(store: Store, wiring: str, setting: str, name: str, content: Any, *, emptied: int) -> None:
    """Keep what was read from a file at one setting.

    Parameters
    ----------
    emptied : int
        Of the readings when the file began to come.

    Raises
    ------
    Unknown
    Conflict
        If the fields were emptied since: the file is of a guitar that is gone.
    TooLarge
        Beyond `MOST_RECORDINGS` of one wiring.
    """
    with store.write() as db:
        wiring_row(db, wiring)
        _require_same(db, wiring, name, emptied)
        db.execute("DELETE FROM jack_recordings WHERE wiring_id = ? AND setting = ?", (wiring, setting))
        query = "SELECT count(*) FROM jack_recordings WHERE wiring_id = ?"
        count = db.execute(query, (wiring,)).fetchone()[0]
        if count >= MOST_RECORDINGS:
            raise TooLarge("recordings", f"{count} of this wiring", f"up to {MOST_RECORDINGS}")
        db.execute(
            "INSERT INTO jack_recordings VALUES (?, ?, ?, ?, ?)",
            (wiring, setting, name, now(), json.dumps(content)),
        )


def drop_calibration(store: Store, step: str) -> None:
    """Throw one of the rig's recordings away."""
    with store.write() as db:
        db.execute("DELETE FROM jack_rig WHERE step = ?", (step,))


def drop_recording(store: Store, wiring: str, setting: str) -> None:
    """Throw away what a file said of one setting.

    Raises
    ------
    Unknown
    """
    with store.write() as db:
        wiring_row(db, wiring)
        db.execute("DELETE FROM jack_recordings WHERE wiring_id = ? AND setting = ?", (wiring, setting))
        fields = dict(_readings(db, wiring).fields)
        if setting in fields.get("impedance", {}):
            impedance = {key: one for key, one in fields["impedance"].items() if key != setting}
            _set_fields(db, wiring, {**fields, "impedance": impedance})


def drop_readings(store: Store, wiring: str) -> None:
    """Throw everything of one guitar away; `exchange_readings` undoes it.

    The rig's own recordings stay. Where nothing stands, nothing is thrown away; files on their way are
    refused all the same.

    Raises
    ------
    Unknown
    """
    with store.write() as db:
        wiring_row(db, wiring)
        stands = _readings(db, wiring)
        _empty(db, wiring)
        if not stands.is_empty:
            query = "SELECT coalesce(max(place), 0) + 1 FROM jack_thrown WHERE wiring_id = ?"
            _put_aside(db, wiring, stands, db.execute(query, (wiring,)).fetchone()[0])


def exchange_readings(store: Store, wiring: str) -> JackReadings:
    """Bring back what was thrown away last, and return what stands then.

    What came since is thrown away instead, and comes back after all others.

    Raises
    ------
    Unknown
        If there is no such wiring, or nothing that was thrown away.
    """
    with store.write() as db:
        wiring_row(db, wiring)
        query = "SELECT * FROM jack_thrown WHERE wiring_id = ? ORDER BY place DESC LIMIT 1"
        thrown = db.execute(query, (wiring,)).fetchone()
        if thrown is None:
            allowed = "readings of a guitar after which none was kept"
            raise Unknown("readings", "none that were thrown away", allowed)
        stands = _readings(db, wiring)
        _empty(db, wiring)
        _set_fields(db, wiring, json.loads(thrown["fields"]))
        db.executemany(
            "INSERT INTO jack_recordings VALUES (?, ?, ?, ?, ?)",
            [
                (wiring, setting, name, came, json.dumps(content))
                for setting, (name, came, content) in json.loads(thrown["recordings"]).items()
            ],
        )
        own = (wiring, thrown["place"])
        db.execute("DELETE FROM jack_thrown WHERE wiring_id = ? AND place = ?", own)
        if not stands.is_empty:
            query = "SELECT coalesce(min(place), 1) - 1 FROM jack_thrown WHERE wiring_id = ?"
            _put_aside(db, wiring, stands, db.execute(query, (wiring,)).fetchone()[0])
        return _readings(db, wiring)


def _put_aside(db: sqlite3.Connection, wiring: str, readings: JackReadings, place: int) -> None:
    """Keep readings that were thrown away; of more than `MOST_THROWN` the lowest go."""
    fields = {key: one for key, one in readings.fields.items() if key != "known"}
    recordings = {setting: (one.name, one.came, one.content) for setting, one in readings.recordings.items()}
    texts = (json.dumps(one, ensure_ascii=False) for one in (fields, recordings))
    db.execute("INSERT INTO jack_thrown VALUES (?, ?, ?, ?)", (wiring, place, *texts))
    db.execute(
        "DELETE FROM jack_thrown WHERE wiring_id = ? AND place NOT IN"
        " (SELECT place FROM jack_thrown WHERE wiring_id = ? ORDER BY place DESC LIMIT ?)",
        (wiring, wiring, MOST_THROWN),
    )


def open_readings(store: Store, wiring: str, fields: Mapping[str, Any]) -> None:
    """Put kept readings into the fields, in place of all that is there.

    Raises
    ------
    Unknown
    """
    with store.write() as db:
        wiring_row(db, wiring)
        _empty(db, wiring)
        _set_fields(db, wiring, fields)


def _set_fields(db: sqlite3.Connection, wiring: str, fields: Mapping[str, Any]) -> None:
    """Keep all fields of a guitar, and the known resistor beside the rig's recordings."""
    if "known" in fields:
        db.execute("INSERT OR REPLACE INTO jack_known (only_one, typed) VALUES (1, ?)", (fields["known"],))
    own = json.dumps({key: one for key, one in fields.items() if key != "known"}, ensure_ascii=False)
    db.execute(
        "INSERT INTO jack_readings (wiring_id, fields, changed) VALUES (?, ?, ?)"
        " ON CONFLICT (wiring_id) DO UPDATE SET fields = excluded.fields, changed = excluded.changed",
        (wiring, own, now()),
    )


def clear_readings(db: sqlite3.Connection, wiring: str) -> None:
    """Empty what is being read of a guitar that was kept.

    What was thrown away before it comes back no more.
    """
    _empty(db, wiring)
    db.execute("DELETE FROM jack_thrown WHERE wiring_id = ?", (wiring,))


def _empty(db: sqlite3.Connection, wiring: str) -> None:
    """Empty what is being read, so that another guitar can come."""
    db.execute("DELETE FROM jack_recordings WHERE wiring_id = ?", (wiring,))
    db.execute(
        "INSERT INTO jack_readings (wiring_id, fields, changed, emptied) VALUES (?, '{}', ?, 1)"
        " ON CONFLICT (wiring_id) DO UPDATE"
        " SET fields = excluded.fields, changed = excluded.changed, emptied = emptied + 1",
        (wiring, now()),
    )


def _emptied(db: sqlite3.Connection, wiring: str) -> int:
    row = db.execute("SELECT emptied FROM jack_readings WHERE wiring_id = ?", (wiring,)).fetchone()
    return int(row["emptied"]) if row else 0


def _readings(db: sqlite3.Connection, wiring: str) -> JackReadings:
    rig = {
        row["step"]: Kept(row["name"], row["came"], json.loads(row["transfer"]))
        for row in db.execute("SELECT * FROM jack_rig")
    }
    row = db.execute("SELECT fields FROM jack_readings WHERE wiring_id = ?", (wiring,)).fetchone()
    fields = json.loads(row["fields"]) if row else {}
    known = db.execute("SELECT typed FROM jack_known").fetchone()
    fields["known"] = known["typed"] if known else ""
    recordings = {
        row["setting"]: Kept(row["name"], row["came"], json.loads(row["content"]))
        for row in db.execute("SELECT * FROM jack_recordings WHERE wiring_id = ? ORDER BY rowid", (wiring,))
    }
    steps = {step: rig[step] for step in CALIBRATION if step in rig}
    thrown = db.execute("SELECT 1 FROM jack_thrown WHERE wiring_id = ? LIMIT 1", (wiring,)).fetchone()
    return JackReadings(steps, fields, recordings, _emptied(db, wiring), thrown is not None)
