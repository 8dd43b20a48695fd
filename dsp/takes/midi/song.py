"""What a MIDI file says, without its bytes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Kind = Literal["on", "off", "bend", "control", "tempo", "meter"]


@dataclass(frozen=True)
class Message:
    """One message that matters to a take.

    Attributes
    ----------
    tick : int
        From the start of the file.
    track : int
        From 1, in the order of the file.
    channel : int
        1 to 16; 0 for tempo and meter.
    number : int
        Key, controller, or beats of a bar; microseconds per quarter note of a tempo; 14 bits about 0 of a
        bend.
    value : int
        Velocity, the controller's value, or the note value of a beat (4 is a quarter).
    """

    tick: int
    track: int
    kind: Kind
    channel: int = 0
    number: int = 0
    value: int = 0


@dataclass(frozen=True)
class Song:
    """The messages of a file, by time.

    Attributes
    ----------
    messages : tuple of Message
        By tick; those of one tick in the order of tracks and of the file.
    tracks : tuple of str
        Name of each track; empty where it has none.
    ticks_per_quarter : int
        0 where the file counts time in frames.
    ticks_per_s : float
        Where it does.
    warnings : tuple of str
        What was passed over.
    """

    messages: tuple[Message, ...]
    tracks: tuple[str, ...]
    ticks_per_quarter: int = 0
    ticks_per_s: float = 0.0
    warnings: tuple[str, ...] = ()
