"""Read the fields of a take that is a MIDI file."""

from __future__ import annotations

from typing import Any

from dsp.documents.field import Field, quantity
from dsp.documents.tree import Entries, Node, Reading
from dsp.documents.values import read_names
from dsp.takes.midi.arrange import Midi
from dsp.takes.reading.score import read_fields, read_player, read_stroke
from dsp.takes.reading.score_fields import HIGHEST_FRET, MOST_STRINGS, PLAYER_FIELDS, STROKE_FIELDS
from dsp.takes.score import Score

MOST_TRACKS = 999
MOST_TRANSPOSED = 48
STRINGS = ("hand", "channels", "tracks")

OWN_FIELDS: tuple[Field, ...] = (
    Field("midi", "file", "MIDI file, relative to this file", required=True),
    Field("strings", "choice", "what decides the string of a note", choices=STRINGS, default="hand"),
    Field("order", "numbers", "channel or track of string 1 (the highest), 2, …", "", 1, MOST_TRACKS),
    Field("tracks", "numbers", "tracks that are played; all unless given", "", 1, MOST_TRACKS),
    Field("channels", "numbers", "channels that are played; all but 10 unless given", "", 1, 16),
    quantity("transpose", "number", (-MOST_TRANSPOSED, MOST_TRANSPOSED), "whole semitones", "0"),
    Field("highest_fret", "count", "last fret of the neck", "", 1, HIGHEST_FRET, default="22"),
    quantity("reach", "length", (0.03, 0.3), "between the frets that a hand holds down", "115 mm"),
    Field(
        "unplayable",
        "choice",
        "notes that the instrument cannot play",
        choices=("refuse", "leave out"),
        default="refuse",
    ),
    Field("pedal", "choice", "the sustain pedal", choices=("held", "ignored"), default="held"),
)
HAND_FIELDS = tuple(field for field in STROKE_FIELDS if field.name in ("pluck_at", "mute", "hand"))
"""Fields of ``defaults``: what a MIDI file does not say of a stroke."""
MIDI_FIELDS = OWN_FIELDS + PLAYER_FIELDS
MIDI_KEYS = tuple(field.name for field in MIDI_FIELDS)


def read_midi(reading: Reading, tree: Entries) -> dict[str, Any]:
    """Read the fields of a take that names a MIDI file."""
    values = read_fields(reading, MIDI_FIELDS, tree, "the take", others=True)
    name = reading.text(tree.get("midi"), "midi") if "midi" in values else ""
    if name == "":
        reading.refuse(tree.get("midi") or tree, "midi", "a MIDI file, relative to this file", got="no name")
    transpose = values.get("transpose") or 0.0
    if transpose != round(transpose):
        reading.refuse(tree.get("transpose") or tree, "transpose", "whole semitones")
    defaults = tree.get("defaults")
    stroke = read_fields(reading, HAND_FIELDS, defaults, "defaults") if defaults else {}
    if values.get("order") is not None and values.get("strings", "hand") == "hand":
        reading.refuse(tree.get("order") or tree, "order", "only with strings: channels or tracks")
    midi = Midi(
        strings=values.get("strings") or "hand",
        order=_numbers(reading, tree, "order", MOST_STRINGS),
        tracks=_numbers(reading, tree, "tracks", MOST_TRACKS),
        channels=_numbers(reading, tree, "channels", 16),
        transpose=round(transpose),
        highest_fret=values.get("highest_fret") or 22,
        reach_m=values.get("reach") or 0.115,
        leave_out=values.get("unplayable") == "leave out",
        pedals=values.get("pedal") != "ignored",
        head=Score(60.0, (), **read_player(reading, tree, values)),
        stroke=tuple(sorted(read_stroke(stroke).items())),
    )
    return {"audio": name or "", "midi": midi}


def _numbers(reading: Reading, tree: Entries, name: str, most: int) -> tuple[int, ...]:
    """Read a list of whole numbers, each once."""
    node = tree.get(name)
    if node is None:
        return ()
    field = next(field for field in OWN_FIELDS if field.name == name)
    texts = read_names(reading, node, name)
    if not 0 < len(texts) <= most:
        reading.refuse(node, name, f"a list of 1 to {most} numbers", got=f"{len(texts)}")
    found = tuple(number for text in texts if (number := _number(reading, node, field, text)) is not None)
    if len(set(found)) < len(found):
        reading.refuse(node, name, "each number once", got="a number twice")
    return found


def _number(reading: Reading, node: Node, field: Field, text: str) -> int | None:
    if text.isascii() and text.isdecimal() and len(text) < 5 and field.lowest <= int(text) <= field.highest:
        return int(text)
    allowed = f"whole numbers from {field.lowest:g} to {field.highest:g}"
    reading.refuse(node, field.name, allowed, got=f"'{text[:60]}'")
    return None
