"""The notes of a MIDI file: their times, velocities and bends."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass, field

from dsp.errors import InputError
from dsp.takes.midi.song import Message, Song
from dsp.takes.midi.timing import Timing

PERCUSSION = 10
"""Channel of percussion in General MIDI: its keys are drums, not pitches."""
USUAL_RANGE = 2.0
"""Semitones of a whole pitch bend until registered parameter 0 sets another: General MIDI's."""
RAMP_S = 0.03
"""Longest time in which the pitch moves to a bend that the file sets at once."""
FULL_BEND = 8192
HALF = 64
"""A switch controller is on from this value (MIDI 1.0, controllers 64 to 69)."""
PEDAL, ALL_SOUND_OFF, RESET, ALL_NOTES_OFF = 64, 120, 121, 123
DATA, DATA_FINE = 6, 38
REGISTERED_FINE, REGISTERED, OTHER_FINE, OTHER = 100, 101, 98, 99
NO_PARAMETER = (127, 127)
BEND_RANGE = (0, 0)

MOST_MOVED = 300_000
"""Most bends of sounding notes: an hour of a wheel that never rests."""

Bends = tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class MidiNote:
    """One note.

    Attributes
    ----------
    tick : int
        Of its start.
    start_s, end_s : float
        From the start of the file to the release of key and pedal.
    bends : tuple of (float, float)
        Seconds after the start and semitones, joined by straight lines; empty if the pitch stands still.
    """

    tick: int
    track: int
    channel: int
    key: int
    velocity: int
    start_s: float
    end_s: float
    bends: Bends = ()

    @property
    def lowest(self) -> float:
        """Semitones of the lowest bend."""
        return min((semitones for _, semitones in self.bends), default=0.0)

    @property
    def highest(self) -> float:
        """Semitones of the highest bend."""
        return max((semitones for _, semitones in self.bends), default=0.0)


@dataclass
class _Channel:
    """What a channel's controllers stand at."""

    bend: int = 0
    range: float = USUAL_RANGE
    parameter: tuple[int, int] = NO_PARAMETER
    pedal: bool = False

    @property
    def semitones(self) -> float:
        """Bend of the pitch."""
        return self.bend / FULL_BEND * self.range


@dataclass
class _Open:
    """A note that has not ended."""

    message: Message
    start_s: float
    bends: list[tuple[float, float]]
    held: bool = False
    """Whether only the pedal holds it."""


