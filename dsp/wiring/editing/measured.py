"""Take the values of coils that were measured or heard, as one deed."""

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
Sensed = tuple[float, tuple[float, ...]]
"""Sensitivity of a coil in V per m/s, and its balance per string, dB."""
HEARD = "sensitivity "
"""Start of the comment that stands above a coil whose sensitivity was found from recordings."""


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


def take_sensitivities(
    document: Document,
    coils: Mapping[str, Values],
    comments: Mapping[str, str],
    against: Mapping[str, Sensed],
) -> Edited:
    """Write sensitivities that recordings told into coils of the draft.

    Parameters
    ----------
    coils : mapping of str to mapping
        ``sensitivity`` and, where it was found, ``string_balance``, by the coil's name.
    comments : mapping of str to str
        Date and method, one line for each of these coils, which starts with `HEARD`.
    against : mapping of str to tuple
        The coil that they were compared with, and what it had: sensitivity, and balance per string in dB.

    Raises
    ------
    InputError
        If there is no such coil, or the one that they were compared with has other values now.
    """
    for name, then in against.items():
        now = sensed(_coil(document, name))
        if now != then:
            got = f"a sensitivity of {now[0]:g}" if now[0] != then[0] else "another balance of its strings"
            kept = f"{then[0]:g}" if now[0] != then[0] else "that of before"
            hint = "find the values again: they count from this coil"
            raise InputError(name, got, f"{kept}, as it was compared", hint)
    changes: Changes = []
    for name, values in coils.items():
        _coil(document, name)
        place = ("parts", name)
        changes += [((*place, field), as_flow(tree_of(value, 0))) for field, value in values.items()]
        changes.append(_comment(document, name, comments[name]))
    names = list(coils)
    what = f"sensitivity of {some(names)}" if len(names) < 3 else f"sensitivities of {len(names)} coils"
    return Edited(document.with_edits(changes), what, (), part=names[0])


def sensed(coil: Coil) -> Sensed:
    """Return how loud a coil hears each string; zeros alone are no balance."""
    balance = coil.string_balance_db
    return coil.sensitivity, balance if any(balance) else ()


def _coil(document: Document, name: str) -> Coil:
    part = document.require_part(name)
    if not isinstance(part, Coil):
        coils = [one for one, other in document.parts.items() if isinstance(other, Coil)]
        raise InputError("coil", f"'{name}'", some(coils) or "a coil, which this wiring has not")
    return part


def _comment(document: Document, name: str, line: str) -> tuple[tuple[str, ...], str]:
    """Write a comment above a part; what the other method said of it in this draft stays."""
    place = ("parts", name, COMMENT)
    there = next((one.value for one in document.edits if one.path == place), None) or ""
    kept = [one for one in there.split("\n") if one and one.startswith(HEARD) != line.startswith(HEARD)]
    return place, "\n".join([*kept, line])


def _changes(document: Document, name: str, values: Values, comment: str, notes: list[str]) -> Changes:
    part = _coil(document, name)
    place = ("parts", name)
    changes: Changes = [((*place, field), as_flow(tree_of(value, 0))) for field, value in values.items()]
    if part.covered:
        node = at(document.tree, *place)
        inherited = isinstance(node, Entries) and node.get("like") is not None
        changes.append(((*place, "cover"), "none" if inherited else None))
        notes.append(f"the cover of {name} is in the values, and stated no more besides")
    return [*changes, _comment(document, name, comment)]
