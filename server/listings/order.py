"""Orders of listings from the bench: what one holds, what would become of it, and the plan to run it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from dsp.chain.ways import DIRECT, WAYS
from dsp.errors import InputError, Problem
from dsp.sound.hum import Hum, read_hum
from dsp.sound.movement import Sweep
from dsp.takes.performance import Performance
from dsp.wiring.model import Wiring
from server.commissions import versions
from server.commissions.versions import version_row
from server.database.store import Store
from server.files.audio_formats import Encoding
from server.files.names import file_stem, has_duplicate, make_unique
from server.listings.files import listing_folder, picture_file
from server.listings.making.file_fields import YES
from server.listings.making.file_reader import LOSSLESS_DEPTH, pattern_problems, read_sale
from server.listings.making.listing import ALL_OPEN, ClipGroup, Listing
from server.listings.making.plan import Instrument, ListingPlan, Unusable, plan_instrument
from server.listings.making.run import Cancelled
from server.listings.making.sale import LINK_ALLOWED, Sale, is_address
from server.listings.store import Order, OrderedTake, OrderedWiring
from server.refusals import Unknown
from server.takes.library import Library
from server.wirings.batch import Read, Text, Wirings
from server.workshop.store import get_workshop

WIRINGS = Wirings()
"""Cached, because the form checks an order again with every change."""


def make_order(
    store: Store,
    library: Library,
    title: str,
    wirings: Sequence[tuple[str, Sequence[str]]],
    takes: Sequence[str],
    options: Mapping[str, Any],
) -> Order:
    """Check a request for a listing, and name its files.

    Parameters
    ----------
    wirings : sequence of tuple
        Ids of versions, each with its positions; no positions for all.
    takes : sequence of str
        Ids.
    options : mapping
        As JSON; see `Order`. Where they name no artist, the workshop is it, by its name at this time.

    Raises
    ------
    Unknown
        For an unknown version or take.
    InputError
        For options that do not go together.
    """
    options = {**options, "artist": options.get("artist") or get_workshop(store).name}
    encodings_of(options)
    problems = pattern_problems(options["names"])
    if (address := options.get("address", "")) and not is_address(address):
        problems.append(Problem("address", address, LINK_ALLOWED))
    if options.get("limit") and options["loudness_lufs"] is None:
        problems.append(Problem("limit", YES, "a loudness in LUFS beside it"))
    try:
        hum_of(options)
    except InputError as error:
        problems += error.problems
    if problems:
        raise InputError.of(problems)
    known = {take.id: take for take in library.list_takes()}
    if missing := next((one for one in takes if one not in known), None):
        raise Unknown("take", f"'{missing}'", ", ".join(known))
    chosen = list(dict.fromkeys(takes))
    files = make_unique(_take_file(library, known[one].id, known[one].name) for one in chosen)
    names = [known[one].name for one in chosen]
    ordered = tuple(OrderedTake(*one) for one in zip(chosen, names, files, strict=True))
    order = Order(title, tuple(_order_wirings(store, dict(wirings))), ordered, options)
    _sales_of(order, store.folder)
    return order


def _take_file(library: Library, take: str, name: str) -> str:
    """Return a take's name in file names; an uploaded one has no file name of its own."""
    return file_stem([library.performance(take).name if ":" in take else name])


def _order_wirings(store: Store, positions: Mapping[str, Sequence[str]]) -> Iterator[OrderedWiring]:
    """Give each wiring a folder of its own; equal names get the commission's title too."""
    with store.read() as db:
        rows = {version: version_row(db, version) for version in positions}
        homes = versions.homes_of(db, rows)
    plain = [file_stem([homes[version][0]]) for version in positions]
    longer = [
        file_stem([homes[version][1], homes[version][0]]) if has_duplicate(name, plain) else name
        for version, name in zip(positions, plain, strict=True)
    ]
    for (version, chosen), folder in zip(positions.items(), make_unique(longer), strict=True):
        row, (name, title) = rows[version], homes[version]
        shown = name if name == title else f"{title}: {name}"
        yield OrderedWiring(version, row["sha256"], shown, folder, tuple(chosen), row["text"])


def _sales_of(order: Order, data: Path) -> tuple[Sale, ...]:
    """Return what an order says to buyers.

    Raises
    ------
    InputError
        With every problem of all instruments.
    Unknown
        If a picture is gone.
    """
    sales: list[Sale] = []
    problems: list[Problem] = []
    for ordered in order.wirings:
        values = order.options.get("sales", {}).get(ordered.version, {})
        try:
            sale = read_sale(values, ordered.name)
        except InputError as error:
            problems += error.problems
            continue
        picture = str(picture_file(data, sale.picture).resolve()) if sale.picture else ""
        if sale != Sale():
            sales.append(replace(sale, wirings=(ordered.folder,), picture=picture))
    if problems:
        raise InputError.of(problems)
    return tuple(sales)


def encodings_of(options: Mapping[str, Any]) -> tuple[Encoding, ...]:
    """Return the encodings that an order's options name.

    Raises
    ------
    InputError
        For options that do not go together.
    """
    found: dict[str, Encoding] = {}
    for one in options["formats"]:
        name = one["format"]
        if name in found:
            raise InputError("formats", f"{name} again", "each format once")
        depth = one.get("depth") or ("" if Encoding(name).lossy else LOSSLESS_DEPTH)
        found[name] = Encoding(name, depth, one.get("quality", Encoding.quality))
        found[name].check_rate(options["rate_hz"])
    return tuple(found.values())


def hum_of(options: Mapping[str, Any]) -> Hum | None:
    """Return the hum that an order's options name.

    Raises
    ------
    InputError
        If there is no such room.
    """
    text = options.get("hum", "")
    return read_hum(text) if text else None


