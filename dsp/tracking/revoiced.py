"""Recordings that are revoiced: a channel per string, a single line, or a known wiring's sound."""

from __future__ import annotations

import hashlib
from collections.abc import Hashable, Iterator
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

from dsp.errors import InputError
from dsp.parts.coil import Coil
from dsp.parts.instrument import Instrument
from dsp.strings.sensing import section_gain as string_section
from dsp.strings.tuned import tune
from dsp.takes.model import COIL_PLACES_LEFT_OUT, Take
from dsp.takes.performance import AT_ONCE, Floats, Performance, Progress
from dsp.takes.recorded import Recorded, find_recording, load_recorded, warnings_of
from dsp.tracking.filtering import Line, Piece, Size, revoiced
from dsp.tracking.follow import follow
from dsp.tracking.noise import BandPowers
from dsp.tracking.notes import Note, find_notes
from dsp.tracking.pitch import METHOD, RATE_HZ, Track, track_pitch
from dsp.tracking.places import Place
from dsp.tracking.remarks import FITS_BEST, LIES_LOWEST, on_dividing, on_tracking
from dsp.tracking.requirements import checked_instrument, string_indices
from dsp.tracking.sensor import Sensor, at_places, electrical
from dsp.tracking.source import SourceWiring, load_source
from dsp.tracking.which_string import tell_string
from dsp.wiring.model import Wiring
from server.files import audio_in
from server.files.cache import digest, kept, kept_stream

MOST_TRACKED_S = 600.0
MEAN_LENGTH = 0.8
"""Length of a sounding string re the scale, where no note says it: about the fourth fret."""
REVOICED = 1
"""Raised with every change to how a tracked recording sounds: stems kept by an older one are made anew."""
RANGE_BELOW, RANGE_ABOVE = 2.0 ** (-1.5 / 12.0), 2.0 ** (26.0 / 12.0)
"""Pitches looked for re an open string: a little flat, to 24 frets and a bend."""


