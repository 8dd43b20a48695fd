"""Plan a listing: its instruments with their clips, and the wirings that cannot be used."""

from __future__ import annotations

import contextlib
import os
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from dsp.documents.tree import Entries
from dsp.errors import InputError, Problem
from dsp.takes.performance import Performance
from dsp.wiring.model import Setting, Wiring
from server.clips.cabinet import load_cabinet
from server.clips.plan import ClipPlan, plan_clip
from server.files.cache import digest
from server.files.existing import path_kind, real_path
from server.files.names import file_stem, require_unique_names
from server.files.yaml_text import load_tree
from server.listings.making.file_reader import read_listing_in_part
from server.listings.making.groups import check_moves, idle_patterns, settings_of, slips_of
from server.listings.making.listing import ClipGroup, Listing, ListingFile, Named
from server.listings.making.matching import is_for
from server.listings.making.sale import sale_problems
from server.wirings.text import load_wiring

NO_WIRING = ("kind", "wirings")
"""Keys of takes and listings: a pattern skips such files."""
PATTERN_SIGNS = "*?["


@dataclass(frozen=True)
class GroupedClip:
    """A clip of a listing: its plan, and its group."""

    plan: ClipPlan
    group: ClipGroup


@dataclass(frozen=True)
class Instrument:
    """One wiring of a listing.

    Attributes
    ----------
    folder : str
        Folder of its files, within the listing's.
    """

    folder: str
    wiring: Wiring
    clips: tuple[GroupedClip, ...]

    @property
    def name(self) -> str:
        """Name for people."""
        return self.wiring.name or self.folder

    def title(self, i: int) -> str:
        """Return the title of a clip for people: its position, knobs and take."""
        clip = self.clips[i]
        plan, groups = clip.plan, {one.group.name for one in self.clips}
        position = f"{plan.setting.position} {self.wiring.labels.get(plan.setting.position, '')}".strip()
        knobs = f", {clip.group.label or clip.group.name}" if len(groups) > 1 else ""
        return f"{position}{knobs}: {plan.performance.take.name or plan.performance.name}"


@dataclass(frozen=True)
class Unusable:
    """A wiring that makes no clips, and why."""

    file: str
    problems: tuple[Problem, ...]


@dataclass(frozen=True)
class ListingPlan:
    """Everything a listing is to hold, and the folder for it."""

    listing: Listing
    out: Path
    instruments: tuple[Instrument, ...]
    unusable: tuple[Unusable, ...]

    @property
    def n_clips(self) -> int:
        """Number of clips; each has a file per format."""
        return sum(len(one.clips) for one in self.instruments)

    @property
    def seconds(self) -> float:
        """Length of all clips together, s."""
        return sum(clip.plan.performance.seconds for one in self.instruments for clip in one.clips)


def plan_listing(path: Path, load: Callable[[Path], Performance], out: Path | None = None) -> ListingPlan:
    """Plan what a listing file asks for.

    Parameters
    ----------
    load : callable
        Makes a take file, or a sound file, ready to be played.
    out : Path or None
        Folder to use instead of the listing's own.

    Raises
    ------
    InputError
        For the listing itself, a take, or a pattern that matches no file; all such problems
        together, with those that the groups of clips have on the wirings. A wiring that cannot be
        used does not stop the others: it becomes `Unusable`.
    """
    file, problems = read_listing_in_part(load_tree(path), str(path))
    performances, of_takes = _load_takes(file, load)
    file, of_cabinet = _with_cabinet(file)
    files, of_patterns = _wiring_files(file)
    problems += [*of_patterns, *of_takes, *of_cabinet, *(idle_patterns(file.listing, files) if files else ())]
    problems += sale_problems(file.listing.sales, file.listing.where, files)
    if problems:
        raise InputError.of([*problems, *_slips_on(files, file.listing, performances)])
    instruments: list[Instrument] = []
    unusable: list[Unusable] = []
    for wiring, folder in _name_folders(files, file.folder):
        try:
            instruments.append(plan_instrument(file.listing, load_wiring(wiring), folder, performances))
        except InputError as error:
            unusable.append(Unusable(str(wiring), error.problems))
    return ListingPlan(file.listing, out or file.folder / file.out, tuple(instruments), tuple(unusable))


def _slips_on(files: list[Path], listing: Listing, performances: Mapping[str, Performance]) -> list[Problem]:
    """Return the mistakes of all groups, each once however many wirings show it."""
    found: dict[tuple[str, str], Problem] = {}
    for path in files:
        with contextlib.suppress(InputError):  # the plan reports a broken wiring later
            found = slips_of(listing, load_wiring(path), performances) | found
    return list(found.values())


def _load_takes(
    file: ListingFile, load: Callable[[Path], Performance]
) -> tuple[dict[str, Performance], list[Problem]]:
    """Load the takes, by their names in the listing; return all their problems too."""
    found: dict[str, Performance] = {}
    problems: list[Problem] = []
    for named in file.takes:
        try:
            found[named.text] = load(file.folder / named.text)
        except InputError as error:
            problems += [
                replace(p, where=f"{_line_of(file, named)}: takes: {p.where}") for p in error.problems
            ]
    return found, problems


