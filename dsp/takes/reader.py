"""Reading a take file, format 1."""

from __future__ import annotations

from dsp.document.tree import Entries, Node, Reading, Text
from dsp.document.values import read_names
from dsp.errors import nearest
from dsp.takes.model import Take

KEYS: dict[str, tuple[str, ...]] = {
    "coils": ("format", "name", "kind", "audio", "channels"),
    "mono": ("format", "name", "kind", "audio", "source", "line"),
}
"""Keys of each kind of take."""
LINES = ("single", "chords")
LATER = ("score", "strings")
"""Kinds of the format that need the string model, which this version does not have yet."""


def read_take(tree: Node, file: str) -> Take:
    """The take that a file's tree describes.

    Raises
    ------
    InputError
        With every problem of the file.
    """
    reading = Reading(file)
    take = _read(reading, tree) if isinstance(tree, Entries) else None
    if take is None and not reading.problems:
        reading.refuse(tree, "the file", "a map that starts with format: 1")
    reading.finish()
    assert take is not None  # finish() raises where anything was refused
    return take


def _read(reading: Reading, tree: Entries) -> Take | None:
    version = tree.get("format")
    if version is None or reading.text(version, "format") not in ("1", None):
        reading.refuse(version or tree, "format", "1", got="no format" if version is None else "")
    kind_node = tree.get("kind")
    kind = reading.text(kind_node, "kind")
    if kind_node is None or kind not in KEYS:
        allowed = ", ".join(KEYS)
        if kind in LATER:
            allowed += " (score and strings need the string model, which this version does not have)"
        got = "no kind" if kind_node is None else ""
        reading.refuse(kind_node or tree, "kind", allowed, got=got, hint=nearest(kind or "", KEYS))
        return None
    for key, _ in tree.entries:
        if key.text not in KEYS[kind]:
            reading.refuse(key, "the take", ", ".join(KEYS[kind]), hint=nearest(key.text, KEYS[kind]))
    channels = (
        read_names(reading, channels_node, "channels") if (channels_node := tree.get("channels")) else ()
    )
    if kind == "coils":
        _check_channels(reading, tree, channels)
    else:
        _check_source(reading, tree)
    audio = _audio(reading, tree)
    lines = {key.text: key.line for key, _ in tree.entries}
    name = reading.text(tree.get("name"), "name") or ""
    return Take(name, reading.file, kind, audio, channels, _line(reading, tree), lines)


def _audio(reading: Reading, tree: Entries) -> str:
    node = tree.get("audio")
    audio = reading.text(node, "audio")
    if node is None or not audio:
        reading.refuse(node or tree, "audio", "a sound file, relative to this file", got="none")
    return audio or ""


def _check_channels(reading: Reading, tree: Entries, channels: tuple[str, ...]) -> None:
    node = tree.get("channels")
    if not channels:
        reading.refuse(node or tree, "channels", "the coil of each channel, as a list", got="none")
    for name in sorted({name for name in channels if channels.count(name) > 1}):
        reading.refuse(node or tree, "channels", "each coil once", got=f"'{name}' twice")


def _check_source(reading: Reading, tree: Entries) -> None:
    node = tree.get("source")
    if isinstance(node, Text) and node.text == "flat":
        return
    got = "none" if node is None else ""
    allowed = "flat (a known wiring as source needs a later version)"
    reading.refuse(node or tree, "source", allowed, got=got)


def _line(reading: Reading, tree: Entries) -> str:
    node = tree.get("line")
    line = reading.text(node, "line")
    if node is None:
        return "chords"
    if line not in LINES:
        reading.refuse(node, "line", " or ".join(LINES))
    return line or "chords"