@dataclass(frozen=True)
class Revoiced(Performance):
    """A recording that is filtered into each coil.

    Attributes
    ----------
    recording : Recording
    source : SourceWiring or None
        None for a flat sensor.
    """

    recording: audio_in.Recording
    source: SourceWiring | None = None
    _found: dict[Any, Any] = field(default_factory=dict, compare=False, repr=False)

    @property
    def seconds(self) -> float:
        """Length, s."""
        return self.recording.seconds

    @property
    def _tracked(self) -> bool:
        return self.take.kind == "strings" or self.take.line == "single"

    @property
    def _where(self) -> str:
        return f"{self.take.where('audio')}: audio"

    def coil_places(self, wiring: Wiring) -> str:
        """Whether the places of this wiring's coils are in the sound."""
        if self._tracked and not any(track.clear_share for track in self._tracks(wiring).values()):
            return COIL_PLACES_LEFT_OUT
        return self.take.coil_places

    def notes(self, wiring: Wiring) -> tuple[str, ...]:
        """How much was tracked, and by how much the source was raised."""
        known = self.take.kind == "strings" or len(self.take.strings) == 1
        guessed = "" if known else LIES_LOWEST if self.source is None else FITS_BEST
        told = list(on_tracking(self._tracks(wiring), guessed=guessed)) if self._tracked else []
        return (*told, *on_dividing(self._sensor(Size.at(48_000))))

    def prepare(self, wiring: Wiring, rate_hz: int, *, progress: Progress | None = None) -> None:
        """Track the pitch of every line, and keep it."""
        if self._tracked:
            self._tracks(wiring, progress)
        if progress:
            progress(1.0)

    def stems(self, wiring: Wiring, rate_hz: int) -> Iterator[Floats]:
        """EMF of every coil, blocks of shape (n_coils, n); see `Performance`."""
        made = partial(self._revoiced, wiring, rate_hz)
        if not self._tracked:  # of any length, and quick
            return made()
        take, source = self.take, self.source and (self.source.wiring, self.source.setting)
        inputs = (take.kind, take.channels, take.strings, take.sensor_at_m, source, self._content())
        name = digest("revoiced", REVOICED, METHOD, inputs, wiring.coils, wiring.instrument, rate_hz)
        return kept_stream("stems", name, made, rows=len(wiring.coils), at_once=AT_ONCE)

    def _revoiced(self, wiring: Wiring, rate_hz: int) -> Iterator[Floats]:
        size = Size.at(rate_hz)
        lines = self._lines(wiring, size)
        blocks = audio_in.blocks(self.recording.path, rate_hz=rate_hz, frames=AT_ONCE, where=self._where)
        if self.take.kind == "mono":
            blocks = (np.mean(block, axis=0, keepdims=True) for block in blocks)
        yield from revoiced(blocks, lines, len(wiring.coils), size, AT_ONCE)

    def _lines(self, wiring: Wiring, size: Size) -> list[Line]:
        coils = list(wiring.coils.values())
        sensor = self._sensor(size)
        if not self._tracked:
            return [Line((Piece(0, 0, None),), partial(_filters, sensor, coils, _Unclear()))]
        instrument = checked_instrument(wiring, self.take, self.source)
        lines = []
        for channel, strings in enumerate(self._strings(instrument)):
            notes, samples = self._notes(wiring, channel), self._samples(channel)
            told = [tell_string(note, samples, RATE_HZ, sensor, instrument, strings) for note in notes]
            pieces = follow(notes, told, instrument, size.rate_hz)
            unclear = _Unclear(MEAN_LENGTH * instrument.scale_m)
            if self.take.kind == "strings":
                string = strings[0]
                section = string_section(tune(instrument.strings[string], instrument.scale_m))
                unclear = _Unclear(unclear.length_m, string, section)
            lines.append(Line(pieces, partial(_filters, sensor, coils, unclear)))
        return lines

    def _strings(self, instrument: Instrument) -> list[tuple[int, ...]]:
        """Per line, the strings it may be on."""
        if self.take.kind == "strings":
            numbers = tuple(int(name) for name in self.take.channels)
            return [
                (i,) for i in string_indices(instrument, numbers, f"{self.take.where('channels')}: channels")
            ]
        where = f"{self.take.where('strings')}: strings"
        return [tuple(string_indices(instrument, self.take.strings, where))]

    def _sensor(self, size: Size) -> Sensor:
        """What the recording was made with; computed once per rate."""
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
            full = self.recording.full_scale
            powers = BandPowers(self.recording.rate_hz, 0.0 if full is None else (1.0 - full) / 1.5)
            rate_hz = self.recording.rate_hz
            for block in audio_in.blocks(self.recording.path, rate_hz=rate_hz, where=self._where):
                powers.add(np.mean(block, axis=0))
            self._found["powers"] = powers
        powers = self._found["powers"]
        left: Floats = powers.signal_left(frequencies_hz)
        return left

    def _tracks(self, wiring: Wiring, progress: Progress | None = None) -> dict[str, Track]:
        """Track of every line by its name."""
        instrument = checked_instrument(wiring, self.take, self.source)
        lines = self._strings(instrument)
        found: dict[str, Track] = {}
        for channel, strings in enumerate(lines):
            name = f"string {self.take.channels[channel]}" if self.take.kind == "strings" else "the line"
            part = _part(progress, channel, len(lines))
            found[name] = self._track(_range(instrument, strings), channel, part)[0]
        return found

    def _notes(self, wiring: Wiring, channel: int) -> tuple[Note, ...]:
        instrument = checked_instrument(wiring, self.take, self.source)
        return self._track(_range(instrument, self._strings(instrument)[channel]), channel, None)[1]

    def _track(
        self, span_hz: tuple[float, float], channel: int, progress: Progress | None
    ) -> tuple[Track, tuple[Note, ...]]:
        """Track and notes of one line; made once, the track kept from run to run."""
        key = (span_hz, channel)
        if key not in self._found:
            samples = self._samples(channel)

            def make() -> np.ndarray[Any, np.dtype[np.float32]]:
                track = track_pitch(samples, *span_hz, progress=progress)
                return np.array([track.pitch_hz, track.loud], np.float32)

            name = digest(METHOD, RATE_HZ, span_hz, channel, self._content(), self.take.kind)
            pitch_hz, loud = kept("pitch", name, make)
            track = Track(np.array(pitch_hz, float), np.array(loud) > 0.5)
            self._found[key] = track, find_notes(track, samples)
        found: tuple[Track, tuple[Note, ...]] = self._found[key]
        return found

    def _samples(self, channel: int) -> Floats:
        """One line at the rate of the tracking."""
        blocks = audio_in.blocks(self.recording.path, rate_hz=RATE_HZ, where=self._where)
        mono = self.take.kind == "mono"
        return np.concatenate([np.mean(block, axis=0) if mono else block[channel] for block in blocks])

    def _content(self) -> str:
        if "content" not in self._found:
            with self.recording.path.open("rb") as file:
                self._found["content"] = hashlib.file_digest(file, "sha256").hexdigest()
        return str(self._found["content"])


