"""Take the values of a coil that was measured, as one deed."""

from __future__ import annotations

from collections.abc import Mapping

from dsp.documents.tree import Entries
from dsp.errors import InputError, some
from dsp.parts.coil import Coil
from dsp.wiring.editing.document import COMMENT, Document, Edited, as_flow, at
from dsp.wiring.editing.joints import Changes
from dsp.wiring.reading.parts import tree_of


def take_values(document: Document, name: str, values: Mapping[str, object], comment: str) -> Edited:
    """Write the values of a coil that was measured into a coil of the draft.

    What was read holds the loss of a cover, so a cover that the file states besides is taken out.

    Parameters
    ----------
    values : mapping of str to object
        Fields in the form of a wiring file.
    comment : str
        Date and method, one line; it will stand above the part.

    Raises
    ------
    InputError
        If there is no such coil.
    """
    part = document.require_part(name)
    if not isinstance(part, Coil):
        coils = [one for one, other in document.parts.items() if isinstance(other, Coil)]
        raise InputError("coil", f"'{name}'", some(coils) or "a coil, which this wiring has not")
    place = ("parts", name)
    changes: Changes = [((*place, field), as_flow(tree_of(value, 0))) for field, value in values.items()]
    notes = []
    if part.covered:
        node = at(document.tree, *place)
        inherited = isinstance(node, Entries) and node.get("like") is not None
        changes.append(((*place, "cover"), "none" if inherited else None))
        notes.append("its cover is in the values, and stated no more besides")
    changes.append(((*place, COMMENT), comment))
    return Edited(document.with_edits(changes), f"{name} as measured", tuple(notes), part=name)
