"""A request for sound: a draft at a setting, on a take; and the bench that answers it.

A page sends its draft whole with every request, so a restart of the server loses nothing. The
bench caches by content: wirings by their text, filters by text and setting, stems by the coils.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Hashable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cache, cached_property
from itertools import islice, product
from typing import Any, TypeVar

import numpy as np

from dsp.chain.ways import DIRECT, Way
from dsp.documents.tree import Node
from dsp.errors import Problem
from dsp.facts.findings.check import check
from dsp.facts.findings.table import Finding
from dsp.filters.bank import Bank
from dsp.filters.design import design_bank
from dsp.live.model import make_model, pack_model
from dsp.sound.live_level import TakeSpectra, monitor_gain_db
from dsp.takes.performance import Performance
from dsp.wiring.editing.document import Document, Edit, Edited
from dsp.wiring.model import Drawn, Setting, Wiring
from dsp.wiring.reading.wiring import coils_alone, read_unfinished, read_wiring
from server.bench.stems import LiveStems, LiveTakes, Prepare, stem_inputs
from server.bench.through import Measured, Through, ThroughLevels, small_gain_db, valve_bank
from server.commissions import versions
from server.database.store import Store
from server.files.recent import Recent
from server.files.yaml_text import parse_tree
from server.takes.library import Library
from server.wirings.drafts import make_document
from server.wirings.edit_names import edit_names
from server.wirings.text import WiringText

RATE_HZ = 48_000
"""The rate at which the page plays."""
LONGEST_S = 180.0
"""Of a take that a page holds whole in memory; four coils at 48 kHz are then 138 MB."""
FILE = "wiring"
"""What problems of a draft call the file."""
MOST_WIRINGS, MOST_BANKS, MOST_CACHED = 64, 2048, 128
MOST_THROWS = 16
"""Combinations of switches that are tried where every position is silent with the switches at rest."""

DIRECTLY = Through()

Result = TypeVar("Result")


@dataclass(frozen=True)
class Draft:
    """A saved version of a wiring and the unsaved edits on it, in order."""

    version: str
    edits: tuple[Edit, ...] = ()


@dataclass(frozen=True)
class Hearing:
    """A setting of a draft, and the take to hear it on; not checked yet.

    Attributes
    ----------
    knobs : mapping of str to float
        A knob left out stands at 10.
    switches : mapping of str to str
        A switch left out stands in its first position.
    through : Through
        How it is heard.
    """

    draft: Draft
    position: str
    knobs: Mapping[str, float] = field(default_factory=dict)
    switches: Mapping[str, str] = field(default_factory=dict)
    take: str | None = None
    through: Through = DIRECTLY


@dataclass(frozen=True)
class Monitor:
    """How a take is heard through a draft.

    Attributes
    ----------
    gain_db : float
        With it the loudest position plays at the common loudness; infinite for silence.
    lowered_db : float
        What the drive of its way gives way by, for every sound of the take.
    """

    gain_db: float
    lowered_db: float = 0.0


@dataclass(frozen=True)
class ParsedDraft:
    """A draft that has been read; ``text`` holds its edits and all comments."""

    text: str
    tree: Node
    wiring: Wiring

    @cached_property
    def circuit(self) -> str:
        """All that is heard of the wiring, as a key; its drawing is not."""
        return repr(replace(self.wiring, drawn=Drawn()))


class Bench:
    """Answers requests for wirings, filters and stems; caches results.

    Parameters
    ----------
    text_of : callable
        Returns the text of a version by its id; versions never change.
    performance_of : callable
        Returns a take by its id; what an id stands for never changes.
    prepare : callable
        Called with performance, wiring and rate before a take's stems are read.
    """

    def __init__(
        self, text_of: Callable[[str], str], performance_of: Callable[[str], Performance], prepare: Prepare
    ) -> None:
        self._text_of = text_of
        self._takes = LiveTakes(performance_of, prepare, RATE_HZ, LONGEST_S)
        self._parsed: Recent[ParsedDraft] = Recent(MOST_WIRINGS)
        self._texts: Recent[tuple[str, Node]] = Recent(MOST_WIRINGS)
        self._coils: Recent[Wiring] = Recent(MOST_WIRINGS)
        self._findings: Recent[tuple[Finding, ...]] = Recent(MOST_WIRINGS)
        self._banks: Recent[Bank] = Recent(MOST_BANKS)
        self._models: Recent[bytes] = Recent(MOST_CACHED)
        self._through = ThroughLevels()
        self._cached: Recent[Any] = Recent(MOST_CACHED)

    def require_version(self, draft: Draft) -> None:
        """Refuse a draft of an unknown version.

        Raises
        ------
        Unknown
        """
        self._text_of(draft.version)

    def read(self, draft: Draft) -> ParsedDraft:
        """Read a draft.

        Raises
        ------
        InputError
            With every problem of the edited text, or if there is no such version.
        """
        return self._parsed.get_or_make(draft, lambda: self._read(draft))

    def _read(self, draft: Draft) -> ParsedDraft:
        text, tree = self._text(draft)
        wiring = read_wiring(tree, FILE)
        self._texts.get_or_make(draft, lambda: (text, tree))
        return ParsedDraft(text, tree, wiring)

    def _text(self, draft: Draft) -> tuple[str, Node]:
        """Return the edited text of a draft, and its tree."""
        return self._texts.get(draft) or self._edit(draft)

    def _edit(self, draft: Draft) -> tuple[str, Node]:
        text = self._text_of(draft.version)
        if draft.edits:
            edited = WiringText(text, FILE)
            edited.change(draft.edits)
            text = edited.dump()
        return text, parse_tree(text, FILE)

    def read_unfinished(self, draft: Draft) -> tuple[ParsedDraft, tuple[Problem, ...]]:
        """Read a draft that may lack a jack or its coils, and what it lacks.

        Raises
        ------
        InputError
            With every problem of the edited text but these.
        """
        text, tree = self._text(draft)
        wiring, lacking = read_unfinished(tree, FILE)
        parsed = ParsedDraft(text, tree, wiring)
        self._texts.get_or_make(draft, lambda: (text, tree))
        return (parsed if lacking else self._parsed.get_or_make(draft, lambda: parsed)), lacking

    def change(
        self, draft: Draft, operation: Callable[[Document], Edited]
    ) -> tuple[Edited, tuple[Problem, ...]]:
        """Do one thing to a draft; return its edits, and what is missing then.

        Raises
        ------
        InputError
            If the operation refuses, or with every problem of the result.
        """
        _, tree = self._text(draft)
        done = operation(make_document(self._text_of(draft.version), tree, draft.edits, FILE))
        _, lacking = self.read_unfinished(Draft(draft.version, done.edits))
        return done, lacking

    def edit_names(self, draft: Draft) -> tuple[str, ...]:
        """Return a short name for each edit of a draft, even one with problems."""
        return edit_names(self._text_of(draft.version), draft.edits) if draft.edits else ()

    def wiring(self, draft: Draft) -> Wiring:
        """Return a draft's wiring; see `read`."""
        return self.read(draft).wiring

    def findings(self, draft: Draft) -> tuple[Finding, ...]:
        """Return every finding of a draft, the gravest first."""
        parsed = self.read(draft)
        return self._findings.get_or_make(parsed.text, lambda: check(parsed.wiring))

    def setting(self, hearing: Hearing) -> Setting:
        """Return the whole setting of a request.

        Raises
        ------
        InputError
            If the draft cannot be read, or has no such setting.
        """
        wiring = self.wiring(hearing.draft)
        return wiring.setting(hearing.position, hearing.knobs, hearing.switches)

    def bank(self, hearing: Hearing) -> Bank:
        """Return the filters of a setting; see `setting`."""
        parsed, setting = self.read(hearing.draft), self.setting(hearing)
        key = (parsed.circuit, _key(setting))
        return self._banks.get_or_make(key, lambda: design_bank(parsed.wiring, setting, RATE_HZ))

    def cached(self, draft: Draft, settings: Sequence[Setting], make: Callable[[], Result]) -> Result:
        """Return what ``make`` makes of settings of a draft; keep one result."""
        key = (self.read(draft).text, tuple(map(_key, settings)))
        result: Result = self._cached.get_or_make(key, make)
        return result

    def stems(self, draft: Draft, take: str, *, from_s: float = 0.0) -> LiveStems:
        """Return the stems of a take for a draft; see `LiveTakes.stems`."""
        return self._takes.stems(self.coils(draft), take, from_s=from_s)

    def spectra(self, draft: Draft, take: str) -> TakeSpectra:
        """Return the spectra of a take's stems for a draft."""
        return self._takes.spectra(self.coils(draft), take)

    def model(self, hearing: Hearing) -> bytes:
        """Return a setting for any knob values; see `dsp.live.model`."""
        parsed, setting = self.read(hearing.draft), self.setting(hearing)
        key = (parsed.circuit, _key(setting))
        return self._models.get_or_make(key, lambda: pack_model(make_model(parsed.wiring, setting)))

    def coils(self, draft: Draft) -> Wiring:
        """Return the coils of a draft, without what they are soldered to.

        Takes depend on nothing else of a wiring. A page asks for them by the edits that concern
        coils, and a part that these add or remove may leave joints that make no sense without the others.

        Raises
        ------
        InputError
            With every problem of the coils and the instrument.
        """
        return self._coils.get_or_make(draft, lambda: read_wiring(coils_alone(self._text(draft)[1]), FILE))

    def match_gain_db(self, hearing: Hearing, bank: Bank, *, wait: bool) -> tuple[float | None, bool]:
        """Return the gain that brings a take to the common loudness.

        Parameters
        ----------
        bank : Bank
            Its filters, up to where its way begins.
        wait : bool
            Play the take first where that has not been done, and run it through a way that bends: that
            takes seconds.

        Returns
        -------
        gain_db : float or None
            Infinite for silence; None without a take, or if the take has not been played.
        final : bool
            False if it is unknown or a guess.

        Raises
        ------
        InputError
            If there is no such take, or it does not fit the wiring.
        """
        if hearing.take is None:
            return None, True
        wiring = self.wiring(hearing.draft)
        spectra = self._takes.spectra_ready(wiring, hearing.take)
        if spectra is None and wait:
            spectra = self._takes.spectra(wiring, hearing.take)
        if spectra is None:
            return None, False
        small_db = small_gain_db(spectra, bank, hearing.through)
        if not hearing.through.bends:
            return small_db, True
        measured = self._measure(hearing, bank, small_db) if wait else self._through.ready(self._key(hearing))
        if measured is None:
            return self._through.guess_gain_db(self._family(hearing), small_db), False
        return measured.match_gain_db, True

    def _measure(self, hearing: Hearing, bank: Bank, small_db: float) -> Measured:
        """Run a take through a way that bends."""
        assert hearing.take is not None
        stems = self._takes.stems(self.wiring(hearing.draft), hearing.take).samples
        found = self._through.measure(self._key(hearing), bank, stems, hearing.through)
        self._through.learn(self._family(hearing), small_db, found)
        return found

    def _key(self, hearing: Hearing) -> Hashable:
        circuit, setting = self.read(hearing.draft).circuit, self.setting(hearing)
        return (circuit, _key(setting), hearing.take, hearing.through)

    def _family(self, hearing: Hearing) -> Hashable:
        return (stem_inputs(self.wiring(hearing.draft)), hearing.take, hearing.through)

    def monitor(self, draft: Draft, take: str, way: Way = DIRECT) -> Monitor:
        """Return how loud the page plays a take in a way, and how it is driven.

        The loudest position plays at the common loudness, all knobs at 10 and the switches at rest.
        Where that is silence, as with a kill switch, the switches are tried.

        Raises
        ------
        InputError
            If the draft cannot be read, there is no such take, or it does not fit the wiring.
        """
        found = Monitor(math.inf)
        for settings in self._by_switches(draft):
            found = self._monitor([replace(one, take=take) for one in settings], way)
            if math.isfinite(found.gain_db):
                break
        return found

    def _monitor(self, settings: Sequence[Hearing], way: Way) -> Monitor:
        lowered_db = 0.0
        if way.oversampling:
            driven = [replace(one, through=Through(way)) for one in settings]
            excess_db = max(self._measured(one).excess_db for one in driven)
            lowered_db = math.ceil(1e3 * excess_db) / 1e3
        heard = [replace(one, through=Through(way, lowered_db)) for one in settings]
        gains = (self.match_gain_db(one, self._valve_bank(one), wait=True)[0] for one in heard)
        return Monitor(monitor_gain_db(gain for gain in gains if gain is not None), lowered_db)

    def _measured(self, hearing: Hearing) -> Measured:
        bank = self._valve_bank(hearing)
        assert hearing.take is not None
        spectra = self._takes.spectra(self.wiring(hearing.draft), hearing.take)
        return self._measure(hearing, bank, small_gain_db(spectra, bank, hearing.through))

    def _valve_bank(self, hearing: Hearing) -> Bank:
        return valve_bank(self.bank(hearing), self.wiring(hearing.draft).load, hearing.through)

    def _by_switches(self, draft: Draft) -> Iterator[list[Hearing]]:
        """Yield every position, for each combination of the other switches, those at rest first."""
        wiring = self.wiring(draft)
        throws = product(*(switch.contacts for switch in wiring.switches.values()))
        for stands in islice(throws, MOST_THROWS):
            switches = dict(zip(wiring.switches, stands, strict=True))
            yield [Hearing(draft, position, switches=switches) for position in wiring.positions]

    def frame(self, hearing: Hearing, number: int, *, wait: bool) -> tuple[bytes, bool]:
        """Return the frame of a request, and whether its level need not follow.

        Its filters end where its way begins.

        Parameters
        ----------
        number : int
            Of the request; the frame repeats it.
        wait : bool
            As for `match_gain_db`.

        Raises
        ------
        InputError
            If the draft cannot be read, or has no such setting, or there is no such take.
        """
        bank = self._valve_bank(hearing)
        gain_db, final = self.match_gain_db(hearing, bank, wait=wait)
        return frame_of(number, bank, math.nan if gain_db is None else gain_db), final