@dataclass(frozen=True)
class _Unclear:
    """What is known of a line where its pitch is not, and how heavy its string is.

    A recorded string's signal grows with its weight as a played one's does. In a mono recording
    it has done so already.
    """

    length_m: float | None = None
    string: int | None = None
    section: float = 1.0


def _filters(sensor: Sensor, coils: list[Coil], unclear: _Unclear, voice: Hashable) -> Any:
    if isinstance(voice, Place):
        return unclear.section * at_places(sensor, coils, voice)
    return unclear.section * electrical(sensor, coils, unclear.length_m, unclear.string)


def _range(instrument: Instrument, strings: tuple[int, ...]) -> tuple[float, float]:
    """Lowest and highest pitch of some strings, Hz; of all where none is named."""
    open_hz = [instrument.strings[i].pitch_hz for i in strings or range(len(instrument.strings))]
    return min(open_hz) * RANGE_BELOW, max(open_hz) * RANGE_ABOVE


def _part(progress: Progress | None, index: int, count: int) -> Progress | None:
    return (lambda share: progress((index + share) / count)) if progress else None


def load_mono(take: Take, folder: Path) -> Performance:
    """One recording: put into the coils as it is, or revoiced.

    Raises
    ------
    InputError
        If the recording or its source cannot be used.
    """
    if take.source.flat and take.line == "chords":
        recorded: Recorded = load_recorded(take, folder)
        return recorded
    recording = find_recording(take, folder)
    if take.line == "single":
        _refuse_long(take, recording)
    told = warnings_of(take, recording)
    if recording.channels > 1:
        told = (*told, f"{take.audio}: the mean of its {recording.channels} channels is taken")
    return Revoiced(take, recording, load_source(take, folder), warnings=told)


def load_strings(take: Take, folder: Path) -> Performance:
    """A channel per string, from a flat sensor.

    Raises
    ------
    InputError
        If the recording cannot be used, or has another number of channels than named.
    """
    recording = find_recording(take, folder)
    if recording.channels != len(take.channels):
        got = f"{len(take.channels)} named, {recording.channels} in {take.audio}"
        raise InputError(
            f"{take.where('channels')}: channels", got, "one string for each channel of the file"
        )
    _refuse_long(take, recording)
    return Revoiced(take, recording, warnings=warnings_of(take, recording))


def _refuse_long(take: Take, recording: audio_in.Recording) -> None:
    if recording.seconds > MOST_TRACKED_S:
        got = f"{recording.seconds / 60.0:.1f} minutes"
        allowed = f"up to {MOST_TRACKED_S / 60.0:.0f} minutes where pitch is tracked (strings, line: single)"
        raise InputError(f"{take.where('audio')}: audio", got, allowed, "cut out the take itself")
