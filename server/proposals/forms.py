"""The requests about proposals, the bench's and the customer's, checked for shape and size."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import AfterValidator, Field, StringConstraints

from server.bench.hearing import Draft, Hearing
from server.proposals.describe import SoundRequest
from server.proposals.replies import LONGEST_COMMENT
from server.proposals.store import MOST_DAYS
from server.web.fields import Body, Id, Line, Name, Paragraphs

MOST_ITEMS, MOST_TAKES = 24, 8
"""Of one proposal: more than anybody can tell apart by ear."""
USUAL_DAYS = 30
MOST_STANDS = 64
Knob = Annotated[float, Field(ge=0.0, le=10.0)]
Number = Annotated[int, Field(ge=1, le=MOST_ITEMS)]
Days = Annotated[int, Field(ge=1, le=MOST_DAYS)]


def _written(text: str) -> str:
    """Return a text without the space around it; refuse an empty one."""
    if not (stripped := text.strip()):
        raise ValueError("something written")
    return stripped


class SoundForm(Body):
    """A sound to offer: a version at a setting."""

    version: Id
    position: Line
    knobs: dict[Line, Knob] = Field(default_factory=dict, max_length=MOST_STANDS)
    switches: dict[Line, Line] = Field(default_factory=dict, max_length=MOST_STANDS)
    label: Line = ""
    words: list[Name] = Field(default_factory=list, max_length=6)

    def request(self) -> SoundRequest:
        """Return the sound that is to be described."""
        hearing = Hearing(Draft(self.version), self.position, self.knobs, self.switches)
        return SoundRequest(hearing, self.label.strip(), tuple(self.words))


class NewProposal(Body):
    """A proposal to make, and how long its link is open."""

    title: Name
    items: Annotated[list[SoundForm], Field(min_length=1, max_length=MOST_ITEMS)]
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
    text: Annotated[Paragraphs, StringConstraints(max_length=LONGEST_COMMENT), AfterValidator(_written)]


class SignOff(Body):
    """The choice of one item, with name, date and confirmation."""

    number: Number
    name: Annotated[Name, StringConstraints(max_length=120), AfterValidator(_written)]
    date: Annotated[str, StringConstraints(pattern=r"^\d{4}-\d{2}-\d{2}$")]
    confirm: Literal[True]
