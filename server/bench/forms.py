"""The requests about sound, checked for shape and size, and the one step from them to a `Hearing`."""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated, Literal

from fastapi import Request, WebSocket
from pydantic import Field, FiniteFloat, StringConstraints

from dsp.chain.ways import WAYS
from dsp.parts.fields import MOST_PLACE
from dsp.wiring.editing import choosing, joints, measured, parts, placing, renaming
from dsp.wiring.editing.document import Document, Edit, Edited
from dsp.wiring.model import Setting, Wiring
from server.bench.hearing import Bench, Draft, Hearing, open_bench
from server.bench.through import Through
from server.web.fields import Body, Edits, Id, Line, WayName

MOST_NAMES, MOST_PLACES = 64, 512
MOST_TERMINALS = 1000
MOST_LOSSES = 8
Name = Annotated[str, StringConstraints(max_length=100)]
Pair = Annotated[list[Name], Field(min_length=2, max_length=2)]
Coordinate = Annotated[float, Field(allow_inf_nan=False, ge=-MOST_PLACE, le=MOST_PLACE)]
Sensitivity = Annotated[FiniteFloat, Field(ge=0.0, le=1e3)]
Levels = Annotated[list[FiniteFloat], Field(max_length=MOST_NAMES)]
Knobs = Annotated[dict[Name, FiniteFloat], Field(max_length=MOST_NAMES)]
Switches = Annotated[dict[Name, Name], Field(max_length=MOST_NAMES)]


class DraftForm(Body):
    """A version and the edits made to it since."""

    version: Id
    edits: Edits = Field([])

    def draft(self) -> Draft:
        """Return the draft of the request."""
        return Draft(self.version, tuple(Edit(*edit.pair()) for edit in self.edits))


class SettingForm(Body):
    """A position, knobs 0 to 10 and switches; what is left out rests."""

    position: Name
    knobs: Knobs = Field(default_factory=dict)
    switches: Switches = Field(default_factory=dict)

    def setting(self, wiring: Wiring) -> Setting:
        """Return the whole setting of a wiring, or raise InputError."""
        return wiring.setting(self.position, self.knobs, self.switches)


class HearingForm(Body):
    """A draft at a setting."""

    draft: DraftForm
    setting: SettingForm

    def hearing(self) -> Hearing:
        """Return the request without a take."""
        setting = self.setting
        return Hearing(self.draft.draft(), setting.position, setting.knobs, setting.switches)


class ThroughForm(Body):
    """A way to hear it, and what its drive gives way by."""

    way: WayName = "direct"
    lowered_db: Annotated[float, Field(ge=0.0, le=60.0, allow_inf_nan=False)] = 0.0

    def through(self) -> Through:
        """Return the way of the request."""
        return Through(WAYS[self.way], self.lowered_db)


class LiveForm(HearingForm):
    """Asks for the filters of a setting and its level on a take, in a way."""

    take: Id | None = None
    through: ThroughForm = Field(default_factory=ThroughForm)
    id: Annotated[int, Field(ge=0, le=2**53)] = 0

    def hearing(self) -> Hearing:
        """Return the request with its take and its way."""
        return replace(super().hearing(), take=self.take, through=self.through.through())


class Add(Body):
    """Add a part, or the two coils of a pickup."""

    do: Literal["add"]
    what: Name
    name: Name = ""
    like: Name = ""

    def apply(self, document: Document) -> Edited:
        """Return what it does to a draft."""
        return parts.add(document, self.what, name=self.name, like=self.like)


class Remove(Body):
    """Remove a part and everything that names it."""

    do: Literal["remove"]
    part: Name

    def apply(self, document: Document) -> Edited:
        """Return what it does to a draft."""
        return parts.remove(document, self.part)


class Rename(Body):
    """Give a part another name, everywhere."""

    do: Literal["rename"]
    part: Name
    to: Name

    def apply(self, document: Document) -> Edited:
        """Return what it does to a draft."""
        return renaming.rename_part(document, self.part, self.to)


class Solder(Body):
    """Solder two terminals together, such as ``volume.2`` and ``output.tip``."""

    do: Literal["solder"]
    terminals: Pair
    run: bool = False

    def apply(self, document: Document) -> Edited:
        """Return what it does to a draft."""
        first, second = self.terminals
        return joints.solder(document, first, second, run=self.run)


class Unsolder(Body):
    """Take a terminal off its joint."""

    do: Literal["unsolder"]
    terminal: Name

    def apply(self, document: Document) -> Edited:
        """Return what it does to a draft."""
        return joints.unsolder(document, self.terminal)


