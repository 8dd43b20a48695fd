"""The wirings of a proposal: alternatives, each with its sounds, its parts and its terms in words."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from dsp.errors import InputError

TERMS = ("name", "price", "when_ready")
"""What the workshop says of a wiring, in words."""
MADE_OF = ("bought", "kept", "soldered")
"""What a wiring is made of: parts to buy, parts that are there, joints."""

BUILT = 10
"""Guitars of which the farthest two may be heard besides, as on the bench."""
CABLES = {"parts": 0.0, "cables": 0.2}
"""Spread of the players' cables, a share, by what the bench asks for."""


@dataclass(frozen=True)
class OfferedWiring:
    """A wiring of a proposal.

    Attributes
    ----------
    version, version_sha256 : str
        Id of the version, and the digest of its text.
    name, price, when_ready : str
        In words, as the customer reads them; price and time may be empty.
    bought, kept : tuple of dict
        Parts to buy, and those that the instrument has: ``count``, ``text`` and ``names``.
    soldered : tuple of dict
        Joints: ``parts``, ``points`` and ``ground``.
    farthest : str
        Whose farthest two of ten are heard besides: a name of `CABLES`, or empty.
    """

    version: str
    version_sha256: str
    name: str
    price: str
    when_ready: str
    bought: tuple[dict[str, Any], ...]
    kept: tuple[dict[str, Any], ...]
    soldered: tuple[dict[str, Any], ...]
    farthest: str = ""


def insert_wirings(db: sqlite3.Connection, proposal: str, wirings: Sequence[OfferedWiring]) -> None:
    """Insert a new proposal's wirings; queue the farthest two asked for."""
    db.executemany(
        "INSERT INTO proposal_wirings VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        [wiring_row(proposal, number, one) for number, one in enumerate(wirings, 1)],
    )
    db.executemany(
        "INSERT INTO proposal_farthest (proposal_id, wiring, built, cable) VALUES (?, ?, ?, ?)",
        [
            (proposal, number, BUILT, CABLES[one.farthest])
            for number, one in enumerate(wirings, 1)
            if one.farthest
        ],
    )


def wiring_row(proposal: str, number: int, wiring: OfferedWiring) -> tuple[Any, ...]:
    """Return the row of a wiring in table ``proposal_wirings``."""
    return (
        proposal,
        number,
        wiring.version,
        wiring.version_sha256,
        *(getattr(wiring, key) for key in TERMS),
        *(json.dumps(getattr(wiring, key), ensure_ascii=False) for key in MADE_OF),
    )


def wirings_of(db: sqlite3.Connection, proposal: str, sounds: int | None = None) -> list[dict[str, Any]]:
    """Return the wirings of a proposal, with the numbers of their sounds.

    Parameters
    ----------
    sounds : int or None
        How many of the proposal's sounds count, the first ones; all for None.
    """
    of: dict[str, list[int]] = {}
    for row in db.execute(
        "SELECT number, version_id FROM proposal_items WHERE proposal_id = ? ORDER BY number", (proposal,)
    ):
        if sounds is None or row["number"] <= sounds:
            of.setdefault(row["version_id"], []).append(row["number"])
    rows = db.execute("SELECT * FROM proposal_wirings WHERE proposal_id = ? ORDER BY number", (proposal,))
    return [
        {
            **dict(row),
            **{key: json.loads(row[key]) for key in MADE_OF},
            "sounds": of.get(row["version_id"], []),
        }
        for row in rows
    ]


def require_wiring(db: sqlite3.Connection, proposal: str, number: int) -> dict[str, Any]:
    """Return a wiring of a proposal.

    Raises
    ------
    InputError
        If there is no such wiring; it names the numbers there are.
    """
    found = wirings_of(db, proposal)
    for one in found:
        if one["number"] == number:
            return one
    raise InputError("wiring", str(number), f"1 to {len(found)}")


def offered_wirings(db: sqlite3.Connection, proposal: str, sounds: int | None = None) -> list[dict[str, Any]]:
    """Return wirings as a record names them; see `wirings_of`."""
    return [_offered(db, one) for one in wirings_of(db, proposal, sounds)]


def _offered(db: sqlite3.Connection, wiring: dict[str, Any]) -> dict[str, Any]:
    version = db.execute(
        "SELECT versions.number, wirings.name FROM versions JOIN wirings ON wirings.id = wiring_id"
        " WHERE versions.id = ?", (wiring["version_id"],),
    ).fetchone()  # fmt: skip
    said = {key: wiring[key] for key in ("number", *TERMS, *MADE_OF, "sounds")}
    of = {"wiring": version["name"], "version": wiring["version_id"], "version_number": version["number"]}
    return {**said, **of, "text_sha256": wiring["version_sha256"]}
