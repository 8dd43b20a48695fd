"""Read the fields of takes that are recordings: coils, strings, mono."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from dsp.documents.field import quantity
from dsp.documents.tree import Entries, Node, Reading, Text
from dsp.documents.values import read_names, read_quantity
from dsp.errors import nearest
from dsp.takes.model import Source

LINES = ("single", "chords")
MOST_STRINGS = 24
AT = quantity("at", "length", (0.0, 2.0), "the sensor's place, from the bridge", "0 mm")
KNOB = quantity("knob", "number", (0.0, 10.0), "0 to 10")


def read_coils(reading: Reading, tree: Entries) -> dict[str, Any]:
    """Read the fields of a take of coil stems."""
    return {"audio": _audio(reading, tree), "channels": _channels(reading, tree, "coil")}


def read_strings(reading: Reading, tree: Entries) -> dict[str, Any]:
    """Read the fields of a take with a channel per string from a flat sensor."""
    channels = _channels(reading, tree, "string")
    node = tree.get("channels")
    for name in channels:
        _check_number(reading, node or tree, "channels", name)
    at = tree.get("at")
    at_m = read_quantity(reading, AT, at, "at") if at else None
    return {"audio": _audio(reading, tree), "channels": channels, "sensor_at_m": at_m or 0.0}


def read_mono(reading: Reading, tree: Entries) -> dict[str, Any]:
    """Read the fields of a take of one recording."""
    source = _source(reading, tree)
    line = _line(reading, tree)
    return {
        "audio": _audio(reading, tree),
        "line": line,
        "source": source,
        "strings": _strings(reading, tree, line),
    }


def _audio(reading: Reading, tree: Entries) -> str:
    node = tree.get("audio")
    audio = reading.text(node, "audio")
    if node is None or not audio:
        reading.refuse(node or tree, "audio", "a sound file, relative to this file", got="none")
    return audio or ""


def _channels(reading: Reading, tree: Entries, of: str) -> tuple[str, ...]:
    node = tree.get("channels")
    channels = read_names(reading, node, "channels") if node else ()
    if not channels:
        reading.refuse(node or tree, "channels", f"the {of} of each channel, as a list", got="none")
    _refuse_twice(reading, node or tree, "channels", of, channels)
    return channels


def _refuse_twice(reading: Reading, node: Node, what: str, of: str, names: tuple[str, ...]) -> None:
    for name in sorted({name for name in names if names.count(name) > 1}):
        reading.refuse(node, what, f"each {of} once", got=f"'{name}' twice")


def _check_number(reading: Reading, node: Node, what: str, name: str) -> bool:
    """Return whether a name is the number of a string; refuse it if not."""
    good = name.isascii() and name.isdecimal() and len(name) < 3 and 1 <= int(name) <= MOST_STRINGS
    if not good:
        allowed = f"numbers of strings, 1 (the highest) to {MOST_STRINGS}"
        reading.refuse(node, what, allowed, got=f"'{name}'")
    return good


def _strings(reading: Reading, tree: Entries, line: str) -> tuple[int, ...]:
    node = tree.get("strings")
    if node is None:
        return ()
    if line != "single":
        reading.refuse(node, "strings", "only with line: single", got="strings of chords")
    names = read_names(reading, node, "strings")
    if not names:
        reading.refuse(node, "strings", "the strings the line is played on, as a list", got="none")
    _refuse_twice(reading, node, "strings", "string", names)
    return tuple(int(name) for name in names if _check_number(reading, node, "strings", name))


def _source(reading: Reading, tree: Entries) -> Source:
    node = tree.get("source")
    if isinstance(node, Text) and node.text == "flat":
        return Source()
    if not isinstance(node, Entries):
        allowed = "flat, or {wiring: FILE, position: N, knobs: {…}, switches: {…}}"
        reading.refuse(node or tree, "source", allowed, got="none" if node is None else "")
        return Source()
    return _known_source(reading, node)


def _known_source(reading: Reading, tree: Entries) -> Source:
    readers: dict[str, Callable[[Node], Any]] = {
        "wiring": lambda node: reading.text(node, "source: wiring"),
        "position": lambda node: reading.text(node, "source: position"),
        "knobs": lambda node: _knobs(reading, node),
        "switches": lambda node: _switches(reading, node),
    }
    values: dict[str, Any] = {}
    for key, node in tree.entries:
        if key.text in readers:
            values[key.text] = readers[key.text](node)
        else:
            reading.refuse(key, "source", ", ".join(readers), hint=nearest(key.text, readers))
    if not values.get("wiring"):
        reading.refuse(tree, "source", "wiring: the wiring file it was recorded with", got="no wiring")
    return Source(**{name: value for name, value in values.items() if value is not None})


def _knobs(reading: Reading, node: Node) -> dict[str, float]:
    what = "source: knobs"
    read = {
        key.text: read_quantity(reading, KNOB, value, f"{what}: {key.text}")
        for key, value in reading.entries(node, what)
    }
    return {name: value for name, value in read.items() if value is not None}


def _switches(reading: Reading, node: Node) -> dict[str, str]:
    what = "source: switches"
    read = {
        key.text: reading.text(value, f"{what}: {key.text}") for key, value in reading.entries(node, what)
    }
    return {name: value for name, value in read.items() if value is not None}


def _line(reading: Reading, tree: Entries) -> str:
    node: Node | None = tree.get("line")
    line = reading.text(node, "line")
    if node is None:
        return "chords"
    if line not in LINES:
        reading.refuse(node, "line", " or ".join(LINES))
    return line or "chords"
