"""The switches a page may choose from, and one written out as a table."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any

from dsp.errors import InputError, nearest
from dsp.lugs.two_switches import combine
from dsp.parts.library.index import LIBRARY
from dsp.parts.switch import Switch

OWN = "own"


def switch_of(asked: dict[str, Any]) -> Switch:
    """The switch that is asked for.

    Parameters
    ----------
    asked : dict
        ``name`` of the library, or ``own`` with ``table``, a text as `presolder lugs` reads it from a
        file; and ``stop``, how many of its positions are used, None for all.

    Raises
    ------
    InputError
        If there is none such, or with every problem of the table.
    """
    from server.wirings.switches import limit_positions, load_switch, switch_names, switch_of_text

    name = asked["name"]
    if name == OWN:
        switch = switch_of_text(asked["table"])
    elif name in switch_names():
        switch = load_switch(name)
    else:
        raise InputError("switch", f"'{name}'", ", ".join(switch_names()), nearest(name, switch_names()))
    return switch if asked["stop"] is None else limit_positions(switch, asked["stop"])


def switches_of(options: Mapping[str, Any], selector: str, taken: Collection[str]) -> Switch:
    """The switch that is asked for, or two as the table of their combinations.

    Parameters
    ----------
    options : dict
        ``switch``, and ``second`` or None, as `switch_of` takes them.
    selector : str
        The first one's name in the wiring.
    taken : collection of str
        Names that the second one must not have.

    Raises
    ------
    InputError
        As `switch_of`, or if there are too many combinations.
    """
    from server.wirings.switches import second_name

    first, second = switch_of(options["switch"]), options.get("second")
    if second is None:
        return first
    return combine({selector: first, second_name(second["name"], {selector, *taken}): switch_of(second)})


def switch_words(options: Mapping[str, Any]) -> tuple[str, str]:
    """Names and descriptions of the switches that are asked for."""
    asked = [one for one in (options["switch"], options.get("second")) if one is not None]
    names = ["a switch of one's own" if one["name"] == OWN else one["name"] for one in asked]
    about = ["A switch of your own" if one["name"] == OWN else LIBRARY[one["name"]].about for one in asked]
    return " x ".join(names), " and ".join((about[0], *(one[0].lower() + one[1:] for one in about[1:])))
