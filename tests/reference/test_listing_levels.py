"""Levels and tags of a listing's files by other means: ffmpeg's ebur128 filter, and what ffprobe reads.

ffmpeg implements EBU R 128 and ITU-R BS.1770 (documentation of its ebur128 filter); it decodes MP3, Opus
and Vorbis by decoders other than the ones used here.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest
import soundfile
import tolerances as tol
from listing_case import catalogue, clips, run

from server.files.audio_out import Clip, Encoding, from_array, write_clip
from server.files.tags import ClipTags

FORMATS = ("flac", "mp3", "ogg", "opus")
TARGET_LUFS = -24.0
MORE = (
    f"formats: [{', '.join(FORMATS)}]\nartist: Werkstatt Übung\nloudness: {TARGET_LUFS:g} LUFS\n"
    "positions: [1, 3, 5, 6]\nclips:\n  - {name: open}\n  - {name: warm, set: {tone: 2, volume: 6}}\n"
)


@pytest.fixture(scope="module")
def out(tmp_path_factory) -> Path:
    """Make a listing of one instrument, two short takes, four positions and two knob settings."""
    if not shutil.which("ffmpeg"):
        if os.environ.get("CI") == "true":
            pytest.fail("ffmpeg is missing")
        pytest.skip("ffmpeg is missing")
    folder = tmp_path_factory.mktemp("levels")
    run(catalogue(folder, instruments=1, takes=2, more=MORE, tail_s=3.0))
    return folder / "out"


def ffmpeg_levels(path: Path) -> tuple[float, float]:
    """Return integrated loudness in LUFS and true peak in dBTP, as ffmpeg prints them."""
    words = ["ffmpeg", "-nostdin", "-hide_banner", "-i", str(path), "-map", "0:a"]
    words += ["-af", "ebur128=peak=true", "-f", "null", "-"]
    printed = subprocess.run(words, capture_output=True, text=True, check=True).stderr
    loudness = re.findall(r"I:\s+(-?[\d.]+) LUFS", printed)[-1]
    return float(loudness), float(re.findall(r"Peak:\s+(-?[\d.]+) dBFS", printed)[-1])


def off_target(levels: list[float], target: float) -> float:
    return max(abs(level - target) for level in levels)


@pytest.mark.reference
@pytest.mark.parametrize("format_", FORMATS)
def test_every_clip_has_its_loudness_and_peak(out, format_):
    entries = [entry for entry in clips(out) if entry["format"] == format_]
    assert len(entries) == 16
    found = [ffmpeg_levels(out / "baritone_000" / entry["file"]) for entry in entries]
    loudness, peaks = [one[0] for one in found], [one[1] for one in found]
    off = off_target(loudness, TARGET_LUFS)
    print(f"{format_}: {off:.2f} LU off at most, peak {max(peaks):.1f} dBTP at most")
    assert off_target(loudness, TARGET_LUFS) <= tol.LISTING_LU
    assert off_target(loudness, TARGET_LUFS + tol.LISTING_LU + tol.PRINTED_LU) > tol.LISTING_LU  # the twin
    assert max(peaks) <= tol.CEILING_DBTP


LOUD_LUFS = -14.0
LIMITED = f"formats: [flac, opus]\nloudness: {LOUD_LUFS:g} LUFS\nlimit: yes\npositions: [1, 5, 6]\n"


@pytest.mark.reference
def test_limited_clips_have_their_loudness_and_peak(out, tmp_path):
    """A limiter makes room: without it these clips would stay softer, or their peaks exceed the ceiling."""
    run(catalogue(tmp_path, instruments=1, takes=1, more=LIMITED, tail_s=2.0))
    entries = clips(tmp_path / "out")
    assert len(entries) == 6
    found = [ffmpeg_levels(tmp_path / "out" / "baritone_000" / entry["file"]) for entry in entries]
    lossless = [
        loudness for entry, (loudness, _) in zip(entries, found, strict=True) if entry["format"] == "flac"
    ]
    off = off_target(lossless, LOUD_LUFS)
    print(f"limited: {off:.2f} LU off at most, peak {max(peak for _, peak in found):.1f} dBTP at most")
    assert off <= tol.LIMITED_LU
    assert max(peak for _, peak in found) <= tol.CEILING_DBTP
    for entry, (loudness, _) in zip(entries, found, strict=True):
        assert entry["loudness_lufs"] == pytest.approx(loudness, abs=tol.PRINTED_LU + tol.LISTING_LU)
        assert entry["level"].endswith(f", peaks limited by up to {entry['limited_db']:.1f} dB")
        if entry["format"] == "flac":
            assert entry["level"].startswith(f"matched to {LOUD_LUFS:g} LUFS,")
        else:  # its encoder overshoots: all of a format come down, and say so
            assert "true peak leaves no room" in entry["level"] or abs(loudness - LOUD_LUFS) <= tol.LIMITED_LU
    assert 1.0 < max(entry["limited_db"] for entry in entries) <= 6.0


@pytest.mark.reference
@pytest.mark.parametrize("format_", FORMATS[1:])
def test_lossy_files_are_as_long_as_their_take_and_start_with_it_in_ffmpeg_too(out, format_):
    """Gapless: ffmpeg's output has the master's length and aligns to the sample."""
    entries = {e["format"]: e for e in clips(out) if (e["position"], e["clips"]) == ("1", "open")}
    folder = out / "baritone_000"
    master, _ = soundfile.read(folder / entries["flac"]["file"])
    words = ["ffmpeg", "-v", "error", "-i", str(folder / entries[format_]["file"]), "-map", "0:a", "-ac", "1"]
    raw = subprocess.run([*words, "-f", "f32le", "-"], capture_output=True, check=True).stdout
    heard = np.frombuffer(raw, np.float32).astype(float)
    assert len(heard) == len(master) == entries[format_]["samples"]
    assert shift(heard, master) == 0
    assert shift(np.roll(heard, 1), master) == 1  # the twin


def ffprobe_tags(path: Path) -> dict[str, str]:
    """Return the tags that ffprobe finds, of the file or of its one stream, names in lower case."""
    words = [
        "ffprobe",
        "-v",
        "error",
        "-select_streams",
        "a",
        "-show_entries",
        "format_tags:stream_tags",
        "-of",
        "json",
        str(path),
    ]
    found = json.loads(subprocess.run(words, capture_output=True, check=True).stdout)
    streams = {name: text for one in found["streams"] for name, text in one.get("tags", {}).items()}
    return {name.lower(): text for name, text in {**streams, **found["format"].get("tags", {})}.items()}


@pytest.mark.reference
@pytest.mark.parametrize("format_", FORMATS)
def test_another_program_lists_a_clip_as_music_players_do(out, format_):
    """Title, artist, album and track: ID3v2.4 TIT2, TPE1, TALB, TRCK; the usual Vorbis comments."""
    entries = [entry for entry in clips(out) if entry["format"] == format_]
    titles = set()
    for number, entry in enumerate(entries, 1):
        tags = ffprobe_tags(out / "baritone_000" / entry["file"])
        assert tags["artist"] == "Werkstatt Übung"
        assert tags["album"] == "Baritone, two humbuckers, six-way rotary"
        assert tags["track"] == f"{number}"
        titles.add(tags["title"])
    assert len(titles) == len(entries)
    assert "1 Neck, both coils in series, warm: Pluck 0" in titles


@pytest.mark.reference
def test_another_program_lists_a_wav_too(out, tmp_path):
    """RIFF INFO: IART, IPRD and ITRK."""
    tags = ClipTags("Wiring", "1", "volume=10", "Riff", "modelled", artist="A", album="B", track="3")
    clip = Clip(tmp_path / "clip.wav", from_array(np.full(4800, 0.1)), tags)
    write_clip(clip, 48_000, encoding=Encoding("wav", "24"))
    found = ffprobe_tags(clip.path)
    assert (found["artist"], found["album"], found["track"]) == ("A", "B", "3")


def shift(heard: np.ndarray, master: np.ndarray) -> int:
    """Return the samples by which one signal lags another, by correlation."""
    span = np.fft.irfft(np.fft.rfft(heard) * np.conj(np.fft.rfft(master)), len(master))
    at = int(np.argmax(span))
    return at - len(master) if at > len(master) // 2 else at
