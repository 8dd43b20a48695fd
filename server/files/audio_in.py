"""Read recordings from disk: check the header, then give the samples in blocks.

Any format of libsndfile works (WAV, FLAC, AIFF, Ogg Vorbis, MP3, …), at any rate; soxr resamples.
The header is checked first, within a second and without reading the samples. The samples come in
blocks, so memory does not grow with the length.

Lossy files: libsndfile removes the encoder's delay and padding if the file records them. An MP3
without that record starts late by the encoder's delay, and its length is known only to within a
few of its own frames.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO

import numpy as np
from numpy.typing import NDArray

from dsp.errors import InputError
from dsp.sound.levels import ChannelFacts, examine
from server.files.cache import digest_of
from server.files.existing import path_kind

Floats = NDArray[np.float64]

MAX_CHANNELS = 64
MIN_RATE_HZ, MAX_RATE_HZ = 8000, 384000
MAX_SECONDS = 30 * 60
MAX_MAGNITUDE = 1e6  # volts; no string signal is larger, whatever the scale
AT_ONCE = 1 << 16  # samples of all channels together, read in one go
INEXACT_FORMATS = {"MP3": 8192}  # frames by which an honest header may be wrong
UNKNOWN_FRAMES = 1 << 62  # libsndfile's answer for a stream without a recorded length
STREAMED_SIZE = 0xFFFFFFFF  # size in a WAV that was written to a pipe: not known
FORMATS = "WAV, FLAC, AIFF, Ogg Vorbis or MP3"
INTEGER_BITS = {"PCM_S8": 8, "PCM_U8": 8, "PCM_16": 16, "PCM_24": 24, "PCM_32": 32}


@dataclass(frozen=True)
class Recording:
    """A sound file as its header describes it, checked.

    Attributes
    ----------
    rate_hz, channels, frames : int
        ``frames`` is a close estimate for MP3 and exact otherwise.
    format, subtype : str
        libsndfile's names, such as ``WAV`` and ``PCM_24``.
    where : str
        The place that named the file (``take.yaml:4``), for errors; empty for the file itself.
    """

    path: Path
    rate_hz: int
    channels: int
    frames: int
    format: str
    subtype: str
    where: str = ""

    @property
    def seconds(self) -> float:
        """Length, s."""
        return self.frames / self.rate_hz

    @property
    def full_scale(self) -> float | None:
        """Smallest magnitude that means clipped; None if samples may exceed 1."""
        bits = INTEGER_BITS.get(self.subtype)
        return None if bits is None else 1.0 - 1.5 / 2 ** (bits - 1)

    def blocks(self, rate_hz: int, frames: int = 1 << 14) -> Iterator[Floats]:
        """Read the samples at a rate, shape (channels, frames); see `blocks`."""
        return blocks(self.path, rate_hz=rate_hz, frames=frames, where=self.where)

    def digest(self) -> str:
        """SHA-256 of the file; an InputError if it cannot be read."""
        return digest_of(self.path)


def probe(path: Path, *, where: str = "") -> Recording:
    """Check a sound file by its header and its end.

    Parameters
    ----------
    where : str
        Place that named the file (``take.yaml:4``), for errors; the file itself if empty.

    Raises
    ------
    InputError
        If it is missing, a folder or not a sound file; has no samples, more than 30 minutes or
        more than 64 channels; a rate outside 8-384 kHz; or fewer samples than its header claims.
    """
    with _open(path, where) as file:
        recording = Recording(
            path, file.samplerate, file.channels, file.frames, file.format, file.subtype, where
        )
        _check_limits(recording, where)
        _check_end(file, recording, where)
    return recording


def blocks(path: Path, *, rate_hz: int, frames: int = 1 << 14, where: str = "") -> Iterator[Floats]:
    """Yield the samples of a recording at a rate, block by block.

    Parameters
    ----------
    rate_hz : int
        Rate of the result. A file with another rate is resampled (soxr, very high quality, linear
        phase, its delay removed); the signal is not shifted.
    frames : int
        Length of a block; the last may be shorter.
    where : str
        As in `probe`.

    Yields
    ------
    ndarray, shape (channels, frames), file units (volts for a stem)
        ``round(length * rate_hz / file rate)`` frames in all.

    Raises
    ------
    InputError
        As `probe` (before the first block); for a sample that is not finite or beyond
        10**6, with its channel and time; at the end when all samples were 0.
    """
    recording = probe(path, where=where)
    return _regrouped(_resampled(recording, rate_hz, where), frames)


def read(path: Path, *, rate_hz: int, where: str = "") -> Floats:
    """Return all samples of a recording, shape (channels, n); see `blocks`."""
    return np.concatenate(list(blocks(path, rate_hz=rate_hz, where=where)), axis=1)


def decode_flac(held: BinaryIO) -> Floats:
    """Return the samples of a mono sound that this program kept, shape (n,)."""
    import soundfile

    samples, _ = soundfile.read(held, dtype="float64")
    return np.asarray(samples)


def examine_file(path: Path, *, where: str = "") -> tuple[ChannelFacts, ...]:
    """Measure peak, offset, noise floor and clipping, at the file's own rate.

    Raises
    ------
    InputError
        As `blocks`.
    """
    recording = probe(path, where=where)
    source = (block.T for block in _raw(recording, where))
    return examine(source, recording.rate_hz, full_scale=recording.full_scale)


def forwards(file: Any) -> Iterator[Floats]:
    """Yield blocks, shape (frames, channels), of an open sound file.

    soundfile seeks after every block that it reads, and in an MP3 that breaks the decoder's
    overlap: read in blocks, such a file differed by up to its own height from the same file
    read at once. soundfile does not seek in a file that says it cannot.
    """
    file.seekable = lambda: False
    step = max(1, AT_ONCE // file.channels)
    while len(block := file.read(step, dtype="float64", always_2d=True)):
        yield block


def _refusal(path: Path, where: str, got: str, allowed: str, hint: str = "") -> InputError:
    return InputError(where or str(path), f"{path.name}: {got}" if where else got, allowed, hint)


def _open(path: Path, where: str) -> Any:
    import soundfile

    try:
        kind = path_kind(path)
    except InputError as error:
        raise _refusal(path, where, error.problems[0].got, "a sound file that can be opened") from error
    if kind == "nothing":
        raise _refusal(path, where, f"no such file as {path}", "a sound file that exists")
    if kind != "file":
        raise _refusal(path, where, f"{path} is a folder or a device", "a sound file")
    try:
        return soundfile.SoundFile(os.fsencode(path))
    except (soundfile.LibsndfileError, OSError, TypeError) as error:
        # TypeError: soundfile expects no header in a file whose name ends in .raw
        raise _refusal(path, where, f"not readable as sound ({_reason(error)})", FORMATS) from error


def _reason(error: Exception) -> str:
    return str(getattr(error, "error_string", error)).strip().rstrip(".") or "cut short"


def _check_limits(recording: Recording, where: str) -> None:
    path = recording.path
    if recording.channels > MAX_CHANNELS:
        raise _refusal(path, where, f"{recording.channels} channels", f"1 to {MAX_CHANNELS} channels")
    if not MIN_RATE_HZ <= recording.rate_hz <= MAX_RATE_HZ:
        allowed = f"{MIN_RATE_HZ} to {MAX_RATE_HZ} samples per second"
        raise _refusal(path, where, f"{recording.rate_hz} samples per second", allowed)
    if recording.frames >= UNKNOWN_FRAMES:
        got = "a stream whose header does not say how long it is"
        raise _refusal(path, where, got, "a file with its length recorded", "copy or export it once more")
    if recording.frames == 0:
        raise _refusal(path, where, "0 samples", "at least one sample")
    if recording.seconds > MAX_SECONDS:
        length = f"{recording.seconds / 60:.1f} minutes long"
        raise _refusal(path, where, length, f"up to {MAX_SECONDS // 60} minutes", "cut out the take itself")


def _check_end(file: Any, recording: Recording, where: str) -> None:
    """Refuse a file with fewer samples than its header claims."""
    claim = _unkept_claim(file.extra_info)
    if claim is None and not _ends_as_claimed(file):
        claim = f"its header claims {recording.frames} frames"
    if claim is not None:
        got = f"cut short: {claim}"
        raise _refusal(recording.path, where, got, "a whole file", "copy or export it once more")


def _unkept_claim(log: str) -> str | None:
    """Describe what libsndfile logged about sizes that do not fit the file."""
    for stated, actual in re.findall(
        r"^ *(?:data|SSND|Data Size|riff) *: *(\d+) \(should be (\d+)\)", log, re.M
    ):
        if int(actual) < int(stated) < STREAMED_SIZE - 1:
            return f"its header claims {stated} bytes, {actual} are there"
    if "Last page lacks an end-of-stream bit" in log or "Junk after the last page" in log:
        return "its last page is missing or broken"
    return None


def _ends_as_claimed(file: Any) -> bool:
    import soundfile

    slack = INEXACT_FORMATS.get(file.format, 1)
    try:
        file.seek(max(0, file.frames - slack))
        return len(file.read(1, always_2d=True)) == 1
    except soundfile.LibsndfileError:
        return False


def _raw(recording: Recording, where: str) -> Iterator[Floats]:
    """Yield blocks of shape (frames, channels) at the file's rate, each sample finite."""
    import soundfile

    at, heard = 0, False
    with _open(recording.path, where) as file:
        try:
            for block in forwards(file):
                _check_samples(block, at, recording, where)
                heard = heard or bool(block.any())
                at += len(block)
                yield block
        except soundfile.LibsndfileError as error:
            got = f"unreadable after {at / recording.rate_hz:.3f} s ({_reason(error)})"
            raise _refusal(recording.path, where, got, "a whole file") from error
    if at < recording.frames - INEXACT_FORMATS.get(recording.format, 0):
        got = f"cut short: {at} frames of the {recording.frames} its header claims"
        raise _refusal(recording.path, where, got, "a whole file")
    if not heard:
        raise _refusal(recording.path, where, "silence from start to end", "a recording with a signal in it")


