"""From a listing to its instruments and their clips; what cannot be used is set aside with its reason."""

from __future__ import annotations

import fnmatch
import os
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from dsp.documents.tree import Entries
from dsp.errors import InputError, Problem, nearest
from dsp.parts.pot import KNOB_ALLOWED
from dsp.sound.movement import check_movements
from dsp.takes.performance import Performance
from dsp.wiring.model import Setting, Wiring
from server.clips.plan import ClipPlan, plan_clip
from server.files.cache import digest
from server.files.names import file_stem, require_unique_names
from server.files.yaml_text import load_tree
from server.listings.making.file_reader import read_listing
from server.listings.making.listing import ClipGroup, Listing, Named
from server.takes.load import load_take
from server.wirings.text import load_wiring

NO_WIRING = ("kind", "wirings")
"""Keys of takes and listings: such files in the way of a pattern are passed over."""
PATTERN_SIGNS = "*?["


@dataclass(frozen=True)
class ListedClip:
    """A clip of a listing: its plan, and the group it stands in."""

    plan: ClipPlan
    group: ClipGroup


@dataclass(frozen=True)
class Instrument:
    """One wiring of a listing.

    Attributes
    ----------
    folder : str
        Of its files, within that of the listing.
    wiring : Wiring
    clips : tuple of ListedClip
    """

    folder: str
    wiring: Wiring
    clips: tuple[ListedClip, ...]

    @property
    def name(self) -> str:
        """For people."""
        return self.wiring.name or self.folder


@dataclass(frozen=True)
class Unusable:
    """A wiring that makes no clips, and why."""

    file: str
    problems: tuple[Problem, ...]


@dataclass(frozen=True)
class ListingPlan:
    """Everything a listing asks for.

    Attributes
    ----------
    listing : Listing
    out : Path
    instruments : tuple of Instrument
    unusable : tuple of Unusable
    """

    listing: Listing
    out: Path
    instruments: tuple[Instrument, ...]
    unusable: tuple[Unusable, ...]

    @property
    def n_clips(self) -> int:
        """Clips, each in every format."""
        return sum(len(one.clips) for one in self.instruments)

    @property
    def seconds(self) -> float:
        """Length of all clips together, s."""
        return sum(clip.plan.performance.seconds for one in self.instruments for clip in one.clips)


def plan_listing(path: Path, out: Path | None = None) -> ListingPlan:
    """The plan of a listing file.

    Parameters
    ----------
    path : Path
    out : Path or None
        Folder instead of the listing's own.

    Raises
    ------
    InputError
        For the listing itself, a take, or a pattern that finds nothing. A wiring that cannot be
        used is no error of the listing: it is `Unusable`, and the others go on.
    """
    listing = read_listing(load_tree(path), str(path))
    performances = _performances(listing)
    instruments: list[Instrument] = []
    unusable: list[Unusable] = []
    for file, folder in _folders(_wiring_files(listing), listing.folder):
        try:
            instruments.append(_instrument(listing, file, folder, performances))
        except InputError as error:
            unusable.append(Unusable(str(file), error.problems))
    return ListingPlan(listing, out or listing.folder / listing.out, tuple(instruments), tuple(unusable))


def _performances(listing: Listing) -> dict[str, Performance]:
    """The takes by their name in the listing; all problems at once."""
    found: dict[str, Performance] = {}
    problems: list[Problem] = []
    for named in listing.takes:
        try:
            found[named.text] = load_take(listing.folder / named.text)
        except InputError as error:
            problems += [replace(p, where=f"{_at(listing, named)}: takes: {p.where}") for p in error.problems]
    if problems:
        raise InputError.of(problems)
    return found


def _at(listing: Listing, named: Named) -> str:
    return f"{listing.file}:{named.line}"


def _wiring_files(listing: Listing) -> list[Path]:
    """Files that the patterns find, each once, in order."""
    found: dict[Path, Path] = {}
    problems: list[Problem] = []
    for named in listing.wirings:
        matches = list(_matches(listing.folder, named.text))
        if not matches:
            allowed = "a pattern that finds wiring files"
            problems.append(Problem(f"{_at(listing, named)}: wirings", f"'{named.text}': no file", allowed))
        found |= {path.resolve(): path for path in matches if path.resolve() not in found}
    if problems:
        raise InputError.of(problems)
    return list(found.values())


def _matches(folder: Path, text: str) -> Iterator[Path]:
    """A path as it is, there or not; the files that a pattern finds, in order."""
    whole = folder / text
    if not any(sign in text for sign in PATTERN_SIGNS) or whole.exists():
        yield whole
        return
    base = Path(whole.anchor) if whole.is_absolute() else Path()
    pattern = str(whole.relative_to(base))
    yield from (path for path in sorted(base.glob(pattern)) if path.is_file() and _may_be_wiring(path))


def _may_be_wiring(path: Path) -> bool:
    """False for takes and listings; a file that cannot be read is a wiring to be mended."""
    try:
        tree = load_tree(path)
    except InputError:
        return True
    return not (isinstance(tree, Entries) and any(tree.get(key) is not None for key in NO_WIRING))


