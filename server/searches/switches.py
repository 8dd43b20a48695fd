"""The switches a page may choose from, and one written out as a table."""

from __future__ import annotations

from typing import Any

from dsp.errors import InputError, nearest
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


def switches_json() -> list[dict[str, Any]]:
    """The library's switches, with their sizes."""
    from dsp.lugs.chart import poles_of
    from dsp.parts.library.index import LIBRARY
    from server.wirings.switches import load_switch, switch_names

    found = []
    for name in switch_names():
        switch = load_switch(name)
        found.append(
            {
                "name": name,
                "about": LIBRARY[name].about,
                "positions": len(switch.positions),
                "poles": len(poles_of(switch)),
            }
        )
    return found
