"""In which ways the sounds of a proposal may be heard: direct, or through the chain behind a guitar."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from typing import Any

from dsp.chain.ways import DIRECT, WAYS
from dsp.errors import InputError

DIRECT_ALONE = (DIRECT.name,)
"""Of a proposal that says nothing of ways, as of all that were made before they could be chosen."""


def way_rows(proposal: str, ways: Sequence[str]) -> list[tuple[Any, ...]]:
    """Return the rows of ways as the database stores them."""
    return [(proposal, place, way) for place, way in enumerate(ways)]


def insert_ways(db: sqlite3.Connection, proposal: str, ways: Sequence[str]) -> None:
    """Insert the ways of a new proposal, the one heard first at the start."""
    db.executemany("INSERT INTO proposal_ways VALUES (?, ?, ?)", way_rows(proposal, ways))


def ways_of(db: sqlite3.Connection, proposal: str) -> list[str]:
    """Return the names of a proposal's ways, the one heard first at the start."""
    rows = db.execute("SELECT way FROM proposal_ways WHERE proposal_id = ? ORDER BY place", (proposal,))
    return [str(row["way"]) for row in rows]


def require_way(db: sqlite3.Connection, proposal: str, way: str | None) -> str:
    """Return a way of a proposal.

    Parameters
    ----------
    way : str or None
        None for the one heard first.

    Raises
    ------
    InputError
        If the proposal is not heard in it.
    """
    ways = ways_of(db, proposal)
    if way is None:
        return ways[0]
    if way not in ways:
        raise InputError("way", f"'{way}'", ", ".join(ways))
    return way


def describe_ways(ways: Sequence[str]) -> list[dict[str, str]]:
    """Return ways as pages show them: ``name``, and ``about`` in a line."""
    return [{"name": way, "about": WAYS[way].about} for way in ways]
