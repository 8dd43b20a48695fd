"""Take the values of a coil that was measured, as one deed."""

from __future__ import annotations

from collections.abc import Mapping

from dsp.documents.tree import Entries
from dsp.errors import InputError, some
from dsp.parts.coil import Coil
from dsp.wiring.editing.choosing import coupling_changes
from dsp.wiring.editing.document import COMMENT, Document, Edited, as_flow, at
from dsp.wiring.editing.joints import Changes
from dsp.wiring.reading.parts import tree_of

Values = Mapping[str, object]


def take_values(
    document: Document, coils: Mapping[str, Values], comment: str, coefficient: str | None = None
) -> Edited:
    """Write the values of coils that were measured into coils of the draft.

    What was read holds the loss of a cover, so a cover that the file states besides is taken out.

    Parameters
    ----------
    coils : mapping of str to mapping
        Fields in the form of a wiring file, by the coil's name.
    comment : str
        Date and method, one line; it will stand above each part.
    coefficient : str or None
        Coupling of two coils, as a file writes it; None leaves it as it is.

    Raises
    ------
    InputError
        If there is no such coil.
    """
    changes: Changes = []
    notes: list[str] = []
    for name, values in coils.items():
        changes += _changes(document, name, values, comment, notes)
    names = list(coils)
    if coefficient is not None and len(names) == 2:
        changes += coupling_changes(document, names[0], names[1], coefficient)
        notes.append(f"coupled: {coefficient}")
    edits = document.with_edits(changes)
    return Edited(edits, f"{' and '.join(names)} as measured", tuple(notes), part=names[0])


def _changes(document: Document, name: str, values: Values, comment: str, notes: list[str]) -> Changes:
    part = document.require_part(name)
    if not isinstance(part, Coil):
        coils = [one for one, other in document.parts.items() if isinstance(other, Coil)]
        raise InputError("coil", f"'{name}'", some(coils) or "a coil, which this wiring has not")
    place = ("parts", name)
    changes: Changes = [((*place, field), as_flow(tree_of(value, 0))) for field, value in values.items()]
    if part.covered:
        node = at(document.tree, *place)
        inherited = isinstance(node, Entries) and node.get("like") is not None
        changes.append(((*place, "cover"), "none" if inherited else None))
        notes.append(f"the cover of {name} is in the values, and stated no more besides")
    return [*changes, ((*place, COMMENT), comment)]
