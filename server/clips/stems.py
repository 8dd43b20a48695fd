"""Write the stems of a take as one sound file, with a channel per coil."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from dsp.documents.tree import Entries, Text
from dsp.errors import InputError
from dsp.takes.performance import AT_ONCE, Floats, Performance, Progress
from dsp.wiring.model import Wiring
from server.files.audio_out import Clip, Encoding, write_clip
from server.files.names import file_stem
from server.files.tags import ClipTags
from server.files.whole import make_folder, write_text
from server.files.yaml_text import load_tree

MOST_FLAC_CHANNELS = 8
"""Channels that FLAC can hold (RFC 9639, section 9.1.3)."""
FLAC_HOLDS = 1.0 - 2.0**-23
"""Largest sample of 24-bit FLAC, volt."""


@dataclass(frozen=True)
class StemsFile:
    """A file of stems.

    Attributes
    ----------
    take_path : Path
        A take file of kind coils that plays the stems through wirings with the same coils.
    coils : tuple of str
        Coil of each channel, in order.
    peaks_v : tuple of float
        Largest sample of each channel, volt.
    """

    path: Path
    take_path: Path
    coils: tuple[str, ...]
    peaks_v: tuple[float, ...]
    seconds: float


def write_stems(
    performance: Performance,
    wiring: Wiring,
    place: Path,
    rate_hz: int,
    *,
    progress: Progress | None = None,
) -> StemsFile:
    """Write the voltage that a take induces in every coil of a wiring.

    Parameters
    ----------
    place : Path
        A file ending in .flac or .wav, or a folder. In a folder the file is named after take and
        wiring: 24-bit FLAC if that can hold the channels and the volts, else floating-point WAV.

    Raises
    ------
    InputError
        If the take does not fit the wiring, the file cannot hold the stems or be written, or its
        take file would replace some other file.
    """
    names = tuple(wiring.coils)
    if not names:
        raise InputError(wiring.file, "no coil", "at least one coil that listens")
    try:
        return _written(performance, wiring, place, rate_hz, names, progress)
    except OSError as error:
        raise InputError(
            str(place), error.strerror or str(error), "a place that can be written to"
        ) from error


def _written(
    performance: Performance,
    wiring: Wiring,
    place: Path,
    rate_hz: int,
    names: tuple[str, ...],
    progress: Progress | None,
) -> StemsFile:
    with tempfile.TemporaryFile() as plain:
        peaks, length = np.zeros(len(names)), 0
        for block in performance.stems(wiring, rate_hz):
            plain.write(np.ascontiguousarray(block.T, dtype=np.float32).tobytes())
            peaks = np.maximum(peaks, np.abs(block).max(axis=1, initial=0.0))
            length += block.shape[1]
            if progress:
                progress(length / performance.frames(rate_hz))

        def samples() -> Iterator[Floats]:
            plain.seek(0)
            size = 4 * len(names) * AT_ONCE
            while data := plain.read(size):
                yield np.frombuffer(data, np.float32).reshape(-1, len(names)).astype(float)

        path, encoding = _target(place, performance, wiring, peaks)
        take_path = path.with_suffix(".yaml")
        _refuse_other(take_path, path.name)
        make_folder(path.parent)
        clip = Clip(path, samples, _tags(performance, wiring))
        write_clip(clip, rate_hz, encoding=encoding, channels=len(names))
    write_text(take_path, _take_text(performance, path, names))
    return StemsFile(path, take_path, names, tuple(map(float, peaks)), length / rate_hz)


def _target(
    place: Path, performance: Performance, wiring: Wiring, peaks: NDArray[np.float64]
) -> tuple[Path, Encoding]:
    """Return the file and how it is stored."""
    fits = len(peaks) <= MOST_FLAC_CHANNELS and peaks.max(initial=0.0) <= FLAC_HOLDS
    ending = place.suffix.lower().lstrip(".")
    if ending not in ("flac", "wav"):
        ending = "flac" if fits else "wav"
        place = place / f"{file_stem([Path(wiring.file).stem, performance.name, 'stems'])}.{ending}"
    elif ending == "flac" and not fits:
        got = f"{len(peaks)} channels, peak {peaks.max():.2f} V"
        allowed = f"up to {MOST_FLAC_CHANNELS} channels within 1 V in FLAC"
        raise InputError(str(place), got, allowed, "a name that ends in .wav holds any")
    return place, Encoding(ending)


def _refuse_other(take_path: Path, audio: str) -> None:
    """Refuse to overwrite a file that is not the take file of these stems, such as the score itself."""
    if not take_path.exists():
        return
    try:
        tree = load_tree(take_path)
        found = tree.get("audio") if isinstance(tree, Entries) else None
    except InputError:
        found = None
    if not isinstance(found, Text) or found.text != audio:
        allowed = "another name: beside it goes a take file, and this one is not its own"
        raise InputError(str(take_path), "a file that is there already", allowed)


def _tags(performance: Performance, wiring: Wiring) -> ClipTags:
    take = performance.take.name or performance.name
    name = wiring.name or Path(wiring.file).stem
    return ClipTags(
        wiring=name,
        position="",
        settings=f"channels={','.join(wiring.coils)}",
        take=take,
        coil_places=performance.coil_places(wiring),
        level="volts",
        title=f"{name}: stems of {take}",
    )


def _take_text(performance: Performance, path: Path, names: tuple[str, ...]) -> str:
    quoted = (performance.take.name or performance.name).replace("'", "''")
    return (
        "format: 1\n"
        f"name: '{quoted}, stems'\n"
        "kind: coils\n"
        f"audio: '{path.name.replace(chr(39), chr(39) * 2)}'\n"
        f"channels: [{', '.join(names)}]\n"
    )