def listing_of(order: Order, data: Path) -> Listing:
    """Return the listing of an order, without the groups of each wiring.

    Parameters
    ----------
    data : Path
        Folder of the database and the pictures.
    """
    options = order.options
    return Listing(
        order.title,
        (),
        encodings_of(options),
        options["loudness_lufs"],
        options["names"],
        options["rate_hz"],
        sales=_sales_of(order, data),
        address=options.get("address", ""),
        artist=options.get("artist", ""),
        way=WAYS[options.get("through", DIRECT.name)],
        limited=options.get("limit", False),
        hum=hum_of(options),
    )


@dataclass(frozen=True)
class WiringPreview:
    """What one wiring of an order would become.

    Attributes
    ----------
    wiring : Wiring or None
        None if its text cannot be read.
    instrument : Instrument or None
        None if no clip can be made.
    left_out : tuple of str
        Settings that the wiring cannot have, and why.
    problems : tuple of Problem
        Why there is no clip.
    """

    ordered: OrderedWiring
    wiring: Wiring | None = None
    instrument: Instrument | None = None
    left_out: tuple[str, ...] = ()
    problems: tuple[Problem, ...] = ()


@dataclass(frozen=True)
class OrderPreview:
    """What an order would become."""

    order: Order
    rows: tuple[WiringPreview, ...]
    n_formats: int
    instruments: tuple[Instrument, ...] = field(init=False)

    def __post_init__(self) -> None:
        usable = tuple(row.instrument for row in self.rows if row.instrument is not None)
        object.__setattr__(self, "instruments", usable)

    @property
    def clips(self) -> int:
        """Number of clips; each has a file per format."""
        return sum(len(one.clips) for one in self.instruments)

    @property
    def seconds(self) -> float:
        """Length of the clips together, s."""
        return sum(clip.plan.performance.seconds for one in self.instruments for clip in one.clips)

    def require_clips(self) -> None:
        """Refuse an order that yields no clip.

        Raises
        ------
        InputError
            With the problems of every wiring.
        """
        if not self.instruments:
            raise InputError.of([problem for row in self.rows for problem in row.problems])

    def files(self) -> list[int]:
        """Return the number of files per wiring."""
        return [self.n_formats * (len(row.instrument.clips) if row.instrument else 0) for row in self.rows]


def preview(order: Order, library: Library, *, stopped: Callable[[], bool] = lambda: False) -> OrderPreview:
    """Work out the clips of an order, and what cannot be made.

    Parameters
    ----------
    stopped : callable
        Called before each wiring; True ends the work.

    Raises
    ------
    InputError
        For a take that cannot be used.
    Cancelled
        If `stopped` said so.
    """
    listing = listing_of(order, library.store.folder)
    performances = {take.id: library.performance(take.id) for take in order.takes}
    read = WIRINGS.read(_text_of(ordered) for ordered in order.wirings)
    rows = []
    for ordered in order.wirings:
        if stopped():
            raise Cancelled
        rows.append(_preview_wiring(listing, order, ordered, read[_text_of(ordered)], performances))
    return OrderPreview(order, tuple(rows), len(listing.encodings))


def _text_of(ordered: OrderedWiring) -> Text:
    return ordered.text, f"{ordered.folder}.yaml"


def _preview_wiring(
    listing: Listing,
    order: Order,
    ordered: OrderedWiring,
    wiring: Read,
    performances: Mapping[str, Performance],
) -> WiringPreview:
    if not isinstance(wiring, Wiring):
        return WiringPreview(ordered, problems=wiring)
    groups, left_out = _groups_of(order.options, wiring, ordered.positions)
    names = {take.id: take.file for take in order.takes}
    try:
        if not groups:
            raise InputError(wiring.file, "; ".join(left_out), "one setting that it can have")
        own = replace(listing, groups=groups)
        instrument = plan_instrument(own, wiring, ordered.folder, performances, names)
    except InputError as error:
        return WiringPreview(ordered, wiring, None, left_out, error.problems)
    return WiringPreview(ordered, wiring, instrument, left_out)


def _groups_of(
    options: Mapping[str, Any], wiring: Wiring, positions: tuple[str, ...]
) -> tuple[tuple[ClipGroup, ...], tuple[str, ...]]:
    """Return the groups of clips that a wiring can have, and why others are left out."""
    if not options["settings"]:
        return (ClipGroup(ALL_OPEN, "Every knob at 10", positions),), ()
    known = {*wiring.knobs, *wiring.stands}
    groups, left_out = [], []
    for one in options["settings"]:
        settings = {name: f"{value:g}" for name, value in one["knobs"].items()} | one["switches"]
        needed = [*settings, *(sweep["knob"] for sweep in one["sweeps"])]
        missing = [name for name in dict.fromkeys(needed) if name not in known]
        label = one["label"] or one["name"]
        if missing:
            left_out.append(f"{label}: it has no {', '.join(missing)}")
            continue
        sweeps = tuple(
            Sweep(sweep["knob"], sweep["start"], sweep["end"], sweep["from_s"], sweep["to_s"])
            for sweep in one["sweeps"]
        )
        groups.append(ClipGroup(one["name"], label, positions, settings=settings, sweeps=sweeps))
    return tuple(groups), tuple(left_out)


def plan_order(
    job: str, order: Order, library: Library, *, stopped: Callable[[], bool] = lambda: False
) -> ListingPlan:
    """Plan a listing of the queue; see `preview` for its errors."""
    found = preview(order, library, stopped=stopped)
    unusable = tuple(
        Unusable(row.ordered.folder, row.problems) for row in found.rows if row.instrument is None
    )
    data = library.store.folder
    out = listing_folder(data, job)
    return ListingPlan(listing_of(order, data), out, found.instruments, unusable)
