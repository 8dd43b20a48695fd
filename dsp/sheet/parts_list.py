"""The parts to have at hand, in words: what the file says of each, and nothing that it does not say."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from dsp.drawing.looks import ROW, switch_look, switch_poles
from dsp.parts.kind import Part
from dsp.parts.kinds import is_sensing, kind_of, switches_of
from dsp.parts.metal import METALS
from dsp.units import count_words, show
from dsp.wiring.model import Wiring

_SHOWN_ELSEWHERE = {"kind", "resistance", "capacitance", "inductance", "type", "lugs", "contacts", "of", "on"}
"""Fields that the part's value or its kind already tells."""
_OF_SOUND = {"eddy", "screening", "sensitivity", "string_balance", "turns_area", "hum_area", "aperture"}
"""Fields of a coil that matter to the sound and not to the builder."""
_OF_COIL = {"winding": "forward", "magnet": "north"}
"""What a coil is unless the file says otherwise."""
_WORDS: Mapping[str, str] = {
    "taper": "{} taper",
    "midpoint": "{} of the track at 5",
    "end_resistance": "{} left at the ends",
    "no_load": "opens at 10",
    "cover": "{} cover",
    "tap": "tap at {}",
    "tap_resistance": "{} to the tap",
    "detent": "clicks at 5, {} off at most",
    "at": "{} from the bridge",
    "winding": "wound {}",
    "magnet": "{} to the strings",
    "series_resistance": "{} in line",
    "tan_delta": "tan delta {}",
    "ratio": "ratio {}",
    "timing": "{}",
}


@dataclass(frozen=True)
class PartRow:
    """A part of the list.

    Attributes
    ----------
    value : str
        Empty if the kind has none.
    about : tuple of str
        Tolerance, taper, shaft, place and what else the file tells.
    """

    name: str
    kind: str
    value: str
    about: tuple[str, ...]


def list_parts(wiring: Wiring) -> tuple[PartRow, ...]:
    """Return every part of a wiring, in the file's order."""
    return tuple(_row(wiring, name, part) for name, part in wiring.parts.items())


def _row(wiring: Wiring, name: str, part: Part) -> PartRow:
    kind = kind_of(part)
    value = METALS.get(getattr(part, "of", ""), "") or kind.value_text(part)
    about = (*_tolerance(wiring, name), *_told(part), *_switch(wiring, name), *_shaft(wiring, name))
    return PartRow(name, kind.name, value, about)


def _tolerance(wiring: Wiring, name: str) -> Iterator[str]:
    stated = wiring.tolerances.get(name, {})
    alike = len(set(stated.values())) == 1
    for field, share in stated.items():
        yield f"± {show(share, 'share', 3)}" if alike else f"{field} ± {show(share, 'share', 3)}"
        if alike:
            return


def _told(part: Part) -> Iterator[str]:
    given: dict[str, Any] = kind_of(part).file_fields(part)
    if is_sensing(part):
        given = _OF_COIL | given
    for field, value in given.items():
        if field in _SHOWN_ELSEWHERE or field in _OF_SOUND:
            continue
        if isinstance(value, list):
            yield f"{field} by {len(value)} points"
        elif isinstance(value, Mapping):
            yield from (f"position {position}: {sound}" for position, sound in value.items())
        else:
            yield _WORDS.get(field, f"{field} {{}}").format(value)
    if kind_of(part).name == "pot" and "taper" not in given:
        yield "linear taper"


def _switch(wiring: Wiring, name: str) -> Iterator[str]:
    switch = switches_of(wiring.parts).get(name)
    if switch is None:
        return
    poles = switch_poles(switch.lugs)
    if poles:
        yield count_words(len(poles), "pole")
    yield count_words(len(switch.positions), "position")
    yield count_words(len(switch.lugs), "lug")
    if (look := switch_look(switch)) != ROW:
        yield look


def _shaft(wiring: Wiring, name: str) -> Iterator[str]:
    if name in wiring.shafts:
        yield f"on the shaft of {wiring.shafts[name]}, turning with it"
    elif name in wiring.ganged:
        yield f"on the shaft of {wiring.ganged[name]}"
