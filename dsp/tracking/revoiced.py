"""Recordings filtered into every coil: a channel per string, a single line, or a known wiring's sound."""

from __future__ import annotations

from collections.abc import Hashable, Iterator
from dataclasses import dataclass, field
from functools import partial
from typing import Any

import numpy as np

from dsp.parts.coil import Coil
from dsp.parts.instrument import Instrument
from dsp.strings.magnetised import tune_set
from dsp.takes.model import COIL_PLACES_LEFT_OUT
from dsp.takes.performance import AT_ONCE, Floats, Performance, Progress
from dsp.takes.recording import Keeper, Kept, Recording
from dsp.tracking.filtering import Line, Piece, Size, run_pieces
from dsp.tracking.follow import pieces_of
from dsp.tracking.noise import BandPowers
from dsp.tracking.notes import Note, find_notes
from dsp.tracking.pitch import METHOD, RATE_HZ, Track, track_pitch
from dsp.tracking.places import Place
from dsp.tracking.remarks import (
    FITS_BEST,
    LIES_LOWEST,
    covers_all,
    division_remarks,
    passage_remarks,
    places_left_out,
    tracking_remarks,
    verdict_lines,
)
from dsp.tracking.requirements import require_places, string_indices
from dsp.tracking.sensor import Sensor, electrical_ratio, place_ratio
from dsp.tracking.source import SourceWiring
from dsp.tracking.together import Passage, find_passages, find_verdicts, leave_out
from dsp.tracking.which_string import identify_string
from dsp.wiring.model import Wiring

MEAN_LENGTH = 0.8
"""Sounding length re the scale while the pitch is unclear: about the fourth fret."""
REVOICED = 3
"""Raise this with every change to the sound of tracked recordings; stems kept under an older number lapse."""
RANGE_BELOW, RANGE_ABOVE = 2.0 ** (-1.5 / 12.0), 2.0 ** (26.0 / 12.0)
"""Range of the pitch search re an open string: a little flat, up to 24 frets and a bend."""


