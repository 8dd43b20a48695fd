"""Parts and joints that let a volume turned down change what a tone does less, or more."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from dsp.knobs.bypass import Bypass, try_bypasses
from dsp.knobs.pair import WITHIN_DB, PairMap, compute_pair
from dsp.knobs.place import LUGS, merge_joints, pot_place
from dsp.parts.kinds import terminals_of
from dsp.units import show
from dsp.wiring.change import Change
from dsp.wiring.model import Setting, Wiring


@dataclass(frozen=True)
class PairWay:
    """A change of the wiring, and what the two knobs do with it.

    Attributes
    ----------
    text : str
        The change in words.
    changed_db : float
        The most by which the first knob changes what the second does, while it makes the sound
        softer by no more than was asked for.
    """

    text: str
    change: Change
    pair: PairMap
    changed_db: float


def try_ways(
    wiring: Wiring,
    setting: Setting,
    knobs: tuple[str, str],
    *,
    within_db: float = WITHIN_DB,
    progress: Callable[[float], None] | None = None,
) -> tuple[PairWay, ...]:
    """Return the wiring as it is, then the changes, the least first.

    The changes are a bypass from lug 3 of the first knob to its wiper, and the second knob on the
    other of these two.

    Parameters
    ----------
    progress : callable, optional
        Called with the share completed, 0 to 1.

    Raises
    ------
    InputError
        If a knob is not there, or both are the same.
    """
    own = _way("as it is", Change(), wiring, setting, knobs, within_db)
    changes = list(_changes(wiring, setting, *knobs))
    found = []
    for done, (text, change) in enumerate(changes, 1):
        found.append(_way(text, change, wiring, setting, knobs, within_db))
        if progress:
            progress(done / len(changes))
    return own, *sorted(found, key=lambda way: way.changed_db)


def _way(
    text: str, change: Change, wiring: Wiring, setting: Setting, knobs: tuple[str, str], within_db: float
) -> PairWay:
    pair = compute_pair(change.apply(wiring), setting, knobs)
    changed_db = max((row.changed_db for row in pair.rows_within(within_db)), default=0.0)
    return PairWay(text, change, pair, changed_db)


def _changes(wiring: Wiring, setting: Setting, first: str, second: str) -> Iterator[tuple[str, Change]]:
    plain = terminals_of(wiring.parts[first]) == LUGS and len(wiring.knobs[first]) == 1
    if plain and (moved := _other_side(wiring, first, second)) is not None:
        yield moved
    for bypass in try_bypasses(wiring, setting, first):
        if bypass.change != Change():
            yield _bypass_text(bypass), bypass.change


def _other_side(wiring: Wiring, first: str, second: str) -> tuple[str, Change] | None:
    """Return the second knob's move from lug 3 of the first to its wiper, or back; None if at neither."""
    place = pot_place(wiring, second)
    if place is None:
        return None
    merge = merge_joints(wiring)
    for here, there, words in (("3", "2", "the wiper"), ("2", "3", "lug 3")):
        members = next(group for group in merge.classes() if (first, here) in group)
        mine = tuple(t for t in members if t[0] in (second, *place.line))
        if mine and not merge.same((first, here), (first, there)):
            to = (first, there)
            solder = tuple((terminal, to) for terminal in mine)
            return f"{second} at {words} of {first}", Change(unsolder=mine, solder=solder)
    return None


def _bypass_text(bypass: Bypass) -> str:
    parts = [] if bypass.capacitance_f is None else [show(bypass.capacitance_f, "capacitance")]
    parts += [] if bypass.resistance_ohm is None else [show(bypass.resistance_ohm, "resistance")]
    joined = (" beside " if bypass.parallel else " in line with ").join(parts)
    return f"lug 3 to wiper, {joined}" if parts else "without the bypass"
