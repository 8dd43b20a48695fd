"""From ticks to seconds, and to the bars and beats that people count."""

from __future__ import annotations

from bisect import bisect_right

from dsp.takes.midi.song import Song

USUAL_TEMPO = 500_000
"""Microseconds per quarter note until a tempo is set: 120 per minute (Standard MIDI Files 1.0, FF 51)."""


class Timing:
    """The tempo and the bars of a file.

    Examples
    --------
    >>> from dsp.takes.midi.song import Message
    >>> timing = Timing(Song((Message(0, 1, "tempo", number=1_000_000),), ("",), ticks_per_quarter=96))
    >>> timing.seconds(48), timing.place(96 * 4)
    (0.5, 'bar 2, beat 1 (4.0 s)')
    """

    def __init__(self, song: Song) -> None:
        self._song = song
        self._ticks, self._seconds, self._tempos = [0], [0.0], [USUAL_TEMPO]
        self._bars = [(0, 1, 4, 4)]
        if song.ticks_per_quarter:
            for message in song.messages:
                if message.kind == "tempo":
                    self._set_tempo(message.tick, message.number)
                elif message.kind == "meter":
                    self._set_meter(message.tick, message.number, message.value)

    def seconds(self, tick: int) -> float:
        """Return the time of a tick, s from the start of the file."""
        if not self._song.ticks_per_quarter:
            return tick / self._song.ticks_per_s
        index = bisect_right(self._ticks, tick) - 1
        since = tick - self._ticks[index]
        return self._seconds[index] + since * self._tempos[index] * 1e-6 / self._song.ticks_per_quarter

    def place(self, tick: int) -> str:
        """Say where a tick is: bar and beat, and the time in the file."""
        at = f"{self.seconds(tick):.1f} s"
        if not self._song.ticks_per_quarter:
            return at
        start, bar, beats, value = self._bars[bisect_right(self._bars, tick, key=lambda one: one[0]) - 1]
        beat_ticks = self._song.ticks_per_quarter * 4.0 / value
        passed = (tick - start) / beat_ticks
        return f"bar {bar + int(passed // beats)}, beat {1.0 + round(passed % beats, 2):g} ({at})"

    def _set_tempo(self, tick: int, tempo: int) -> None:
        now_s = self.seconds(tick)
        if tick == self._ticks[-1]:
            self._tempos[-1] = tempo
        else:
            self._ticks.append(tick)
            self._seconds.append(now_s)
            self._tempos.append(tempo)

    def _set_meter(self, tick: int, beats: int, value: int) -> None:
        """Start a new bar; a bar that is cut short counts."""
        start, bar, before, value_before = self._bars[-1]
        bar_ticks = self._song.ticks_per_quarter * 4.0 / value_before * before
        bars = -(-(tick - start) // bar_ticks)
        one = (tick, bar + int(bars), beats, value)
        if tick == start:
            self._bars[-1] = one
        else:
            self._bars.append(one)
