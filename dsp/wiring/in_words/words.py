"""An instrument in words, checked; and the layouts that are commonest."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from dsp.errors import InputError, Problem, nearest
from dsp.parts.library.index import LIBRARY
from dsp.parts.library.string_sets import STRING_SETS
from dsp.units import parse
from dsp.wiring.in_words.questions import EACH, NONE, ONE, PICKUP_KINDS, PLACES, QUESTIONS


@dataclass(frozen=True)
class InstrumentWords:
    """An instrument in words.

    Attributes
    ----------
    answers : mapping of str to str
        To `QUESTIONS`; where one is missing, the usual answer holds.
    scale : str
        Nut to bridge; empty for the usual one of the strings.
    switch : str
        Entry of the library that selects; empty for none.
    second : str
        A further switch, whose positions change fastest; empty for none.
    sounds : tuple of str or None
        In words, in the order of the positions; None for the usual ones.
    name : str
        Of the instrument.

    Raises
    ------
    InputError
        With every answer that there is not.
    """

    answers: Mapping[str, str] = field(default_factory=dict)
    scale: str = ""
    switch: str = ""
    second: str = ""
    sounds: tuple[str, ...] | None = None
    name: str = ""

    def __post_init__(self) -> None:
        problems = [
            Problem(name, f"'{answer}'", ", ".join(allowed), nearest(answer, allowed))
            for name, answer in self.answers.items()
            if answer not in (allowed := QUESTIONS[name].answers if name in QUESTIONS else {})
        ]
        switches = [entry.name for entry in LIBRARY.values() if entry.kind == "switch"]
        problems += [
            Problem(what, f"'{name}'", ", ".join(switches), nearest(name, switches))
            for what, name in (("switch", self.switch), ("second", self.second))
            if name and name not in switches
        ]
        if self.second and not self.switch:
            problems.append(Problem("second", f"'{self.second}' alone", "a switch before it"))
        if problems:
            raise InputError.of(problems)
        if not self.pickups:
            raise InputError("pickups", "none", f"a pickup at one place at least: {', '.join(PLACES)}")
        if self.scale:
            _require_scale(self.scale)

    def answer(self, name: str) -> str:
        """Return the answer to a question, the usual one if none was given."""
        return self.answers.get(name, QUESTIONS[name].usual)

    @property
    def pickups(self) -> dict[str, str]:
        """The kind of pickup at each place that has one, neck first."""
        return {place: kind for place in PLACES if (kind := self.answer(place)) != NONE}

    @property
    def apart(self) -> bool:
        """Whether pickups have controls of their own, before the switch."""
        return len(self.pickups) > 1 and EACH in (self.answer("volumes"), self.answer("tones"))

    @property
    def paired(self) -> bool:
        """Whether any pickup has two coils."""
        return any(len(coil_entries(kind, "neck")) > 1 for kind in self.pickups.values())

    @property
    def scale_m(self) -> float:
        """Nut to bridge, m."""
        return float(parse(self.scale or STRING_SETS[self.answer("strings")].scale, "length"))


def coil_entries(kind: str, place: str) -> tuple[str, ...]:
    """Return the library's entries of a pickup's one or two coils."""
    first = PICKUP_KINDS[kind].entries[place]
    return (first, LIBRARY[first].pair) if LIBRARY[first].pair else (first,)


def _require_scale(text: str) -> None:
    allowed = "a length such as 648 mm or 25.5 in, from 200 mm to 2 m"
    try:
        found = float(parse(text, "length"))
    except InputError as error:
        raise InputError("scale", f"'{text}'", allowed) from error
    if not 0.2 <= found <= 2.0:
        raise InputError("scale", f"'{text}'", allowed)


@dataclass(frozen=True)
class CommonLayout:
    """A layout to start from (common practice).

    Attributes
    ----------
    about : str
        One sentence.
    """

    name: str
    title: str
    about: str
    words: InstrumentWords


def _layout(
    name: str,
    title: str,
    about: str,
    switch: str,
    second: str = "",
    sounds: tuple[str, ...] | None = None,
    **answers: str,
) -> CommonLayout:
    words = InstrumentWords(answers, switch=switch, second=second, sounds=sounds)
    return CommonLayout(name, title, about, words)


COMMON_LAYOUTS: Mapping[str, CommonLayout] = {
    one.name: one
    for one in (
        _layout(
            "humbucker_two_singles", "Humbucker at the bridge, two single coils",
            "Five-position blade; one coil of the humbucker joins the middle without hum.",
            "blade_5_four_pole", neck="single", middle="single", bridge="humbucker",
        ),
        _layout(
            "three_singles", "Three single coils",
            "Five-position blade: each alone, and neighbours together without hum.",
            "blade_5_two_pole", neck="single", middle="single", bridge="single",
        ),
        _layout(
            "two_humbuckers", "Two humbuckers, a volume and a tone each",
            "Three-position toggle: neck, both, bridge.",
            "toggle_3_selector", neck="humbucker", bridge="humbucker", volumes=EACH, tones=EACH,
        ),
        _layout(
            "two_humbuckers_pull", "Two humbuckers, a push-pull for single coils",
            "Three-position toggle; pulled up, one coil of each pickup plays.",
            "toggle_3_selector", "push_pull", neck="humbucker", bridge="humbucker",
        ),
        _layout(
            "two_humbuckers_five", "Two humbuckers, five-position blade",
            "Both coils at the ends, one coil of each beside them, both pickups in the middle.",
            "blade_5_four_pole", neck="humbucker", bridge="humbucker",
        ),
        _layout(
            "humbuckers_and_single", "Two humbuckers and a single coil in the middle",
            "Five-position blade; between the pickups one coil of a humbucker joins the middle.",
            "blade_5_four_pole", neck="humbucker", middle="single", bridge="humbucker",
        ),
        _layout(
            "two_singles", "Two single coils",
            "Three-position toggle: neck, both without hum, bridge.",
            "toggle_3_selector", neck="single", bridge="single",
        ),
        _layout(
            "one_humbucker", "One humbucker",
            "Mini toggle with three positions: both coils, one coil, both in parallel.",
            "toggle_on_on_on", bridge="humbucker",
            sounds=("bridge, both coils", "bridge, one coil", "bridge, both coils in parallel"),
        ),
        _layout(
            "one_single", "One single coil", "No switch: one volume, one tone.", "",
            bridge="single", volumes=ONE, tones=ONE,
        ),
    )
}  # fmt: skip
"""The commonest layouts, in the order offered."""