@dataclass(frozen=True)
class TrackedTake(Performance):
    """A recording that is filtered into each coil.

    Attributes
    ----------
    keeper : Keeper
        Keeps pitch tracks, and stems of tracked lines.
    source : SourceWiring or None
        None for a flat sensor.
    """

    recording: Recording
    keeper: Keeper
    source: SourceWiring | None = None
    _found: dict[Any, Any] = field(default_factory=dict, compare=False, repr=False)

    @property
    def seconds(self) -> float:
        """Length, s."""
        return self.recording.seconds

    @property
    def _tracked(self) -> bool:
        return self.take.kind == "strings" or self.take.line == "single"

    def coil_places(self, wiring: Wiring) -> str:
        """State whether the sound contains the coils' places."""
        if self._tracked and not any(track.clear_share for track in self._tracks(wiring).values()):
            return COIL_PLACES_LEFT_OUT
        return places_left_out(self.take.coil_places, self._passages(wiring), self.seconds)

    def notes(self, wiring: Wiring) -> tuple[str, ...]:
        """State how much was tracked, and by how much the source was raised."""
        known = self.take.kind == "strings" or len(self.take.strings) == 1
        guessed = "" if known else LIES_LOWEST if self.source is None else FITS_BEST
        passages = self._passages(wiring)
        remarks = list(passage_remarks(passages, self.seconds))
        if self._tracked and not covers_all(passages, self.seconds):
            remarks = [*tracking_remarks(self._tracks(wiring), guessed=guessed), *remarks]
        return (*remarks, *division_remarks(self._sensor(Size.at(48_000))))

    def verdict(self, wiring: Wiring) -> tuple[str, ...]:
        """Say of each stretch of a single line what it is, and what is not told."""
        if self.take.kind != "mono" or not self._tracked:
            return ()
        found_as = "verdicts", wiring.instrument
        if found_as not in self._found:
            instrument = require_places(wiring, self.take, self.source)
            span_hz, samples = _range(instrument, self._strings(instrument)[0]), self._samples(0)
            notes = find_notes(self._track(span_hz, 0, None).track, samples)
            self._found[found_as] = verdict_lines(find_verdicts(notes, samples))
        lines: tuple[str, ...] = self._found[found_as]
        return lines

    def prepare(self, wiring: Wiring, rate_hz: int, *, progress: Progress | None = None) -> None:
        """Track the pitch of every line, and keep it."""
        if self._tracked:
            self._tracks(wiring, progress)
        if progress:
            progress(1.0)

    def stems(self, wiring: Wiring, rate_hz: int) -> Iterator[Floats]:
        """Yield the EMF of every coil, blocks of shape (n_coils, n)."""
        make = partial(self._filtered, wiring, rate_hz)
        if not self._tracked:  # of any length, and quick
            return make()
        take, source = self.take, self.source and (self.source.wiring, self.source.setting)
        inputs = (take.kind, take.channels, take.strings, take.sensor_at_m, source, self._content())
        key = ("revoiced", REVOICED, METHOD, inputs, wiring.coils, wiring.instrument, rate_hz)
        return self.keeper.kept_stream("stems", key, make, rows=len(wiring.coils), at_once=AT_ONCE)

    def _filtered(self, wiring: Wiring, rate_hz: int) -> Iterator[Floats]:
        size = Size.at(rate_hz)
        lines = self._lines(wiring, size)
        blocks = self.recording.blocks(rate_hz, AT_ONCE)
        if self.take.kind == "mono":
            blocks = (np.mean(block, axis=0, keepdims=True) for block in blocks)
        yield from run_pieces(blocks, lines, len(wiring.coils), size, AT_ONCE)

    def _lines(self, wiring: Wiring, size: Size) -> list[Line]:
        coils = list(wiring.coils.values())
        sensor = self._sensor(size)
        if not self._tracked:
            return [Line((Piece(0, 0, None),), partial(_filters, sensor, coils, _Unclear()))]
        instrument = require_places(wiring, self.take, self.source)
        lines = []
        for channel, allowed in enumerate(self._strings(instrument)):
            notes, samples = self._notes(wiring, channel), self._samples(channel)
            strings = [identify_string(note, samples, RATE_HZ, sensor, instrument, allowed) for note in notes]
            pieces = pieces_of(notes, strings, instrument, size.rate_hz, samples)
            unclear = _Unclear(MEAN_LENGTH * instrument.scale_m)
            if self.take.kind == "strings":
                string = allowed[0]
                signal = tune_set(instrument.strings, instrument.scale_m)[string].signal
                unclear = _Unclear(unclear.length_m, string, signal)
            lines.append(Line(pieces, partial(_filters, sensor, coils, unclear)))
        return lines

    def _strings(self, instrument: Instrument) -> list[tuple[int, ...]]:
        """Per line, the strings it may be on."""
        if self.take.kind == "strings":
            numbers = tuple(int(name) for name in self.take.channels)
            where = f"{self.take.where('channels')}: channels"
            return [(i,) for i in string_indices(instrument, numbers, where)]
        where = f"{self.take.where('strings')}: strings"
        return [tuple(string_indices(instrument, self.take.strings, where))]

    def _sensor(self, size: Size) -> Sensor:
        """The sensor of the recording, computed once per rate."""
        if size not in self._found:
            freqs_hz = size.frequencies_hz()
            if self.source is None and self.take.sensor_at_m <= 0.0:
                self._found[size] = Sensor(freqs_hz)
            elif self.source is None:
                at_m, left = self.take.sensor_at_m, self._signal_left(freqs_hz)
                self._found[size] = Sensor(freqs_hz, at_m=at_m, signal_left=left)
            else:
                self._found[size] = self.source.sensor(freqs_hz, self._signal_left(freqs_hz))
        sensor: Sensor = self._found[size]
        return sensor

    def _signal_left(self, frequencies_hz: Floats) -> Floats:
        if "powers" not in self._found:
            full, rate_hz = self.recording.full_scale, self.recording.rate_hz
            powers = BandPowers(rate_hz, 0.0 if full is None else (1.0 - full) / 1.5)
            for block in self.recording.blocks(rate_hz):
                powers.add(np.mean(block, axis=0))
            self._found["powers"] = powers
        left: Floats = self._found["powers"].signal_left(frequencies_hz)
        return left

    def _tracks(self, wiring: Wiring, progress: Progress | None = None) -> dict[str, Track]:
        """Track of every line by its name."""
        instrument = require_places(wiring, self.take, self.source)
        lines = self._strings(instrument)
        found: dict[str, Track] = {}
        for channel, strings in enumerate(lines):
            name = f"string {self.take.channels[channel]}" if self.take.kind == "strings" else "the line"
            part = _part(progress, channel, len(lines))
            found[name] = self._track(_range(instrument, strings), channel, part).track
        return found

    def _notes(self, wiring: Wiring, channel: int) -> tuple[Note, ...]:
        instrument = require_places(wiring, self.take, self.source)
        return self._track(_range(instrument, self._strings(instrument)[channel]), channel, None).notes

    def _passages(self, wiring: Wiring) -> tuple[Passage, ...]:
        """Passages of a single line that are none; a channel per string has no other line."""
        if self.take.kind != "mono" or not self._tracked:
            return ()
        instrument = require_places(wiring, self.take, self.source)
        return self._track(_range(instrument, self._strings(instrument)[0]), 0, None).passages

    def _track(self, span_hz: tuple[float, float], channel: int, progress: Progress | None) -> _Tracked:
        """Track, notes and passages of one line; made once, and the track kept for later runs."""
        found_as = (span_hz, channel)
        if found_as not in self._found:
            samples = self._samples(channel)

            def make() -> Kept:
                track = track_pitch(samples, *span_hz, progress=progress)
                return np.array([track.pitch_hz, track.loud], np.float32)

            key = (METHOD, RATE_HZ, span_hz, channel, self._content(), self.take.kind)
            pitch_hz, loud = self.keeper.kept("pitch", key, make)
            track = Track(np.array(pitch_hz, float), np.array(loud) > 0.5)
            notes = find_notes(track, samples)
            passages = find_passages(notes, samples) if self.take.kind == "mono" else ()
            self._found[found_as] = _Tracked(track, leave_out(notes, passages), passages)
        found: _Tracked = self._found[found_as]
        return found

    def _samples(self, channel: int) -> Floats:
        """Samples of one line at the rate of the tracking."""
        mono = self.take.kind == "mono"
        blocks = self.recording.blocks(RATE_HZ)
        return np.concatenate([np.mean(block, axis=0) if mono else block[channel] for block in blocks])

    def _content(self) -> str:
        if "content" not in self._found:
            self._found["content"] = self.recording.digest()
        return str(self._found["content"])


