"""Find and examine the recordings of takes, and the wirings they were made through."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np

from dsp.errors import InputError
from dsp.takes.model import Take
from dsp.takes.performance import Performance
from dsp.takes.recorded import CoilRecording
from dsp.tracking.revoiced import TrackedTake
from dsp.tracking.source import SourceWiring
from server.files import audio_in
from server.files.existing import path_kind
from server.takes.compiling import CompiledFirst
from server.wirings.text import load_wiring

MOST_TRACKED_S = 600.0


def load_coils(take: Take, folder: Path) -> Performance:
    """Load a take of coil stems.

    Raises
    ------
    InputError
        If the recording cannot be used, or its number of channels is not that of the take.
    """
    recording = find_recording(take, folder)
    _require_channels(take, recording, "coil")
    return CoilRecording(take, recording, name=name_of(take), warnings=warnings_of(take, recording))


def load_strings(take: Take, folder: Path) -> Performance:
    """Load a take with a channel per string from a flat sensor.

    Raises
    ------
    InputError
        If the recording cannot be used, or its number of channels is not that of the take.
    """
    recording = find_recording(take, folder)
    _require_channels(take, recording, "string")
    _refuse_long(take, recording)
    warnings = warnings_of(take, recording)
    return TrackedTake(take, recording, CompiledFirst(), name=name_of(take), warnings=warnings)


def load_mono(take: Take, folder: Path) -> Performance:
    """Load one recording.

    Chords from a flat sensor reach the coils as they are; any other recording is filtered.

    Raises
    ------
    InputError
        If the recording or its source cannot be used.
    """
    recording = find_recording(take, folder)
    if take.line == "single":
        _refuse_long(take, recording)
    warnings = warnings_of(take, recording)
    if take.source.flat and take.line == "chords":
        return CoilRecording(take, recording, name=name_of(take), warnings=warnings)
    source = load_source(take, folder)
    return TrackedTake(take, recording, CompiledFirst(), source, name=name_of(take), warnings=warnings)


def name_of(take: Take) -> str:
    """Name of a take in file names: the stem of its file."""
    return Path(take.file).stem


def find_recording(take: Take, folder: Path) -> audio_in.Recording:
    """Find the sound file that a take names, relative to its folder.

    Raises
    ------
    InputError
        If the file is missing or cannot be used.
    """
    audio = Path(take.audio)
    where = f"{take.where('audio')}: audio" if take.lines else ""
    return audio_in.probe(audio if audio.is_absolute() else folder / audio, where=where)


def warnings_of(take: Take, recording: audio_in.Recording) -> tuple[str, ...]:
    """Warn of clipping, offset and noise, and of channels that are averaged."""
    facts = audio_in.examine_file(recording.path, where=recording.where)
    names = take.channels or tuple(f"channel {i + 1}" for i in range(recording.channels))
    warnings = [text for fact, name in zip(facts, names, strict=True) for text in fact.warnings(name)]
    if take.kind == "mono" and recording.channels > 1:
        name = recording.path.name
        warnings.append(f"the {recording.channels} channels of {name} are averaged into one recording")
    return tuple(warnings)


def load_source(take: Take, folder: Path) -> SourceWiring | None:
    """Load the wiring that a take was made through; None for a flat sensor.

    Raises
    ------
    InputError
        If its file is missing or broken, it has no such position, knob or switch, or it gives
        no sound in that setting.
    """
    if take.source.flat:
        return None
    where = f"{take.where('source')}: source"
    path = folder / take.source.wiring
    with _at(where):
        kind = path_kind(path)
    if kind != "file":
        got = f"no such file as {path}" if kind == "nothing" else f"{path} is a folder or a device"
        raise InputError(where, got, "a wiring file, relative to the take file")
    wiring = load_wiring(path)
    with _at(where):
        position = take.source.position or wiring.positions[0]
        setting = wiring.setting(position, take.source.knobs, take.source.switches)
    source = SourceWiring(wiring, setting)
    if not source.sensor(np.geomspace(50.0, 5000.0, 40)).coils:
        got = f"{take.source.wiring}, position {position}: no coil reaches the jack"
        raise InputError(where, got, "a setting that gives a sound")
    return source


def _require_channels(take: Take, recording: audio_in.Recording, of: str) -> None:
    if recording.channels != len(take.channels):
        got = f"{len(take.channels)} named, {recording.channels} in {take.audio}"
        raise InputError(f"{take.where('channels')}: channels", got, f"one {of} for each channel of the file")


def _refuse_long(take: Take, recording: audio_in.Recording) -> None:
    if recording.seconds > MOST_TRACKED_S:
        got = f"{recording.seconds / 60.0:.1f} minutes"
        allowed = f"up to {MOST_TRACKED_S / 60.0:.0f} minutes where pitch is tracked (strings, line: single)"
        raise InputError(f"{take.where('audio')}: audio", got, allowed, "cut out the take itself")


@contextmanager
def _at(where: str) -> Iterator[None]:
    """Report a problem with the setting at the line of the take file that states it."""
    try:
        yield
    except InputError as error:
        problem = error.problems[0]
        got = f"{problem.got} ({problem.where})"
        raise InputError(where, got, problem.allowed, problem.hint) from error