def _with_cabinet(file: ListingFile) -> tuple[ListingFile, list[Problem]]:
    """Load the cabinet of a listing; return its problems too."""
    if file.cabinet is None:
        return file, []
    try:
        cabinet = load_cabinet(file.folder / file.cabinet.text, file.listing.rate_hz)
    except InputError as error:
        place = f"{_line_of(file, file.cabinet)}: cabinet"
        return file, [replace(p, where=f"{place}: {p.where}") for p in error.problems]
    return replace(file, listing=replace(file.listing, cabinet=cabinet)), []


def _line_of(file: ListingFile, named: Named) -> str:
    return f"{file.listing.where}:{named.line}"


def _wiring_files(file: ListingFile) -> tuple[list[Path], list[Problem]]:
    """Return the files that the patterns match, each once, in order; and which match none."""
    found: dict[Path, Path] = {}
    problems: list[Problem] = []
    for named in file.wirings:
        matches = list(_matches(file.folder, named.text))
        if not matches:
            where, got = f"{_line_of(file, named)}: wirings", f"'{named.text}': no file"
            problems.append(Problem(where, got, "a pattern that finds wiring files"))
        found |= {real_path(path): path for path in matches if real_path(path) not in found}
    return list(found.values()), problems


def _matches(folder: Path, text: str) -> Iterator[Path]:
    """Yield a plain path as it is, present or not; of a pattern, the matching files in order."""
    whole = folder / text
    if not any(sign in text for sign in PATTERN_SIGNS) or path_kind(whole) != "nothing":
        yield whole
        return
    base = Path(whole.anchor) if whole.is_absolute() else Path()
    pattern = str(whole.relative_to(base))
    yield from (path for path in sorted(base.glob(pattern)) if path.is_file() and _may_be_wiring(path))


def _may_be_wiring(path: Path) -> bool:
    """Whether a file may be a wiring; one that cannot be read may, and its problem is reported."""
    try:
        tree = load_tree(path)
    except InputError:
        return True
    return not (isinstance(tree, Entries) and any(tree.get(key) is not None for key in NO_WIRING))


def _name_folders(files: list[Path], base: Path) -> Iterator[tuple[Path, str]]:
    """Yield each file with a folder name of its own; equal names get that of the parent folder too."""
    plain = {file: file_stem([file.stem]) for file in files}
    several = Counter(name.casefold() for name in plain.values())
    longer = {
        file: name if several[name.casefold()] == 1 else file_stem([real_path(file).parent.name, file.stem])
        for file, name in plain.items()
    }
    still = Counter(name.casefold() for name in longer.values())
    for file, name in longer.items():
        own = still[name.casefold()] == 1  # names that differ in their case alone are one on some disks
        yield file, name if own else file_stem([file.stem, digest(os.path.relpath(file, base))[:8]])


def plan_instrument(
    listing: Listing,
    wiring: Wiring,
    folder: str,
    performances: Mapping[str, Performance],
    take_names: Mapping[str, str] | None = None,
) -> Instrument:
    """Plan the clips of one wiring.

    Parameters
    ----------
    folder : str
        Folder of its files, within the listing's.
    performances : mapping of str to Performance
        By their names in the listing.
    take_names : mapping of str to str or None
        Names of takes in file names, if those are not the names of their files.

    Raises
    ------
    InputError
        If the wiring lacks anything that a group of clips needs, or gets no clip at all.
    """
    try:
        clips = tuple(_plan_clips(listing, wiring, performances, take_names or {}))
    except InputError as error:
        raise InputError.of(slips_of(listing, wiring, performances).values() or error.problems) from error
    if not clips:
        got = f"no clips for {Path(wiring.file).name}"
        raise InputError(listing.where, got, "a group of clips whose wirings have it")
    try:
        require_unique_names("names of the clips", ((one.plan.stem, one.plan.source) for one in clips))
    except InputError as error:
        hint = f"names: '{listing.names}' tells them apart by too little"
        raise InputError.of(replace(problem, hint=hint) for problem in error.problems) from error
    return Instrument(folder, wiring, clips)


def _plan_clips(
    listing: Listing, wiring: Wiring, performances: Mapping[str, Performance], take_names: Mapping[str, str]
) -> Iterator[GroupedClip]:
    number = 0
    for group in listing.groups:
        if not is_for(group.wirings, wiring.file):
            continue
        for take in group.takes or performances:
            for setting in settings_of(listing, group, wiring):
                number += 1
                plan = _plan_clip(listing, group, wiring, performances[take], setting)
                name = take_names.get(take, plan.performance.name)
                stem = _stem(listing.names, plan, group, number, name)
                yield GroupedClip(replace(plan, stem=stem), group)


def _plan_clip(
    listing: Listing, group: ClipGroup, wiring: Wiring, performance: Performance, setting: Setting
) -> ClipPlan:
    """Plan a clip, and check its movements."""
    check_moves(listing, group, wiring, performance)
    return plan_clip(
        wiring,
        performance,
        setting,
        group.sweeps,
        group.flips,
        way=listing.way,
        limited=listing.limited,
        hum=listing.hum,
        cabinet=listing.cabinet,
    )


def _stem(pattern: str, plan: ClipPlan, group: ClipGroup, number: int, take: str) -> str:
    """Fill in the pattern of a clip's file name, without its ending."""
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
