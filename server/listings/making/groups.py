"""Groups of clips on a wiring: their settings and movements, and every slip in them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from dsp.errors import InputError, Problem, nearest
from dsp.parts.pot import KNOB_ALLOWED
from dsp.sound.movement import check_movements
from dsp.takes.performance import Performance
from dsp.wiring.model import Setting, Wiring
from server.listings.making.listing import ClipGroup, Listing
from server.listings.making.matching import is_for, unmatched


def settings_of(listing: Listing, group: ClipGroup, wiring: Wiring) -> list[Setting]:
    """Return a group's settings on a wiring.

    Raises
    ------
    InputError
        With the group's line.
    """
    try:
        knobs = {name: _knob(name, value) for name, value in group.settings.items() if name in wiring.knobs}
        others = {name: value for name, value in group.settings.items() if name not in wiring.knobs}
        known = [*wiring.knobs, *wiring.stands]
        for name in others:
            if name not in wiring.stands:
                hint = nearest(name, known)
                raise InputError(f"{wiring.file}: set", f"'{name}'", ", ".join(known) or "none here", hint)
        positions = group.positions or wiring.positions
        return [wiring.setting(position, knobs, others) for position in positions]
    except InputError as error:
        raise _in_group(listing, group, error) from error


def _knob(name: str, value: str) -> float:
    try:
        return float(value)
    except ValueError:
        raise InputError(f"set: {name}", f"'{value}'", KNOB_ALLOWED) from None


def check_moves(listing: Listing, group: ClipGroup, wiring: Wiring, performance: Performance) -> None:
    """Refuse sweeps and flips that a wiring cannot make within a take.

    Raises
    ------
    InputError
        With the group's line.
    """
    rate_hz, n_samples = listing.rate_hz, performance.frames(listing.rate_hz)
    try:
        check_movements(wiring, group.sweeps, group.flips, n_samples=n_samples, rate_hz=rate_hz)
    except InputError as error:
        raise _in_group(listing, group, error) from error


def _place(listing: Listing, group: ClipGroup) -> str:
    return f"{listing.where}:{group.line}: clips {group.name}" if group.line else listing.where


def _in_group(listing: Listing, group: ClipGroup, error: InputError) -> InputError:
    where = _place(listing, group)
    return InputError.of(replace(problem, where=f"{where}: {problem.where}") for problem in error.problems)


def slips_of(
    listing: Listing, wiring: Wiring, performances: Mapping[str, Performance]
) -> dict[tuple[str, str], Problem]:
    """Return every slip of the groups on a wiring, by place and what was got.

    Planning ends at the first; here each position, knob, switch, sweep and flip is tried alone.
    """
    found: dict[tuple[str, str], Problem] = {}
    for group in listing.groups:
        takes = [performances[one] for one in group.takes or performances if one in performances]
        for part in _parts(group) if is_for(group.wirings, wiring.file) else ():
            try:
                settings_of(listing, part, wiring)
                for take in takes:
                    check_moves(listing, part, wiring, take)
            except InputError as error:
                found |= {(_place(listing, group), problem.got): problem for problem in error.problems}
    return found


def _parts(group: ClipGroup) -> Iterator[ClipGroup]:
    """Yield a group with one of its details at a time."""
    bare = replace(group, positions=(), settings={}, sweeps=(), flips=())
    yield from (replace(bare, positions=(one,)) for one in group.positions)
    yield from (replace(bare, settings={name: value}) for name, value in group.settings.items())
    yield from (replace(bare, sweeps=(one,)) for one in group.sweeps)
    yield from (replace(bare, flips=(one,)) for one in group.flips)


def idle_patterns(listing: Listing, files: Sequence[Path]) -> Iterable[Problem]:
    """Yield a problem for each pattern of a group that names no wiring."""
    for group in listing.groups:
        yield from unmatched(group.wirings, files, f"{_place(listing, group)}: wirings")
