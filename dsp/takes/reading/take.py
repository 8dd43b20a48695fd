"""Read a take file, format 1."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from dsp.documents.tree import Entries, Node, Reading
from dsp.errors import nearest
from dsp.takes.model import Take
from dsp.takes.reading.midi import MIDI_KEYS, read_midi
from dsp.takes.reading.recording import read_coils, read_mono, read_strings
from dsp.takes.reading.score import SCORE_KEYS, read_score

COMMON = ("format", "name", "kind")
KINDS: dict[str, tuple[tuple[str, ...], Callable[[Reading, Entries], dict[str, Any]]]] = {
    "score": (SCORE_KEYS, read_score),
    "coils": (("audio", "channels"), read_coils),
    "strings": (("audio", "channels", "at"), read_strings),
    "mono": (("audio", "source", "line", "strings"), read_mono),
    "midi": (MIDI_KEYS, read_midi),
}
"""Keys of each kind of take besides the common ones, and the function that reads them."""


def read_take(tree: Node, file: str) -> Take:
    """Read the take that a file's tree describes.

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
    assert take is not None  # finish() raises if anything was refused
    return take


def _read(reading: Reading, tree: Entries) -> Take | None:
    version = tree.get("format")
    if version is None or reading.text(version, "format") not in ("1", None):
        reading.refuse(version or tree, "format", "1", got="no format" if version is None else "")
    kind_node = tree.get("kind")
    kind = reading.text(kind_node, "kind")
    if kind_node is None or kind not in KINDS:
        got = "no kind" if kind_node is None else ""
        reading.refuse(kind_node or tree, "kind", ", ".join(KINDS), got=got, hint=nearest(kind or "", KINDS))
        return None
    own, read = KINDS[kind]
    for key, _ in tree.entries:
        if key.text not in (*COMMON, *own):
            known = (*COMMON, *own)
            reading.refuse(key, "the take", ", ".join(known), hint=nearest(key.text, known))
    name = reading.text(tree.get("name"), "name") or ""
    lines = {key.text: key.line for key, _ in tree.entries}
    return Take(name, reading.file, kind, lines=lines, **read(reading, tree))
