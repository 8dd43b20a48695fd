"""The requests about proposals, the bench's and the customer's, checked for shape and size."""

from __future__ import annotations

import contextlib
import datetime
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BeforeValidator, Field, StringConstraints, ValidationError

from dsp.chain.ways import WAYS
from server.bench.hearing import Draft, Hearing
from server.proposals.describe import SoundRequest, WiringRequest
from server.proposals.store import MOST_DAYS, MOST_ITEMS
from server.proposals.talk import LONGEST_NOTE, Operation
from server.proposals.ways import DIRECT_ALONE
from server.web.fields import Body, Id, Line, Name, Paragraphs

MOST_TAKES = 8
"""Of one proposal."""
USUAL_DAYS = 30
MOST_HEARD = MOST_ITEMS * len(WAYS)
MOST_STANDS = 64
MOST_PARTS = 500
Knob = Annotated[float, Field(ge=0.0, le=10.0)]
Number = Annotated[int, Field(ge=1, le=MOST_ITEMS)]
Days = Annotated[int, Field(ge=1, le=MOST_DAYS)]
MOST_AT_ONCE = 50
"""Operations in one request; a page that was offline for long sends several."""
OperationId = Annotated[str, StringConstraints(pattern=r"^[A-Za-z0-9_-]{16,40}$")]
"""At least 96 random bits in base 64 for addresses."""
Place = Annotated[int, Field(ge=0, lt=1 << 53)]


def _written(text: str) -> str:
    """Return a text without the space around it; refuse an empty one."""
    if not (stripped := text.strip()):
        raise ValueError("something written")
    return stripped


def _moment(text: str) -> str:
    """Return a time in UTC as browsers write it; refuse any other text."""
    datetime.datetime.strptime(text, "%Y-%m-%dT%H:%M:%S.%fZ")
    return text


def _known_way(text: str) -> str:
    """Return the name of a way; refuse any other text."""
    if text not in WAYS:
        raise ValueError(f"one of {', '.join(WAYS)}")
    return text


def _each_once(ways: list[str]) -> list[str]:
    """Return ways that differ; refuse one that comes twice."""
    if len(set(ways)) < len(ways):
        raise ValueError("each way once")
    return ways


WayName = Annotated[Line, AfterValidator(_known_way)]
Moment = Annotated[str, StringConstraints(max_length=24), AfterValidator(_moment)]
Written = Annotated[Paragraphs, StringConstraints(max_length=LONGEST_NOTE), AfterValidator(_written)]
"""A note or an answer, with something in it."""


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


class WiringForm(Body):
    """What is said of a wiring that is offered.

    Attributes
    ----------
    kept : list of str or None
        Parts that the instrument has; None for its pickups.
    farthest : str
        Whose farthest two of ten are heard besides: built of parts that differ, or each with its player's
        cable too; empty for none.
    """

    version: Id
    name: Line = ""
    price: Line = ""
    when_ready: Line = ""
    kept: Annotated[list[Line], Field(max_length=MOST_PARTS)] | None = None
    farthest: Literal["", "parts", "cables"] = ""

    def request(self) -> WiringRequest:
        """Return the wiring that is to be described."""
        kept = None if self.kept is None else tuple(self.kept)
        name, price, when_ready = (one.strip() for one in (self.name, self.price, self.when_ready))
        return WiringRequest(self.version, name, price, when_ready, kept, self.farthest)


class NewProposal(Body):
    """A proposal to make, and how long its link is open.

    Attributes
    ----------
    ways : list of str
        In which its sounds may be heard, the one heard first at the start.
    """

    title: Name
    items: Annotated[list[SoundForm], Field(min_length=1, max_length=MOST_ITEMS)]
    wirings: Annotated[list[WiringForm], Field(max_length=MOST_ITEMS)] = Field(default_factory=list)
    takes: Annotated[list[Id], Field(min_length=1, max_length=MOST_TAKES)]
    ways: Annotated[list[WayName], Field(min_length=1, max_length=len(WAYS)), AfterValidator(_each_once)] = (
        Field(default_factory=lambda: list(DIRECT_ALONE))
    )
    expires_days: Days = USUAL_DAYS


class NewLink(Body):
    """A link in place of the one before."""

    expires_days: Days = USUAL_DAYS


class _Said(Body):
    """What every operation says: its page's id for it, and its clock."""

    id: OperationId
    written: Moment

    def operation(self) -> Operation:
        """Return it as it is stored."""
        said: dict[str, Any] = self.model_dump()
        return Operation(**said)


class Favourite(_Said):
    """Mark an item."""

    kind: Literal["favourite"]
    number: Number


class Unfavourite(_Said):
    """Take the marks of an item back, those that the device knew of."""

    kind: Literal["unfavourite"]
    number: Number
    seen: Place


class Note(_Said):
    """A note on an item, or on the whole where the number is null."""

    kind: Literal["note"]
    number: Number | None = None
    text: Written


class Wish(_Said):
    """An item with its knobs as they stand."""

    kind: Literal["wish"]
    number: Number
    knobs: Annotated[dict[Line, Knob], Field(min_length=1, max_length=MOST_STANDS)]


class Unwish(_Said):
    """Take a wish back."""

    kind: Literal["unwish"]
    about: OperationId


class Operations(Body):
    """What a customer's browser has to say, in order."""

    device: OperationId
    operations: Annotated[
        list[Annotated[Favourite | Unfavourite | Note | Wish | Unwish, Field(discriminator="kind")]],
        Field(min_length=1, max_length=MOST_AT_ONCE),
    ]


class Reply(_Said):
    """The workshop's answer to a note or a wish."""

    about: Annotated[str, StringConstraints(min_length=1, max_length=40)]
    text: Written

    def operation(self) -> Operation:
        """Return it as it is stored."""
        return Operation(self.id, "reply", self.written, text=self.text, about=self.about)


class NewVariant(Body):
    """A wish that is to become a sound, by the id of its operation."""

    wish: Annotated[str, StringConstraints(min_length=1, max_length=40)]


class Looked(Body):
    """Up to which place the workshop has seen what was said."""

    place: Place


class HeardSound(Body):
    """A sound that a page has played, and the way in which it did."""

    number: Number
    way: WayName


def _well_formed(said: object) -> list[HeardSound]:
    """Keep what names a sound and a way: a strange entry stops no signature."""
    kept = []
    for one in said[:MOST_HEARD] if isinstance(said, list) else []:
        with contextlib.suppress(ValidationError):
            kept.append(HeardSound.model_validate(one))
    return kept


class SignOff(Body):
    """The choice of one wiring, with name, date and confirmation.

    Attributes
    ----------
    sounds : list of int or None
        The wiring's sounds that the signer was shown; None for those offered at first.
    heard : list of HeardSound
        What the page has played, as far as it can be read.
    """

    wiring: Number
    sounds: Annotated[list[Number], Field(max_length=MOST_ITEMS)] | None = None
    heard: Annotated[list[HeardSound], BeforeValidator(_well_formed)] = Field(default_factory=list)
    name: Annotated[Name, StringConstraints(max_length=120), AfterValidator(_written)]
    date: Annotated[str, StringConstraints(pattern=r"^\d{4}-\d{2}-\d{2}$")]
    confirm: Literal[True]
