"""A field of a map in a document: its name, form and allowed values."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Field:
    """A field of a map in a document.

    Attributes
    ----------
    name : str
        As written in the file.
    form : str
        ``quantity``, ``choice``, ``count`` or the name of a form with its own reader
        (``taper``, ``eddy``, ``levels``, ``lugs``, ``contacts``, ``names``, ``expressions``, ``partner``,
        ``strings``, ``note``, ``pair``, ``terminals``, ``words``, ``places``, ``runs``).
    about : str
        One line for people.
    dimension : str
        For a quantity: its dimension in `dsp.units`.
    lowest, highest : float
        Smallest and largest value allowed, SI.
    choices : tuple of str
        Words allowed, for a choice.
    default : str
        As it would be written; empty without a default.
    """

    name: str
    form: str
    about: str
    dimension: str = ""
    lowest: float = 0.0
    highest: float = 0.0
    choices: tuple[str, ...] = ()
    required: bool = False
    default: str = ""


def quantity(
    name: str, dimension: str, span: tuple[float, float], about: str, default: str | None = None
) -> Field:
    """Make a field for a quantity; required unless it has a default."""
    return Field(name, "quantity", about, dimension, *span, required=default is None, default=default or "")