def open_bench(store: Store, library: Library) -> Bench:
    """Return a bench of the versions of a database and the takes of a library."""
    return Bench(
        lambda version: str(versions.get_version(store, version)["text"]),
        library.performance,
        library.prepare,
    )


def _key(setting: Setting) -> Hashable:
    return (setting.position, tuple(setting.knobs.items()), tuple(setting.switches.items()))


@cache
def played_chain() -> dict[str, Any]:
    """Return the chain behind a guitar as pages run it: one for all."""
    from dsp.chain.chain_record import chain_record

    return chain_record(RATE_HZ)


def frame_of(number: int, bank: Bank, match_gain_db: float) -> bytes:
    """Write a bank as the page's audio thread reads it.

    Parameters
    ----------
    number : int
        Of the request.
    match_gain_db : float
        Brings the take to the common loudness; NaN if that is unknown, infinite for silence.

    Returns
    -------
    bytes
        Little-endian float64: eight numbers, poles, numerators, taps (a multiple of four per coil).
    """
    n_coils, n_taps = bank.taps.shape
    error_db = bank.error.level_db
    head = [
        number,
        n_coils,
        len(bank.poles),
        n_taps,
        bank.delay,
        error_db,
        float(bank.error.meets_contract),
        match_gain_db,
    ]
    parts = [np.array(head, float), bank.poles.ravel(), bank.numerators.ravel(), bank.taps.ravel()]
    return np.concatenate(parts).astype("<f8").tobytes()
