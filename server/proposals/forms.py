"""What requests about proposals may say, the bench's and the customer's."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import AfterValidator, Field, StringConstraints

from server.proposals.describe import Asked
from server.proposals.replies import LONGEST_COMMENT
from server.proposals.store import MOST_DAYS
from server.web.fields import Body, Id, Line, Name, Paragraphs

MOST_ITEMS, MOST_TAKES = 24, 8
"""In one proposal: more than anybody can tell apart by ear."""
USUAL_DAYS = 30
MOST_STANDS = 64
Knob = Annotated[float, Field(ge=0.0, le=10.0)]
Number = Annotated[int, Field(ge=1, le=MOST_ITEMS)]
Days = Annotated[int, Field(ge=1, le=MOST_DAYS)]


def _said(text: str) -> str:
    """A text without the space around it, if anything is left."""
    if not (stripped := text.strip()):
        raise ValueError("something written")
    return stripped


class NewItem(Body):
    """A sound to be offered: a version at a setting."""

    version: Id
    position: Line
    knobs: dict[Line, Knob] = Field(default_factory=dict, max_length=MOST_STANDS)
    switches: dict[Line, Line] = Field(default_factory=dict, max_length=MOST_STANDS)
    label: Line = ""
    words: list[Name] = Field(default_factory=list, max_length=6)

    def asked(self) -> Asked:
        """The same for the job that describes it."""
        return Asked(
            self.version, self.position, self.knobs, self.switches, self.label.strip(), tuple(self.words)
        )


class NewProposal(Body):
    """What is to be put before a customer, and for how long."""

    title: Name
    items: Annotated[list[NewItem], Field(min_length=1, max_length=MOST_ITEMS)]
    takes: Annotated[list[Id], Field(min_length=1, max_length=MOST_TAKES)]
    expires_days: Days = USUAL_DAYS


class NewLink(Body):
    """A link in place of the one before."""

    expires_days: Days = USUAL_DAYS


class Favourites(Body):
    """The favourites, in place of those before."""

    numbers: Annotated[list[Number], Field(max_length=MOST_ITEMS)]


class NewComment(Body):
    """A comment on an item, or on the whole where the number is null."""

    number: Number | None = None
    text: Annotated[Paragraphs, StringConstraints(max_length=LONGEST_COMMENT), AfterValidator(_said)]


class SignOff(Body):
    """The choice of one item, name, date, and the word that it is meant."""

    number: Number
    name: Annotated[Name, StringConstraints(max_length=120), AfterValidator(_said)]
    date: Annotated[str, StringConstraints(pattern=r"^\d{4}-\d{2}-\d{2}$")]
    confirm: Literal[True]