def _folders(files: list[Path], base: Path) -> Iterator[tuple[Path, str]]:
    """Each file with a folder name of its own: with its parent's where two would be one."""
    plain = {file: file_stem([file.stem]) for file in files}
    several = Counter(name.casefold() for name in plain.values())
    longer = {
        file: name if several[name.casefold()] == 1 else file_stem([file.resolve().parent.name, file.stem])
        for file, name in plain.items()
    }
    still = Counter(name.casefold() for name in longer.values())
    for file, name in longer.items():
        own = still[name.casefold()] == 1  # names that differ in their case alone are one on some disks
        yield file, name if own else file_stem([file.stem, digest(os.path.relpath(file, base))[:8]])


def _instrument(
    listing: Listing, file: Path, folder: str, performances: dict[str, Performance]
) -> Instrument:
    return instrument_of(listing, load_wiring(file), folder, performances)


def instrument_of(
    listing: Listing,
    wiring: Wiring,
    folder: str,
    performances: Mapping[str, Performance],
    take_names: Mapping[str, str] | None = None,
) -> Instrument:
    """A wiring with its clips.

    Parameters
    ----------
    listing : Listing
    wiring : Wiring
    folder : str
        Of its files, within that of the listing.
    performances : mapping of str to Performance
        By their names in the listing.
    take_names : mapping of str to str or None
        What a take is called in file names, where that is not its file's own name.

    Raises
    ------
    InputError
        If the wiring lacks something that a group of clips needs, or gets no clip at all.
    """
    clips = tuple(_clips(listing, wiring, performances, take_names or {}))
    if not clips:
        got = f"no clips for {Path(wiring.file).name}"
        raise InputError(listing.file, got, "a group of clips whose wirings have it")
    try:
        require_unique_names("names of the clips", ((one.plan.stem, one.plan.source) for one in clips))
    except InputError as error:
        hint = f"names: '{listing.names}' tells them apart by too little"
        raise InputError.of(replace(problem, hint=hint) for problem in error.problems) from error
    return Instrument(folder, wiring, clips)


def _clips(
    listing: Listing, wiring: Wiring, performances: Mapping[str, Performance], take_names: Mapping[str, str]
) -> Iterator[ListedClip]:
    number = 0
    for group in listing.groups:
        if group.wirings and not _named_by(group.wirings, wiring.file):
            continue
        for take in group.takes or performances:
            for setting in _settings(listing, group, wiring):
                number += 1
                plan = _planned(listing, group, wiring, performances[take], setting)
                name = take_names.get(take, plan.performance.name)
                stem = _stem(listing.names, plan, group, number, name)
                yield ListedClip(replace(plan, stem=stem), group)


def _named_by(patterns: Iterable[str], file: str) -> bool:
    name = Path(file).name
    return any(fnmatch.fnmatch(name, pattern) or Path(file).stem == pattern for pattern in patterns)


def _settings(listing: Listing, group: ClipGroup, wiring: Wiring) -> list[Setting]:
    """A group's settings on a wiring; what the wiring does not have is told with the group's line."""
    try:
        knobs = {name: _knob(name, value) for name, value in group.stands.items() if name in wiring.pots}
        others = {name: value for name, value in group.stands.items() if name not in wiring.pots}
        known = [*wiring.pots, *wiring.switches]
        for name in others:
            if name not in wiring.switches:
                hint = nearest(name, known)
                raise InputError(f"{wiring.file}: set", f"'{name}'", ", ".join(known) or "none here", hint)
        positions = group.positions or wiring.positions
        return [wiring.setting(position, knobs, others) for position in positions]
    except InputError as error:
        raise _of_group(listing, group, error) from error


def _knob(name: str, value: str) -> float:
    try:
        return float(value)
    except ValueError:
        raise InputError(f"set: {name}", f"'{value}'", KNOB_ALLOWED) from None


def _of_group(listing: Listing, group: ClipGroup, error: InputError) -> InputError:
    where = f"{listing.file}:{group.line}: clips {group.name}" if group.line else listing.file
    return InputError.of(replace(problem, where=f"{where}: {problem.where}") for problem in error.problems)


def _planned(
    listing: Listing, group: ClipGroup, wiring: Wiring, performance: Performance, setting: Setting
) -> ClipPlan:
    """A clip whose movements have been tried."""
    rate_hz, n_samples = listing.rate_hz, performance.frames(listing.rate_hz)
    try:
        check_movements(wiring, group.sweeps, group.flips, n_samples=n_samples, rate_hz=rate_hz)
    except InputError as error:
        raise _of_group(listing, group, error) from error
    return plan_clip(wiring, performance, setting, group.sweeps, group.flips)


def _stem(pattern: str, plan: ClipPlan, group: ClipGroup, number: int, take: str) -> str:
    """A clip's file name without its ending."""
    position = plan.setting.position
    words = {
        "wiring": Path(plan.wiring.file).stem,
        "instrument": plan.wiring.name or Path(plan.wiring.file).stem,
        "take": take,
        "position": position,
        "label": plan.wiring.labels.get(position, position),
        "clips": group.name,
        "number": f"{number:03d}",
    }
    return file_stem([pattern.format(**words)])
