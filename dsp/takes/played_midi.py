"""A MIDI file that the string model plays on the instrument at hand."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from dsp.parts.instrument import Instrument
from dsp.takes.midi.arrange import Arrangement, Midi, arrange, seconds_of
from dsp.takes.midi.sounding import MidiNote
from dsp.takes.midi.timing import Timing
from dsp.takes.played import PlayedScore
from dsp.takes.player import instrument_of
from dsp.takes.score import Score
from dsp.wiring.model import Wiring


@dataclass(frozen=True)
class PlayedMidi(PlayedScore):
    """A MIDI file on the strings of the wiring that senses them.

    Attributes
    ----------
    midi_notes : tuple of MidiNote
        Those that are played, by time.
    """

    midi_notes: tuple[MidiNote, ...]
    timing: Timing

    @property
    def midi(self) -> Midi:
        """What the take says of its file."""
        assert self.take.midi is not None  # the reader gives every take of this kind one
        return self.take.midi

    @property
    def seconds(self) -> float:
        """Length, s."""
        return seconds_of(self.midi_notes, self.midi)

    def arrangement(self, wiring: Wiring) -> Arrangement:
        """Lay the notes on the strings of a wiring's instrument.

        Raises
        ------
        InputError
            With all that the instrument cannot play, unless the take leaves it out.
        """
        return self._arrange(instrument_of(wiring.instrument)[0])

    def notes(self, wiring: Wiring) -> tuple[str, ...]:
        """List assumed strings, what is left out and what is changed."""
        found = self.arrangement(wiring)
        left_out = tuple(
            f"left out: {one.where}: {one.got} (allowed: {one.allowed})" for one in found.left_out
        )
        return (*super().notes(wiring), *left_out, *found.remarks)

    def score_on(self, instrument: Instrument) -> Score:
        """Return the score that is played on an instrument."""
        return self._arrange(instrument).score

    def _arrange(self, instrument: Instrument) -> Arrangement:
        name = self.take.name or self.name
        return _arrange(self.midi_notes, self.timing, self.midi, instrument, name)


@lru_cache(maxsize=16)
def _arrange(
    notes: tuple[MidiNote, ...], timing: Timing, midi: Midi, instrument: Instrument, name: str
) -> Arrangement:
    return arrange(notes, timing, midi, instrument, name)