def _check_samples(block: Floats, at: int, recording: Recording, where: str) -> None:
    bad = np.argwhere(~(np.abs(block) <= MAX_MAGNITUDE))
    if len(bad):
        frame, channel = bad[0]
        place = f"channel {channel + 1} at {(at + frame) / recording.rate_hz:.4f} s"
        got = f"the sample {block[frame, channel]} in {place}"
        raise _refusal(recording.path, where, got, f"finite samples up to {MAX_MAGNITUDE:.0f}")


def _resampled(recording: Recording, rate_hz: int, where: str) -> Iterator[Floats]:
    """Yield blocks of shape (frames, channels) at another rate, of any length."""
    source = _raw(recording, where)
    if rate_hz == recording.rate_hz:
        yield from source
        return
    import soxr

    stream = soxr.ResampleStream(
        recording.rate_hz, rate_hz, recording.channels, dtype="float64", quality="VHQ"
    )
    for block in source:
        yield stream.resample_chunk(block)
    yield stream.resample_chunk(np.zeros((0, recording.channels)), last=True)


def _regrouped(source: Iterator[Floats], frames: int) -> Iterator[Floats]:
    """Yield the same samples in blocks of one length, shape (channels, frames)."""
    held: list[Floats] = []
    count = 0
    for piece in source:
        held.append(piece)
        count += len(piece)
        if count >= frames:
            joined = np.concatenate(held)
            whole = count - count % frames
            for start in range(0, whole, frames):
                yield np.ascontiguousarray(joined[start : start + frames].T)
            held, count = [joined[whole:]], count - whole
    if count:
        yield np.ascontiguousarray(np.concatenate(held).T)
