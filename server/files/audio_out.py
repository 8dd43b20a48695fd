"""Write clips to disk: WAV, FLAC, Ogg Vorbis, Ogg Opus and MP3 by libsndfile, with tags.

The same clip gives the same bytes: WAV gets no time stamp, Ogg pages get a fixed serial number,
and dither has a given seed. A file is written beside its place and renamed; a set is renamed only
once all its files are good. No sample is ever clipped: gain alone keeps the peaks.

Measured with libsndfile 1.2.2 (tests/server/files/test_audio_out.py): MP3 and Ogg Vorbis at 44.1
and 48 kHz and Opus at 48 kHz decode to exactly the frames written, without a shift. The files
record the encoder's delay and padding, and libsndfile removes them.
"""

from __future__ import annotations

import contextlib
import io
import os
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from dsp.errors import InputError
from dsp.sound.dither import Dither, to_int24
from dsp.sound.levels import db
from dsp.sound.limiter import Limiter
from dsp.sound.peak import CEILING_DBTP, TruePeakMeter, dbtp, gain_for_ceiling
from server.files.audio_formats import FORMATS as FORMATS
from server.files.audio_formats import Encoding as Encoding
from server.files.audio_in import forwards
from server.files.tags import ClipTags, set_riff_info, write_tags
from server.files.whole import whole_file

Floats = NDArray[np.float64]
Source = Callable[[], Iterable[Floats]]

AT_ONCE = 1 << 16
OGG_SERIAL = 1
ADD_PEAK_CHUNK = 0x1050  # libsndfile's SFC_SET_ADD_PEAK_CHUNK: that chunk holds the time of day
TRIES = 6
EXTRA_DB = 0.05  # taken off further at each new try, so that the tries come to an end


@dataclass(frozen=True)
class Clip:
    """A clip to be written.

    Attributes
    ----------
    source : callable
        Gives the samples afresh at each call: blocks of shape (n,) or (n, channels). `write_clip`
        calls it once, `write_set` at least twice, so it should read a finished rendering and
        not render again.
    seed : int
        Seed of the dither, for 16 bits.
    gain : float
        Factor of this clip alone, besides the one that its set shares.
    limited : bool
        Whether a limiter follows the clip's own gain; the set's gain comes behind it.
    level_at : callable or None
        Describes its level, given the whole gain in the end; None keeps that of the tags.
    cover : bytes or None
        A PNG picture; WAV has no place for one.
    """

    path: Path
    source: Source
    tags: ClipTags
    seed: int = 0
    gain: float = 1.0
    limited: bool = False
    level_at: Callable[[float], str] | None = None
    cover: bytes | None = None


@dataclass(frozen=True)
class Written:
    """A file on the disk.

    Attributes
    ----------
    gain : float
        Factor applied to the samples, the clip's own included.
    true_peak : float
        True peak of the decoded samples, full scale 1.
    limiter_gain : float or None
        The part of the gain before a limiter; None without one.
    """

    path: Path
    frames: int
    gain: float
    true_peak: float
    limiter_gain: float | None = None


def from_array(samples: Floats) -> Source:
    """Return a source of samples in memory, shape (n,) or (n, channels)."""
    return lambda: (samples[start : start + AT_ONCE] for start in range(0, len(samples), AT_ONCE))


def write_clip(
    clip: Clip, rate_hz: int, *, encoding: Encoding, channels: int = 1, gain: float = 1.0
) -> Written:
    """Write one clip as it is, times a gain.

    Returns
    -------
    Written
        With the true peak of the finished file; that of a lossy file may exceed the samples'
        own, which `write_set` corrects.

    Raises
    ------
    InputError
        For a rate or a sample that the format cannot hold, no sample at all, or a path that
        cannot be written. Then nothing is left on the disk.
    """
    encoding.check_rate(rate_hz)
    with whole_file(clip.path) as beside:
        return _encode(beside, clip, rate_hz, encoding, channels, gain)


def write_scratch(
    clip: Clip, rate_hz: int, *, encoding: Encoding, known_peak: float | None = None, gain: float = 1.0
) -> Written:
    """Write one clip in place, in a scratch folder; see `write_clip`.

    Parameters
    ----------
    clip : Clip
        Of one channel.
    known_peak : float or None
        True peak of the source, full scale 1. A lossless file has the same, and is not read back.
    gain : float
        Factor besides the clip's own, behind its limiter.

    Raises
    ------
    OSError, InputError
        As `write_clip`, but a part of the file may be left.
    """
    encoding.check_rate(rate_hz)
    return _encode(clip.path, clip, rate_hz, encoding, 1, gain, None if encoding.lossy else known_peak)


