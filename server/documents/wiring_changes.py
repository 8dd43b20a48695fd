"""What changed between two versions of a wiring, drawn and in words."""

from __future__ import annotations

from typing import Any

from dsp.drawing.wiring_record import wiring_record
from dsp.sheet.parts_list import PartRow, list_parts
from dsp.sheet.steps import whole_joints
from dsp.wiring.model import Wiring
from server.documents.page_modules import call_module
from server.documents.wiring_drawing import document_style

MODULE = "js/drawing/difference.js"


def draw_changes(before: Wiring, after: Wiring) -> dict[str, Any]:
    """Draw two versions of a wiring as one picture.

    Returns
    -------
    dict
        ``svg``; in words what to ``solder`` and to ``unsolder``; the names of parts that were
        ``added`` and ``removed``, and for those that ``changed`` what they were and are, without
        what stayed.
    """
    old, new = ({row.name: row for row in list_parts(one)} for one in (before, after))
    changed = {name: (row, new[name]) for name, row in old.items() if name in new and row != new[name]}
    found = call_module(
        MODULE,
        "drawDifference",
        {
            "before": wiring_record(whole_joints(before)),
            "after": wiring_record(whole_joints(after)),
            "changed": {name: was.value or "another" for name, (was, _) in changed.items()},
            "style": document_style(),
            "title": "What changed",
        },
    )
    return {
        "svg": found["svg"],
        "solder": found["solder"],
        "unsolder": found["unsolder"],
        "added": [name for name in new if name not in old],
        "removed": [name for name in old if name not in new],
        "changed": {name: [_words(*rows), _words(*rows[::-1])] for name, rows in changed.items()},
    }


def _words(row: PartRow, other: PartRow) -> str:
    """Return a part in words, without what is said of the other one too."""
    return ", ".join(
        filter(None, [row.kind, row.value, *(one for one in row.about if one not in other.about)])
    )
