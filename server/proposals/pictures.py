"""What will be built: a picture of each offered sound, drawn once and kept as it was shown."""

from __future__ import annotations

import logging
import sqlite3
from collections.abc import Sequence
from typing import Any

from dsp.drawing.sounding import HEARD, find_sounding
from dsp.wiring.model import Setting, Wiring
from server.database.store import Store
from server.proposals.clip_files import keep_content
from server.proposals.describe import read_version
from server.proposals.store import count_change

TITLE = "What will be built"
"""Of the document; the workshop's own names stay in the workshop."""
log = logging.getLogger("presolder")


def keep_pictures(store: Store, proposal: str, items: Sequence[dict[str, Any]]) -> None:
    """Draw and keep the pictures that a proposal lacks.

    A picture that cannot be drawn is left out: the sounds matter more.

    Parameters
    ----------
    items : sequence of dict
        As `queue.items_to_render` gives them.
    """
    with store.read() as db:
        there = {row["number"] for row in pictures_of(db, proposal)}
    for item in items:
        if item["number"] in there or (picture := keep_picture(store, item)) is None:
            continue
        with store.write() as db:
            db.execute(
                "INSERT OR IGNORE INTO proposal_pictures VALUES (?, ?, ?, ?)",
                (proposal, item["number"], *picture),
            )
            count_change(db, proposal)


def keep_picture(store: Store, item: dict[str, Any]) -> tuple[str, str] | None:
    """Draw the picture of a sound and keep its file.

    Returns
    -------
    tuple of str or None
        The file's digest, and what it shows in words; None if it cannot be drawn.
    """
    try:
        svg, words = _draw(item)
    except Exception:
        log.exception("drawing a sound of a proposal")
        return None
    return keep_content(store.folder, svg.encode(), "svg"), words


def pictures_of(db: sqlite3.Connection, proposal: str) -> list[sqlite3.Row]:
    """Return the pictures of a proposal's items, by number."""
    return db.execute(
        "SELECT * FROM proposal_pictures WHERE proposal_id = ? ORDER BY number", (proposal,)
    ).fetchall()


def _draw(item: dict[str, Any]) -> tuple[str, str]:
    from server.documents.pictures import draw_simple

    wiring = read_version(item["text"])
    setting = wiring.setting(item["position"], item["knobs"], item["switches"])
    return draw_simple(item["text"], wiring, setting, TITLE), picture_words(wiring, setting)


def picture_words(wiring: Wiring, setting: Setting) -> str:
    """Return what the picture of a setting shows, in words."""
    coils = find_sounding(wiring, setting).coils
    heard = [name for name, state in coils.items() if state == HEARD]
    rest = [name for name in coils if name not in heard]
    others = [name for name in wiring.parts if name not in coils]
    groups = (("What sounds", heard), ("At rest", rest), ("Also drawn", others))
    return " ".join(f"{head}: {_listed(names)}." for head, names in groups if names)


def _listed(names: Sequence[str]) -> str:
    return ", ".join(name.replace("_", " ") for name in names)
