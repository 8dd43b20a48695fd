"""Files of blind tests: the two sounds in volts, and the three clips of the present trial.

A clip is a plain 16-bit WAV without tags or times. The three of a trial have one length, and each
has a fresh random dither: no byte and no property of a file shows which of the others it equals.
"""

from __future__ import annotations

import contextlib
import re
import secrets
import shutil
from collections.abc import Collection, Mapping, Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from dsp.sound.dither import Dither
from server.files.audio_out import wav_bytes
from server.files.raw_volts import read_volts, write_volts
from server.files.scratch import scratch_folder
from server.files.whole import whole_file
from server.refusals import Unknown

Floats = NDArray[np.float64]
FOLDER = "blind"
NAME = re.compile(r"[\w-]{24}\.wav", re.ASCII)
NAME_BYTES = 18
SEED_BITS = 128


def keep_sounds(data: Path, test: str, sounds: Sequence[Floats]) -> None:
    """Write the sounds of a test.

    Parameters
    ----------
    sounds : sequence of ndarray, shape (n,), full scale 1
        Two, matched and of one length.
    """
    folder = _folder(data, test)
    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    for k, samples in enumerate(sounds):
        with whole_file(folder / f"{k}.f32") as beside:
            write_volts(beside, [samples])


def rendering_folder(data: Path) -> contextlib.AbstractContextManager[Path]:
    """Return a scratch folder for sounds; it goes when its block ends."""
    return scratch_folder(data / FOLDER)


def has_sounds(data: Path, test: str) -> bool:
    """Whether both sounds of a test are on the disk."""
    return all((_folder(data, test) / f"{k}.f32").is_file() for k in (0, 1))


def make_clips(data: Path, test: str, rate_hz: int, order: Mapping[str, int]) -> dict[str, str]:
    """Replace the clips of a test by a trial's, and return their names.

    Parameters
    ----------
    order : mapping of str to int
        The sound of each letter.

    Returns
    -------
    dict of str to str
        The name of each letter's file, which is random.
    """
    folder = _folder(data, test)
    drop_clips(data, test)
    made = {letter: f"{secrets.token_urlsafe(NAME_BYTES)}.wav" for letter in order}
    for letter, sound in order.items():
        samples = np.concatenate([*read_volts(folder / f"{sound}.f32").blocks()])
        with whole_file(folder / made[letter]) as beside:
            beside.write_bytes(wav_bytes(Dither(secrets.randbits(SEED_BITS)).to_int16(samples), rate_hz))
    return made


def clips_there(data: Path, test: str, names: Collection[str]) -> bool:
    """Whether every clip of a trial is on the disk."""
    return all((_folder(data, test) / name).is_file() for name in names)


def read_clip(data: Path, test: str, name: str) -> bytes:
    """Read a clip.

    Raises
    ------
    Unknown
        If there is no such clip.
    """
    with contextlib.suppress(OSError):
        if NAME.fullmatch(name):
            return (_folder(data, test) / name).read_bytes()
    raise Unknown("clip", "another name", "a clip of the present trial")


def drop_clips(data: Path, test: str) -> None:
    """Remove the clips of a trial that has ended."""
    for path in _folder(data, test).glob("*.wav"):
        path.unlink(missing_ok=True)


def drop_test(data: Path, test: str) -> None:
    """Remove everything of a test."""
    shutil.rmtree(_folder(data, test), ignore_errors=True)


def sweep(data: Path, unfinished: Collection[str]) -> None:
    """Remove the folders of tests that have ended."""
    for folder in (data / FOLDER).glob("*"):
        if folder.name not in unfinished:
            shutil.rmtree(folder, ignore_errors=True)


def _folder(data: Path, test: str) -> Path:
    """Return a test's folder; ids come from the database, never from a request."""
    return data / FOLDER / test
