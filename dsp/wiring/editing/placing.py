"""Edits of the drawing: where parts stand."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from dsp.documents.tree import Entries, Node
from dsp.errors import InputError, some
from dsp.wiring.editing.document import Document, Edited, Path, at, flow_map, texts_of

DRAWING, PLACES = "drawing", "places"
MOVED, TURNED, TIDIED = "moved", "turned", "tidied"
LONGEST = 3500
"""Most characters of all places as one value; more are written one by one."""


def place(document: Document, part: str, how: str, places: Mapping[str, Sequence[float]]) -> Edited:
    """Write where the parts of a drawing stand.

    The first time all of them are written, so that none jumps when the file is opened again.

    Parameters
    ----------
    part : str
        The one that was moved or turned; empty where all were laid out anew.
    how : str
        `MOVED`, `TURNED` or `TIDIED`.
    places : mapping of str to sequence of float
        x, y and quarter turns of every part shown. None takes all places out of the file: the
        drawing is laid out by itself again.

    Raises
    ------
    InputError
        If there is no such part, or a place names none.
    """
    for name in (*([part] if part else ()), *places):
        if name not in document.parts:
            raise InputError("place", f"'{name}'", some(document.parts))
    title = {MOVED: f"Moved {part}", TURNED: f"Turned {part}"}.get(how, "Tidied the drawing")
    if not places:
        gone: Path = (DRAWING, PLACES) if document.items(DRAWING, "wires") else (DRAWING,)
        return Edited(document.with_edits([(gone, None)]), title, part=part)
    now = {name: _written(values) for name, values in places.items()}
    saved = at(document.base, DRAWING, PLACES)
    known = {name: _plain(node) for name, node in document.entries(DRAWING, PLACES).items()}
    whole = flow_map(known | now)
    if isinstance(saved, Entries) or len(whole) > LONGEST:
        # each on its own, so that the comments between them stay
        changes = [((DRAWING, PLACES, name), text) for name, text in now.items() if known.get(name) != text]
        return Edited(document.with_edits(changes), title, part=part)
    return Edited(document.with_edits([((DRAWING, PLACES), whole)]), title, part=part)


def _written(values: Sequence[float]) -> str:
    """Return a place as a file writes it, without a turn of 0."""
    shown = values if len(values) > 2 and values[2] else values[:2]
    return f"[{', '.join(f'{value:g}' for value in shown)}]"


def _plain(node: Node) -> str:
    """Return a place of the file in the same notation."""
    return f"[{', '.join(texts_of(node))}]"
