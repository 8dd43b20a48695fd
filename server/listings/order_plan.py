"""What a listing that the bench asks for would become, and the plan to run it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from dsp.errors import InputError, Problem
from dsp.sound.movement import Sweep
from dsp.takes.performance import Performance
from dsp.wiring.model import Wiring
from server.listings.files import listing_folder
from server.listings.making.listing import ALL_OPEN, ClipGroup, Listing
from server.listings.making.plan import Instrument, ListingPlan, Unusable, instrument_of
from server.listings.making.run import Cancelled
from server.listings.order import encodings_of
from server.listings.store import Asked, ListedWiring
from server.takes.library import Library
from server.wirings.batch import Read, Text, Wirings

HERE = "the listing"
WIRINGS = Wirings()
"""Kept, because a listing is checked again with every change of it."""


@dataclass(frozen=True)
class Previewed:
    """What one wiring of a listing would become.

    Attributes
    ----------
    wanted : ListedWiring
    wiring : Wiring or None
        None if its text cannot be read.
    instrument : Instrument or None
        None if no clip can be made.
    left_out : tuple of str
        Settings that it cannot have, and why.
    problems : tuple of Problem
        Why there is no clip.
    """

    wanted: ListedWiring
    wiring: Wiring | None = None
    instrument: Instrument | None = None
    left_out: tuple[str, ...] = ()
    problems: tuple[Problem, ...] = ()


@dataclass(frozen=True)
class Preview:
    """What a listing would become.

    Attributes
    ----------
    asked : Asked
    rows : tuple of Previewed
    n_formats : int
    """

    asked: Asked
    rows: tuple[Previewed, ...]
    n_formats: int
    made: tuple[Instrument, ...] = field(init=False)

    def __post_init__(self) -> None:
        made = tuple(row.instrument for row in self.rows if row.instrument is not None)
        object.__setattr__(self, "made", made)

    @property
    def clips(self) -> int:
        """Clips, each in every format."""
        return sum(len(one.clips) for one in self.made)

    @property
    def seconds(self) -> float:
        """Length of the clips together, s."""
        return sum(clip.plan.performance.seconds for one in self.made for clip in one.clips)

    def require_clips(self) -> None:
        """Refuse a listing that nothing would come of.

        Raises
        ------
        InputError
            With the problems of every wiring.
        """
        if not self.made:
            raise InputError.of([problem for row in self.rows for problem in row.problems])

    def files(self) -> list[int]:
        """Files there would be, per wiring."""
        return [self.n_formats * (len(row.instrument.clips) if row.instrument else 0) for row in self.rows]


def _listing(asked: Asked) -> Listing:
    """The listing as a file of it would be read; its groups are each wiring's own."""
    options = asked.options
    return Listing(
        asked.title,
        HERE,
        (),
        (),
        (),
        encodings_of(options),
        options["loudness_lufs"],
        options["names"],
        "",
        options["rate_hz"],
    )


def preview(asked: Asked, library: Library, *, stopped: Callable[[], bool] = lambda: False) -> Preview:
    """What a listing would become: its clips, and what cannot be made.

    Raises
    ------
    InputError
        For a take that cannot be used.
    Cancelled
        When it was asked for in between.
    """
    listing = _listing(asked)
    performances = {take.id: library.performance(take.id) for take in asked.takes}
    read = WIRINGS.read(_text(wanted) for wanted in asked.wirings)
    rows = []
    for wanted in asked.wirings:
        if stopped():
            raise Cancelled
        rows.append(_previewed(listing, asked, wanted, read[_text(wanted)], performances))
    return Preview(asked, tuple(rows), len(listing.encodings))


def _text(wanted: ListedWiring) -> Text:
    return wanted.text, f"{wanted.folder}.yaml"


def _previewed(
    listing: Listing,
    asked: Asked,
    wanted: ListedWiring,
    wiring: Read,
    performances: Mapping[str, Performance],
) -> Previewed:
    if not isinstance(wiring, Wiring):
        return Previewed(wanted, problems=wiring)
    groups, left_out = _groups(asked.options, wiring, wanted.positions)
    names = {take.id: take.file for take in asked.takes}
    try:
        if not groups:
            raise InputError(wiring.file, "; ".join(left_out), "one setting that it can have")
        own = replace(listing, groups=groups)
        instrument = instrument_of(own, wiring, wanted.folder, performances, names)
    except InputError as error:
        return Previewed(wanted, wiring, None, left_out, error.problems)
    return Previewed(wanted, wiring, instrument, left_out)


def _groups(
    options: Mapping[str, Any], wiring: Wiring, positions: tuple[str, ...]
) -> tuple[tuple[ClipGroup, ...], tuple[str, ...]]:
    """The settings that a wiring can have, and why others are left out."""
    if not options["settings"]:
        return (ClipGroup(ALL_OPEN, "Every knob at 10", positions),), ()
    known = {*wiring.pots, *wiring.switches}
    found, left_out = [], []
    for one in options["settings"]:
        stands = {name: f"{value:g}" for name, value in one["knobs"].items()} | one["switches"]
        needed = [*stands, *(sweep["knob"] for sweep in one["sweeps"])]
        missing = [name for name in dict.fromkeys(needed) if name not in known]
        label = one["label"] or one["name"]
        if missing:
            left_out.append(f"{label}: it has no {', '.join(missing)}")
            continue
        sweeps = tuple(
            Sweep(sweep["knob"], sweep["start"], sweep["end"], sweep["from_s"], sweep["to_s"])
            for sweep in one["sweeps"]
        )
        found.append(ClipGroup(one["name"], label, positions, stands=stands, sweeps=sweeps))
    return tuple(found), tuple(left_out)


def plan_of(
    job: str, asked: Asked, library: Library, *, stopped: Callable[[], bool] = lambda: False
) -> ListingPlan:
    """The plan of a listing that is in the queue.

    Raises
    ------
    InputError
        For a take that cannot be used.
    Cancelled
        When it was asked for in between.
    """
    found = preview(asked, library, stopped=stopped)
    unusable = tuple(
        Unusable(row.wanted.folder, row.problems) for row in found.rows if row.instrument is None
    )
    out = listing_folder(library.store.folder, job)
    return ListingPlan(_listing(asked), out, found.made, unusable)
