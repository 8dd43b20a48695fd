"""What is being measured at the bench, in the database, until it is thrown away."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from server.commissions.versions import wiring_row
from server.database.store import Store, now

CALIBRATION = ("open", "short", "known")
"""Recordings of the rig without coil; they serve every coil that is measured at it."""
COLUMNS = {"coil": "recording", "second": "second", "series": "series", "table": "table_of"}
"""Where each other step is kept."""
LASTING = ("known", "celsius")
"""Fields that the next coil starts with: they belong to rig and room."""


@dataclass(frozen=True)
class Kept:
    """A file that was brought, and what was read from it."""

    name: str
    came: str
    content: Any


@dataclass(frozen=True)
class Measurement:
    """Everything of one coil's measurement.

    Attributes
    ----------
    rig : mapping of str to Kept
        Transfers by step, of those that are there.
    recording, second, series : Kept or None
        Transfers of the coil, of the other coil of its housing, of both in series.
    fields : mapping of str to Any
        What was typed.
    result : mapping of str to Any, or None
        The fit of what stands here; None before it, and after any change.
    """

    rig: Mapping[str, Kept]
    fields: Mapping[str, Any] = field(default_factory=dict)
    recording: Kept | None = None
    second: Kept | None = None
    series: Kept | None = None
    table: Kept | None = None
    result: Mapping[str, Any] | None = None


def get_measurement(store: Store, wiring: str, part: str) -> Measurement:
    """Return the measurement of a coil, empty before anything was brought.

    Raises
    ------
    Unknown
        If there is no such wiring.
    """
    with store.read() as db:
        wiring_row(db, wiring)
        return _measurement(db, wiring, part)


def keep_fields(store: Store, wiring: str, part: str, fields: Mapping[str, Any]) -> None:
    """Keep what was typed; a result that was found without it goes.

    Raises
    ------
    Unknown
    """
    with store.write() as db:
        wiring_row(db, wiring)
        if _measurement(db, wiring, part).fields != fields or not _has(db, wiring, part):
            _set(db, wiring, part, "fields", json.dumps(fields, ensure_ascii=False))


def keep_reading(store: Store, wiring: str, part: str, step: str, name: str, content: Any) -> None:
    """Keep what was read from a file; every result that it concerns goes.

    Parameters
    ----------
    step : str
        One of `CALIBRATION` or of `COLUMNS`.
    content : object
        A transfer as JSON, or the text of a table.

    Raises
    ------
    Unknown
    """
    with store.write() as db:
        wiring_row(db, wiring)
        if step in CALIBRATION:
            db.execute(
                "INSERT OR REPLACE INTO rig_recordings (step, name, came, transfer) VALUES (?, ?, ?, ?)",
                (step, name, now(), json.dumps(content)),
            )
            _forget_results(db)
        else:
            kept = json.dumps({"name": name, "came": now(), "content": content}, ensure_ascii=False)
            _set(db, wiring, part, COLUMNS[step], kept)


def keep_result(
    store: Store, wiring: str, part: str, result: Mapping[str, Any], of: Measurement
) -> Measurement:
    """Keep a fit, unless what it was made of has changed meanwhile.

    Returns
    -------
    Measurement
        What stands then.
    """
    with store.write() as db:
        stands = _measurement(db, wiring, part)
        if replace(stands, result=None) == replace(of, result=None):
            text = json.dumps(result, ensure_ascii=False)
            db.execute(
                "UPDATE measurements SET result = ? WHERE wiring_id = ? AND part = ?", (text, wiring, part)
            )
        return _measurement(db, wiring, part)


def drop_reading(store: Store, wiring: str, part: str, step: str) -> None:
    """Throw one reading away, or with ``all`` everything of the coil.

    Raises
    ------
    Unknown
    """
    with store.write() as db:
        wiring_row(db, wiring)
        if step == "all":
            db.execute("DELETE FROM measurements WHERE wiring_id = ? AND part = ?", (wiring, part))
        elif step in CALIBRATION:
            db.execute("DELETE FROM rig_recordings WHERE step = ?", (step,))
            _forget_results(db)
        else:
            _set(db, wiring, part, COLUMNS[step], None)


def _forget_results(db: sqlite3.Connection) -> None:
    """Take away the results that the rig's recordings led to."""
    db.execute(
        "UPDATE measurements SET result = NULL"
        " WHERE coalesce(json_extract(fields, '$.source'), 'rig') = 'rig'"
    )


def _has(db: sqlite3.Connection, wiring: str, part: str) -> bool:
    row = db.execute("SELECT 1 FROM measurements WHERE wiring_id = ? AND part = ?", (wiring, part)).fetchone()
    return row is not None


def _set(db: sqlite3.Connection, wiring: str, part: str, column: str, text: str | None) -> None:
    if not _has(db, wiring, part):
        fields = json.dumps(dict(_measurement(db, wiring, part).fields), ensure_ascii=False)
        db.execute(
            "INSERT INTO measurements (wiring_id, part, fields, changed) VALUES (?, ?, ?, ?)",
            (wiring, part, fields, now()),
        )
    assert column in ("fields", *COLUMNS.values())
    db.execute(
        f"UPDATE measurements SET {column} = ?, result = NULL, changed = ? WHERE wiring_id = ? AND part = ?",
        (text, now(), wiring, part),
    )


def _measurement(db: sqlite3.Connection, wiring: str, part: str) -> Measurement:
    rig = {
        row["step"]: Kept(row["name"], row["came"], json.loads(row["transfer"]))
        for row in db.execute("SELECT * FROM rig_recordings")
    }
    row = db.execute("SELECT * FROM measurements WHERE wiring_id = ? AND part = ?", (wiring, part)).fetchone()
    if row is None:
        last = db.execute("SELECT fields FROM measurements ORDER BY changed DESC LIMIT 1").fetchone()
        fields = json.loads(last["fields"]) if last else {}
        return Measurement(rig, {key: fields[key] for key in LASTING if key in fields})
    texts = {step: row[column] for step, column in COLUMNS.items()}
    kept = {step: None if text is None else Kept(**json.loads(text)) for step, text in texts.items()}
    result = None if row["result"] is None else json.loads(row["result"])
    return Measurement(
        rig, json.loads(row["fields"]), kept["coil"], kept["second"], kept["series"], kept["table"], result
    )