def write_set(
    clips: Sequence[Clip],
    rate_hz: int,
    *,
    encoding: Encoding,
    channels: int = 1,
    gain: float = 1.0,
    loudest: float | None = None,
    ceiling_dbtp: float = CEILING_DBTP,
) -> list[Written]:
    """Write clips that share one gain, every true peak under the ceiling.

    One gain for all keeps the differences between them. Lossy files are decoded and measured,
    because their encoders overshoot, and encoded again with less gain if needed. Write clips
    that do not belong together by one call each.

    Parameters
    ----------
    gain : float
        Gain to start from; it only falls.
    loudest : float or None
        Largest true peak of the clips, with their own gains; measured if None.

    Returns
    -------
    list of Written
        In the order given, with one gain besides their own.

    Raises
    ------
    InputError
        As `write_clip`; then none of the files is on disk.
    """
    encoding.check_rate(rate_hz)
    if loudest is None:
        loudest = max((clip.gain * _peak(clip.source(), rate_hz, channels) for clip in clips), default=0.0)
    gain *= gain_for_ceiling(loudest * gain, ceiling_dbtp)
    with contextlib.ExitStack() as renames:
        besides = [renames.enter_context(whole_file(clip.path)) for clip in clips]
        for again in range(TRIES):
            written = [
                _encode(beside, clip, rate_hz, encoding, channels, gain)
                for beside, clip in zip(besides, clips, strict=True)
            ]
            top = max((one.true_peak for one in written), default=0.0)
            if dbtp(top) <= ceiling_dbtp:
                return written
            gain *= gain_for_ceiling(top, ceiling_dbtp - EXTRA_DB * again)
        raise InputError(
            str(clips[0].path), f"{dbtp(top):.2f} dBTP after {TRIES} tries", f"{ceiling_dbtp} dBTP or less"
        )


def _peak(blocks: Iterable[Floats], rate_hz: int, channels: int) -> float:
    meter = TruePeakMeter(rate_hz, channels)
    for block in blocks:
        meter.add(block)
    return meter.true_peak()


def _encode(
    beside: Path,
    clip: Clip,
    rate_hz: int,
    encoding: Encoding,
    channels: int,
    gain: float,
    known_peak: float | None = None,
) -> Written:
    import soundfile
    from mutagen import MutagenError

    behind = gain if clip.limited else gain * clip.gain
    gain *= clip.gain
    level = clip.tags.level if clip.level_at is None else clip.level_at(gain)
    tags = replace(clip.tags, level=level, gain=f"{db(gain):.2f} dB")
    try:
        with soundfile.SoundFile(os.fsencode(beside), "w", rate_hz, channels, **encoding.options()) as file:
            if encoding.format == "wav":
                soundfile._snd.sf_command(file._file, ADD_PEAK_CHUNK, soundfile._ffi.NULL, 0)
                set_riff_info(file, tags)
            frames = _fill(file, clip, encoding, behind)
        if frames == 0:
            raise InputError(str(clip.path), "a clip without samples", "at least one sample")
        if encoding.format != "wav":
            write_tags(beside, encoding.format, tags, cover=clip.cover)
        if FORMATS[encoding.format].sndfile == "OGG":
            _fix_serial(beside)
    except (soundfile.LibsndfileError, MutagenError) as error:
        raise _unwritten(clip.path, error) from error
    peak = _peak_on_disk(beside, frames, clip.path) if known_peak is None else known_peak * gain
    return Written(clip.path, frames, gain, peak, clip.gain if clip.limited else None)


def _fill(file: Any, clip: Clip, encoding: Encoding, gain: float) -> int:
    """Write every block as the encoding needs it; return the number of frames."""
    quantise: Callable[[Floats], NDArray[Any]] = {
        "16": Dither(clip.seed).to_int16,
        "24": to_int24,
    }.get(encoding.depth, lambda samples: samples)
    frames = 0
    blocks = Limiter(file.samplerate, clip.gain).run(clip.source()) if clip.limited else clip.source()
    for block in blocks:
        for start in range(0, len(block), AT_ONCE):
            piece = np.asarray(block[start : start + AT_ONCE], dtype=np.float64) * gain
            if not np.isfinite(piece).all():
                raise InputError(str(clip.path), "a sample that is not finite", "finite samples")
            try:
                file.write(quantise(piece))
            except AssertionError as error:  # soundfile raises it if not all was written
                raise _unwritten(clip.path, error) from error
            frames += len(piece)
    return frames


def _unwritten(path: Path, error: Exception) -> InputError:
    return InputError(str(path), f"not written ({error})", "a disk with room for the file")


def _peak_on_disk(path: Path, frames: int, named: Path) -> float:
    """Return the true peak of a file as decoded; every frame must be there."""
    import soundfile

    with soundfile.SoundFile(os.fsencode(path)) as file:
        if file.frames != frames:
            raise InputError(str(named), f"{file.frames} frames on disk", f"the {frames} frames written")
        return _peak(forwards(file), file.samplerate, file.channels)


def _fix_serial(path: Path) -> None:
    """Give every Ogg page one serial number; libsndfile draws a random one each time."""
    from mutagen import ogg

    page_class: Any = ogg.OggPage  # mutagen's calls carry no types
    size = path.stat().st_size
    with path.open("r+b") as file:
        while (at := file.tell()) < size:
            page = page_class(file)
            page.serial = OGG_SERIAL
            after = file.tell()
            file.seek(at)
            file.write(page.write())  # with a new checksum, of the same length
            file.seek(after)


def flac_bytes(samples: NDArray[np.int16], rate_hz: int) -> bytes:
    """Return 16-bit samples, shape (n, channels), as the bytes of a FLAC file."""
    import soundfile

    held = io.BytesIO()
    soundfile.write(held, samples, rate_hz, "PCM_16", format="FLAC")
    return held.getvalue()


def wav_bytes(samples: NDArray[np.int16], rate_hz: int) -> bytes:
    """Return mono 16-bit samples, shape (n,), as the bytes of a WAV file."""
    import soundfile

    held = io.BytesIO()
    soundfile.write(held, samples, rate_hz, "PCM_16", format="WAV")
    return held.getvalue()