class UnsolderWire(Body):
    """Take out the wire between two terminals; some stay with the first."""

    do: Literal["unsolder wire"]
    ends: Pair
    with_first: Annotated[list[Name], Field(max_length=MOST_TERMINALS)]

    def apply(self, document: Document) -> Edited:
        """Return what it does to a draft."""
        first, second = self.ends
        return joints.unsolder_wire(document, first, second, self.with_first)


class SwapLeads(Body):
    """Exchange the leads of a part, or lugs 1 and 3 of a pot."""

    do: Literal["swap leads"]
    part: Name

    def apply(self, document: Document) -> Edited:
        """Return what it does to a draft."""
        return joints.swap_leads(document, self.part)


class Choose(Body):
    """Make a part, a switch or the load one of the library."""

    do: Literal["choose"]
    part: Name
    like: Name

    def apply(self, document: Document) -> Edited:
        """Return what it does to a draft."""
        return choosing.choose(document, self.part, self.like)


class EddyValues(Body):
    """One loss of a coil, as a wiring file writes it."""

    share: Name
    corner: Name


class CoilValues(Body):
    """The values of a coil that was measured, as a wiring file writes them."""

    resistance: Name
    inductance: Name
    capacitance: Name
    eddy: Annotated[list[EddyValues], Field(max_length=MOST_LOSSES)]


class TakeValues(Body):
    """Write what was measured of coils, with date and method.

    Two coils may be coupled at once.
    """

    do: Literal["take values"]
    coils: Annotated[dict[Name, CoilValues], Field(min_length=1, max_length=2)]
    comment: Name
    coefficient: Name | None = None

    def apply(self, document: Document) -> Edited:
        """Return what it does to a draft."""
        coils = {name: values.model_dump() for name, values in self.coils.items()}
        return measured.take_values(document, coils, self.comment, self.coefficient)


class Sensed(Body):
    """How loud a coil hears the strings, as a wiring file says it."""

    sensitivity: Sensitivity
    string_balance: Levels = Field(default_factory=list)


class Heard(Body):
    """What recordings told of a coil, with date and method.

    Without a balance the file's stays.
    """

    sensitivity: Sensitivity
    string_balance: Levels | None = None
    comment: Line


class TakeSensitivities(Body):
    """Write how sensitive coils were heard to be, against one of them."""

    do: Literal["take sensitivities"]
    coils: Annotated[dict[Name, Heard], Field(min_length=1, max_length=MOST_NAMES)]
    against: Annotated[dict[Name, Sensed], Field(min_length=1, max_length=1)]

    def apply(self, document: Document) -> Edited:
        """Return what it does to a draft."""
        coils = {
            name: one.model_dump(exclude={"comment"}, exclude_none=True) for name, one in self.coils.items()
        }
        comments = {name: one.comment for name, one in self.coils.items()}
        against = {name: (one.sensitivity, tuple(one.string_balance)) for name, one in self.against.items()}
        return measured.take_sensitivities(document, coils, comments, against)


class Gang(Body):
    """Put a switch or a pot on the shaft of a pot; null gives it its own."""

    do: Literal["gang"]
    part: Name
    to: Name | None

    def apply(self, document: Document) -> Edited:
        """Return what it does to a draft."""
        return choosing.gang(document, self.part, self.to)


class Couple(Body):
    """Set the coupling of two coils; null takes it out."""

    do: Literal["couple"]
    coils: Pair
    coefficient: Name | None

    def apply(self, document: Document) -> Edited:
        """Return what it does to a draft."""
        first, second = self.coils
        return choosing.couple(document, first, second, self.coefficient)


class Place(Body):
    """Write where the parts of the drawing stand; no places forget them all."""

    do: Literal["place"]
    part: Name
    how: Literal["moved", "turned", "tidied"]
    places: Annotated[
        dict[Name, Annotated[list[Coordinate], Field(min_length=2, max_length=3)]],
        Field(max_length=MOST_PLACES),
    ]

    def apply(self, document: Document) -> Edited:
        """Return what it does to a draft."""
        return placing.place(document, self.part, self.how, self.places)


Operation = Annotated[
    Add
    | Remove
    | Rename
    | Solder
    | Unsolder
    | UnsolderWire
    | SwapLeads
    | Choose
    | TakeValues
    | TakeSensitivities
    | Gang
    | Couple
    | Place,
    Field(discriminator="do"),
]
"""One thing to do at the bench."""


class ChangeForm(Body):
    """Asks for a draft with one thing done to it."""

    draft: DraftForm
    change: Operation


def bench_of(connection: Request | WebSocket) -> Bench:
    """Return the server's bench; the first request makes it."""
    state = connection.app.state
    if not hasattr(state, "bench"):
        state.bench = open_bench(state.store, state.library)
    bench: Bench = state.bench
    return bench