@dataclass(frozen=True)
class _Tracked:
    """What one line holds: its notes are those outside passages of several notes."""

    track: Track
    notes: tuple[Note, ...]
    passages: tuple[Passage, ...]


@dataclass(frozen=True)
class _Unclear:
    """What is known of a line while its pitch is unclear, and the signal of its string.

    A recorded string is sensed as a played one is, by what magnetises of it. A mono recording already
    contains this.
    """

    length_m: float | None = None
    string: int | None = None
    signal: float = 1.0


def _filters(sensor: Sensor, coils: list[Coil], unclear: _Unclear, voice: Hashable) -> Any:
    if isinstance(voice, Place):
        return unclear.signal * place_ratio(sensor, coils, voice)
    return unclear.signal * electrical_ratio(sensor, coils, unclear.length_m, unclear.string)


def _range(instrument: Instrument, strings: tuple[int, ...]) -> tuple[float, float]:
    """Lowest and highest pitch of some strings, Hz; of all strings if none is named."""
    open_hz = [instrument.strings[i].pitch_hz for i in strings or range(len(instrument.strings))]
    return min(open_hz) * RANGE_BELOW, max(open_hz) * RANGE_ABOVE


def _part(progress: Progress | None, index: int, count: int) -> Progress | None:
    return (lambda share: progress((index + share) / count)) if progress else None
