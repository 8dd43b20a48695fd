"""Generic switches (common practice), each a plain table of contacts.

Lug names are our own: pole letter and throw number. A meter shows where each lug is on a real
part, and which way its lever joins it.
"""

from __future__ import annotations

from dataclasses import replace

from dsp.parts.library.entry import Entry
from dsp.parts.switch import (
    BODIES,
    NON_SHORTING,
    SHORTING,
    Switch,
    bridging,
    neighbours,
    on_off_on,
    on_on,
    on_on_on,
    push,
    push_pull,
    push_to_make,
)


def _short(name: str, poles: int, positions: int, about: str, timing: str = "") -> Entry:
    """Return an entry that gives a number of poles and positions."""
    told = {"timing": timing} if timing else {}
    return Entry(name, "switch", about, {"poles": poles, "positions": positions, **told, "body": _body(name)})


def _table(name: str, switch: Switch, about: str, **counts: object) -> Entry:
    """Return an entry with the whole table, numeric positions as numbers.

    Parameters
    ----------
    **counts
        The shorthand that stands for the table, if there is one.
    """
    contacts = {
        int(position) if position.isdigit() else position: [list(group) for group in groups]
        for position, groups in switch.contacts.items()
    }
    told = {"timing": switch.timing} if switch.timing else {}
    told["body"] = _body(name)
    fields = {"lugs": list(switch.lugs), "contacts": contacts, **told}
    return Entry(name, "switch", about, fields, counts=counts | told if counts else {})


def _body(name: str) -> str:
    """Return what an entry's switch is built as: its name says it."""
    return next(body for body in BODIES if name.startswith(body.replace("-", "_")))


_BETWEEN = "in-between positions join two neighbouring throws"

SWITCHES: tuple[Entry, ...] = (
    _short("blade_3_two_pole", 2, 3, "Three-position blade, two poles, one throw at a time"),
    _table(
        "blade_5_two_pole",
        bridging(2, 5),
        f"Five-position blade, two poles of three throws; {_BETWEEN}",
        function="bridging",
        poles=2,
        positions=5,
    ),
    _short("blade_5_four_pole", 4, 5, "Five-position blade, four poles, one throw at a time"),
    _table(
        "toggle_3_selector",
        bridging(1, 3),
        "Three-position toggle for two pickups; the middle joins both",
        function="bridging",
        poles=1,
        positions=3,
    ),
    _table(
        "toggle_3_selector_two_pole",
        bridging(2, 3),
        "Three-position toggle, two poles; the middle joins both",
        function="bridging",
        poles=2,
        positions=3,
    ),
    _short("rotary_12_one_pole", 1, 12, "Twelve-way rotary, one pole"),
    _short("rotary_6_two_pole", 2, 6, "Six-way rotary, two poles"),
    _short("rotary_6_four_pole", 4, 6, "Six-way rotary, four poles on two wafers"),
    _short("rotary_5_two_pole", 2, 5, "Five-way rotary, two poles"),
    _short("rotary_4_three_pole", 3, 4, "Four-way rotary, three poles"),
    _short("rotary_3_four_pole", 4, 3, "Three-way rotary, four poles"),
    *(
        _short(
            f"rotary_{positions}_{word}_pole_shorting",
            poles,
            positions,
            f"{many}-way rotary, {word} pole{'s' if poles > 1 else ''}, shorting: on the way it joins two "
            "neighbouring throws",
            SHORTING,
        )
        for positions, many, poles, word in (
            (12, "Twelve", 1, "one"),
            (6, "Six", 2, "two"),
            (4, "Four", 3, "three"),
            (3, "Three", 4, "four"),
        )
    ),
    _table("toggle_on_on", on_on(2), "Mini toggle on/on, two poles", function="on-on", poles=2),
    _table(
        "toggle_on_off_on",
        on_off_on(2),
        "Mini toggle on/off/on, two poles; the middle joins nothing",
        function="on-off-on",
        poles=2,
    ),
    _table(
        "toggle_on_on_on",
        on_on_on(2, "A1 B2"),
        "Mini toggle on/on/on, two poles; middle joins A0-A1 and B0-B2",
        function="on-on-on",
        poles=2,
    ),
    _table(
        "toggle_on_on_on_mirrored",
        on_on_on(2, "A2 B1"),
        "Mini toggle on/on/on, two poles; middle joins A0-A2 and B0-B1",
        function="on-on-on mirrored",
        poles=2,
    ),
    _table(
        "toggle_on_on_on_four_pole",
        on_on_on(4, "A1 B2"),
        "Mini toggle on/on/on, four poles, changing in pairs",
        function="on-on-on",
        poles=4,
    ),
    _table(
        "slide_on_on",
        replace(on_on(2), timing=NON_SHORTING),
        "Slide switch on/on, two poles, non-shorting",
        function="on-on",
        poles=2,
    ),
    _table(
        "slide_on_on_shorting",
        replace(on_on(2), timing=SHORTING),
        "Slide switch on/on, two poles, shorting: on the way it joins both throws",
        function="on-on",
        poles=2,
    ),
    _table(
        "slide_on_off_on",
        replace(on_off_on(2), timing=NON_SHORTING),
        "Slide switch on/off/on, two poles, non-shorting; the middle joins nothing",
        function="on-off-on",
        poles=2,
    ),
    _short("slide_3_two_pole", 2, 3, "Slide switch, three positions, two poles, non-shorting", NON_SHORTING),
    _short(
        "slide_4_two_pole_shorting",
        2,
        4,
        "Slide switch, four positions, two poles, shorting: on the way it joins two neighbouring throws",
        SHORTING,
    ),
    _table(
        "slide_3_neighbours",
        neighbours(2, 3),
        "Slide switch, three positions, two rows of four lugs; the slider joins two neighbouring lugs",
        function="neighbours",
        poles=2,
        positions=3,
    ),
    _table("push_pull", push_pull(2), "Switch of a push-pull pot, two poles"),
    _table("push_switch", push(2), "Latching push switch, two poles"),
    _table("push_button", push_to_make(), "Momentary push button that joins its two lugs while held in"),
)