@dataclass
class _Reader:
    """Follows the messages of a file and collects its notes."""

    timing: Timing
    pedals: bool
    notes: list[MidiNote] = field(default_factory=list)
    channels: defaultdict[int, _Channel] = field(default_factory=lambda: defaultdict(_Channel))
    open: dict[tuple[int, int, int], _Open] = field(default_factory=dict)
    held: int = 0
    """Notes that the pedal held on."""
    moved: int = 0
    """Bends of notes so far."""

    def read(self, message: Message) -> None:
        now_s = self.timing.seconds(message.tick)
        channel = self.channels[message.channel]
        if message.kind == "on":
            key = (message.track, message.channel, message.number)
            self._end(key, now_s)
            self.open[key] = _Open(message, now_s, [(0.0, channel.semitones)])
        elif message.kind == "off":
            self._release((message.track, message.channel, message.number), now_s)
        elif message.kind == "bend":
            channel.bend = message.number
            self._bend(message.channel, now_s)
        elif message.kind == "control":
            self._control(message, channel, now_s)

    def finish(self, tick: int) -> int:
        """End what still sounds; return how many notes nobody released."""
        left = [key for key, one in self.open.items() if not one.held]
        for key in list(self.open):
            self._end(key, self.timing.seconds(tick))
        return len(left)

    def _release(self, key: tuple[int, int, int], now_s: float) -> None:
        found = self.open.get(key)
        if found is None:
            return
        if self.pedals and self.channels[key[1]].pedal:
            self.held += not found.held
            found.held = True
        else:
            self._end(key, now_s)

    def _end(self, key: tuple[int, int, int], now_s: float) -> None:
        found = self.open.pop(key, None)
        if found is None:
            return
        one = found.message
        bends = tuple(found.bends) if any(semitones for _, semitones in found.bends) else ()
        self.notes.append(
            MidiNote(one.tick, one.track, one.channel, one.number, one.value, found.start_s, now_s, bends)
        )

    def _bend(self, number: int, now_s: float) -> None:
        semitones = self.channels[number].semitones
        for key, one in self.open.items():
            if key[1] != number:
                continue
            self.moved += 1
            if self.moved > MOST_MOVED:
                allowed = f"up to {MOST_MOVED}, a note and a message that bends it counted once"
                raise InputError("pitch bends", f"more than {MOST_MOVED}", allowed)
            at_s, (before_s, before) = now_s - one.start_s, one.bends[-1]
            if at_s <= before_s:
                one.bends[-1] = (before_s, semitones)
            elif semitones != before:
                if at_s - before_s > RAMP_S:
                    one.bends.append((at_s - RAMP_S, before))
                one.bends.append((at_s, semitones))

    def _control(self, message: Message, channel: _Channel, now_s: float) -> None:
        number, value = message.number, message.value
        if number == PEDAL:
            channel.pedal = value >= HALF
            if not channel.pedal:
                self._lift(message.channel, now_s, lambda one: one.held)
        elif number in (ALL_SOUND_OFF, *range(ALL_NOTES_OFF, 128)):
            self._lift(message.channel, now_s, lambda one: True)
        elif number == RESET:
            channel.bend, channel.pedal, channel.parameter = 0, False, NO_PARAMETER
            self._bend(message.channel, now_s)
            self._lift(message.channel, now_s, lambda one: one.held)
        elif number in (REGISTERED, REGISTERED_FINE):
            coarse, fine = channel.parameter
            channel.parameter = (value, fine) if number == REGISTERED else (coarse, value)
        elif number in (OTHER, OTHER_FINE):
            channel.parameter = NO_PARAMETER
        elif channel.parameter == BEND_RANGE and number in (DATA, DATA_FINE):
            whole = int(channel.range)
            cents = round(100.0 * (channel.range - whole))
            channel.range = value + cents / 100.0 if number == DATA else whole + value / 100.0
            self._bend(message.channel, now_s)

    def _lift(self, channel: int, now_s: float, which: Callable[[_Open], bool]) -> None:
        for key in [key for key, one in self.open.items() if key[1] == channel and which(one)]:
            self._end(key, now_s)


def notes_in(song: Song, timing: Timing, *, pedals: bool) -> tuple[tuple[MidiNote, ...], tuple[str, ...]]:
    """Return the notes of a file by time, and remarks for a listener.

    Parameters
    ----------
    pedals : bool
        Whether the sustain pedal holds notes on.

    Raises
    ------
    InputError
        If more is bent than any performance holds.
    """
    reader = _Reader(timing, pedals)
    for message in song.messages:
        reader.read(message)
    left = reader.finish(song.messages[-1].tick if song.messages else 0)
    notes = tuple(sorted(reader.notes, key=lambda one: (one.tick, one.track, one.channel, one.key)))
    return notes, tuple(_remarks(song, reader, left))


def _remarks(song: Song, reader: _Reader, left: int) -> Iterator[str]:
    yield from song.warnings
    if reader.held:
        yield f"the sustain pedal lets {count(reader.held, 'note')} ring on"
    elif not reader.pedals and any(_is_pedal(one) for one in song.messages):
        yield "the sustain pedal is ignored"
    if left:
        yield f"{count(left, 'note')} that the file never releases: ended with the file"


def _is_pedal(message: Message) -> bool:
    return message.kind == "control" and message.number == PEDAL and message.value >= HALF


def count(number: int, what: str) -> str:
    """Say a number of things."""
    return f"{number} {what}" if number == 1 else f"{number} {what}s"


def pick(
    notes: Collection[MidiNote], tracks: Collection[int], channels: Collection[int]
) -> tuple[tuple[MidiNote, ...], tuple[str, ...]]:
    """Return the notes of some tracks and channels, empty for all.

    Percussion is left out unless its channel is named.
    """
    chosen = [
        one
        for one in notes
        if (not tracks or one.track in tracks) and (not channels or one.channel in channels)
    ]
    played = [one for one in chosen if one.channel != PERCUSSION or PERCUSSION in channels]
    drums = len(chosen) - len(played)
    said = f"{count(drums, 'note')} on channel {PERCUSSION}, percussion, left out" if drums else ""
    return tuple(played), (said,) if said else ()
