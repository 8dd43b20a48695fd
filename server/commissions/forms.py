"""The requests about commissions, wirings and versions, checked for shape and size."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, StringConstraints

from dsp.wiring.editing.document import Edit
from server.web.fields import Body, Edits, Id, Line, Name, WiringFile


class NewInstrument(Body):
    """The instrument a starter is fitted to; what is left out stays."""

    scale: Line | None = None
    set: Line | None = None


class NewCommission(Body):
    """A new commission from a starter or a wiring's text."""

    title: Name
    client: Line = ""
    starter: Annotated[str, StringConstraints(max_length=64)] | None = None
    wiring_text: WiringFile | None = None
    instrument: NewInstrument = NewInstrument()
    coils: Annotated[dict[Line, Line], Field(max_length=64)] = Field({})


class WordsForm(Body):
    """An instrument in words; GET /api/words lists what may be said."""

    answers: Annotated[dict[Line, Line], Field(max_length=32)] = Field({})
    scale: Line = ""
    switch: Line = ""
    second: Line = ""
    sounds: Annotated[list[Line], Field(max_length=64)] | None = None
    name: Line = ""


class CommissionChange(Body):
    """A change of a commission; what is left out stays."""

    title: Name | None = None
    client: Line | None = None
    archived: bool | None = None


class NewWiring(Body):
    """A new wiring of a commission."""

    name: Name
    text: WiringFile


class NewVersion(Body):
    """A version to save: the version it was made from, and what is different."""

    base: Id
    edits: Edits = Field([])
    text: WiringFile | None = None
    note: Line = ""

    def changes(self) -> list[Edit]:
        """Return the edits of the request."""
        return [Edit(*edit.pair()) for edit in self.edits]
