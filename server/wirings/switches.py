"""Load switches from the library or from a file."""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from pathlib import Path
from typing import Any

from dsp.documents.tree import Entries, Reading
from dsp.errors import InputError, nearest
from dsp.lugs.chart import poles_of
from dsp.lugs.two_switches import combine
from dsp.parts.library.index import LIBRARY
from dsp.parts.switch import Switch
from dsp.wiring.reading.parts import read_part, tree_of
from server.files.existing import path_kind
from server.files.yaml_text import load_tree, parse_tree

ALLOWED = "a switch that `presolder parts --kind switch` lists, or a file with its lugs and contacts"


def switch_names() -> tuple[str, ...]:
    """List the names of the library's switches."""
    return tuple(name for name, entry in LIBRARY.items() if entry.kind == "switch")


def load_switch(name: str) -> Switch:
    """Load a switch by its name in the library, or from a file.

    Parameters
    ----------
    name : str
        A name of the library, or the path of a YAML file with the fields of the part in a wiring
        file: ``lugs`` and ``contacts``, or ``poles`` and ``positions``; ``timing`` with either.

    Raises
    ------
    InputError
        If neither exists, or with every problem of the file.
    """
    entry = LIBRARY.get(name)
    if entry is not None and entry.kind == "switch":
        return _read(Reading("the library"), Entries(tree_of_fields(entry.fields).entries, 1))
    path = Path(name)
    if entry is not None or path_kind(path) != "file":
        raise InputError("switch", f"'{name}'", ALLOWED, nearest(name, switch_names()))
    tree = load_tree(path)
    if not isinstance(tree, Entries):
        raise InputError(f"{path}:1", tree.describe(), "a map with lugs and contacts")
    return _read(Reading(str(path)), tree)


def switch_rows() -> list[dict[str, Any]]:
    """Return the library's switches with their sizes, as plain values."""
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


def load_switches(
    names: Sequence[str], selector: str, taken: Collection[str] = (), *, stop: int | None = None
) -> Switch:
    """Load one switch, or several as the table of their combinations.

    Parameters
    ----------
    names : sequence of str
        As for `load_switch`; the first becomes the selector.
    selector : str
        The selector's name in the wiring.
    taken : collection of str
        Names that further switches must not use.
    stop : int, optional
        Number of positions of the first that are used.

    Raises
    ------
    InputError
        If one cannot be read, or there are too many switches or combinations.
    """
    first = load_switch(names[0])
    members = {selector: first if stop is None else limit_positions(first, stop)}
    for name in names[1:]:
        members[second_name(name, {*members, *taken})] = load_switch(name)
    return combine(members)


def second_name(name: str, taken: Collection[str]) -> str:
    """Return what a further switch is called: after its name or file."""
    stem = re.sub(r"[^a-z0-9_]+", "_", Path(name).stem.lower()).strip("_") or "switch"
    stem = stem if stem[0].isalpha() else f"switch_{stem}"
    called, number = stem, 2
    while called in taken:
        called, number = f"{stem}_{number}", number + 1
    return called


def switch_of_text(text: str) -> Switch:
    """Read a switch from the text of its file.

    Raises
    ------
    InputError
        With every problem of the text.
    """
    tree = parse_tree(text, "table")
    if not isinstance(tree, Entries):
        raise InputError("table:1", tree.describe(), "a map with lugs and contacts")
    return _read(Reading("table"), tree)


def limit_positions(switch: Switch, n: int) -> Switch:
    """Return the switch with its first n positions, like a rotary's stop.

    Raises
    ------
    InputError
        If the switch has fewer positions.
    """
    if not 1 <= n <= len(switch.positions):
        raise InputError("stop", str(n), f"1 to {len(switch.positions)}, as the switch has positions")
    left = {position: switch.contacts[position] for position in switch.positions[:n]}
    return Switch(switch.lugs, left, switch.timing, switch.body)


def tree_of_fields(fields: object) -> Entries:
    """Convert plain values to the tree that the reader of files takes."""
    tree = tree_of(fields, 1)
    assert isinstance(tree, Entries)
    return tree


def _read(reading: Reading, tree: Entries) -> Switch:
    if tree.get("kind") is None and tree.get("like") is None:
        tree = Entries((*tree.entries, *tree_of_fields({"kind": "switch"}).entries), tree.line)
    part = read_part(reading, tree, "switch")
    reading.finish()
    if not isinstance(part, Switch):
        raise InputError(reading.where(tree, "kind"), "another kind of part", "kind: switch")
    return part
