"""Reading what the takes that are recordings say: coils, strings, mono."""

from __future__ import annotations

from typing import Any

from dsp.document.tree import Entries, Node, Reading, Text
from dsp.document.values import read_names

LINES = ("single", "chords")


def read_coils(reading: Reading, tree: Entries) -> dict[str, Any]:
    """The fields of a take of coil stems."""
    return {"audio": _audio(reading, tree), "channels": _channels(reading, tree, "coil")}


def read_mono(reading: Reading, tree: Entries) -> dict[str, Any]:
    """The fields of a take of one recording."""
    _check_source(reading, tree)
    return {"audio": _audio(reading, tree), "line": _line(reading, tree)}


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
    for name in sorted({name for name in channels if channels.count(name) > 1}):
        reading.refuse(node or tree, "channels", f"each {of} once", got=f"'{name}' twice")
    return channels


def _check_source(reading: Reading, tree: Entries) -> None:
    node = tree.get("source")
    if isinstance(node, Text) and node.text == "flat":
        return
    got = "none" if node is None else ""
    allowed = "flat (a known wiring as source needs a later version)"
    reading.refuse(node or tree, "source", allowed, got=got)


def _line(reading: Reading, tree: Entries) -> str:
    node: Node | None = tree.get("line")
    line = reading.text(node, "line")
    if node is None:
        return "chords"
    if line not in LINES:
        reading.refuse(node, "line", " or ".join(LINES))
    return line or "chords"
