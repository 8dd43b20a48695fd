"""What can be added to a wiring, with pictures; what an unfinished wiring lacks."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from dsp.documents.tree import Reading
from dsp.errors import Problem
from dsp.parts.kind import Symbol
from dsp.parts.kinds import kind_of
from dsp.wiring.editing.additions import ADDITIONS, PICKUP, Addition
from dsp.wiring.reading.parts import read_part, tree_of

ABSENT = "no "
"""How the reader starts what a wiring lacks."""


def additions_json() -> list[dict[str, Any]]:
    """Return everything that can be added, with the drawing of its part."""
    return [
        {
            "name": one.name,
            "title": one.title,
            "about": one.about,
            "strokes": symbol.strokes,
            "size": list(symbol.size),
            "count": 2 if one.name == PICKUP else 1,
        }
        for one in ADDITIONS.values()
        if (symbol := _symbol(one))
    ]


def missing_json(lacking: Iterable[Problem]) -> list[str]:
    """Return in words what a wiring lacks: a jack, a coil."""
    return [f"a {problem.got.removeprefix(ABSENT)}" for problem in lacking]


def _symbol(addition: Addition) -> Symbol:
    own = {"like": addition.like} if addition.like else {**addition.fields}
    sounds = {"positions": {"1": "coil"}} if addition.kind == "sketch" else {}
    part = read_part(
        Reading("additions"), tree_of({"kind": addition.kind, **own, **sounds}, 0), addition.name
    )
    assert part is not None  # the table holds whole parts
    return kind_of(part).symbol(part)
