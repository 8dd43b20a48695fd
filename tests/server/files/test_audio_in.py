"""Recordings: aligned resampling, limits, false headers, and findings of an examination."""

from __future__ import annotations

import struct
import time
import tracemalloc

import numpy as np
import pytest
import soundfile
import tolerances as tol

from dsp.errors import InputError
from server.files.audio_in import blocks, examine_file, probe, read

RATE = 48000


def write(path, samples, rate_hz=RATE, subtype="FLOAT", **more):
    soundfile.write(path, samples, rate_hz, subtype, **more)
    return path


def noise(seconds=1.0, channels=1, rate_hz=RATE, seed=1):
    return np.random.default_rng(seed).uniform(-0.5, 0.5, (round(seconds * rate_hz), channels))


def swell(times_s: np.ndarray, seconds: float) -> np.ndarray:
    """Return a 997 Hz tone that swells and fades over its length, silent at the ends."""
    return np.sin(2 * np.pi * 997 * times_s) * np.sin(np.pi * times_s / seconds) ** 2


@pytest.mark.parametrize(
    ("name", "subtype"),
    [("a.wav", "PCM_16"), ("a.wav", "FLOAT"), ("a.flac", "PCM_24"), ("a.aiff", "PCM_16"), ("a.ogg", "VORBIS"),
     ("a.mp3", "MPEG_LAYER_III")],
)  # fmt: skip
def test_formats(tmp_path, name, subtype):
    samples = 0.3 * swell(np.arange(RATE) / RATE, 1.0)
    path = write(tmp_path / name, np.stack([samples, -samples], axis=1), subtype=subtype)
    recording = probe(path)
    assert (recording.rate_hz, recording.channels, recording.frames) == (RATE, 2, RATE)
    assert recording.seconds == 1.0
    got = read(path, rate_hz=RATE)
    assert got.shape == (2, RATE)
    assert np.abs(got - [samples, -samples]).max() < (0.02 if recording.full_scale is None else 2**-15)


@pytest.mark.parametrize(
    ("from_hz", "to_hz"), [(44100, 48000), (48000, 44100), (96000, 48000), (8000, 96000), (384000, 44100)]
)
def test_resampling_does_not_shift(tmp_path, from_hz, to_hz):
    seconds = 0.5
    path = write(
        tmp_path / "a.wav", swell(np.arange(round(seconds * from_hz)) / from_hz, seconds), from_hz, "DOUBLE"
    )
    got = read(path, rate_hz=to_hz)[0]
    times_s = np.arange(round(seconds * to_hz)) / to_hz
    assert len(got) == len(times_s)
    assert np.abs(got - swell(times_s, seconds)).max() < tol.RESAMPLED
    assert not np.abs(got - swell(times_s + 0.001 / to_hz, seconds)).max() < tol.RESAMPLED


def test_an_impulse_stays_in_its_place(tmp_path):
    impulse = np.zeros(44100)
    impulse[22050] = 1.0
    got = read(write(tmp_path / "a.wav", impulse, 44100), rate_hz=RATE)[0]
    assert np.argmax(np.abs(got)) == 24000
    np.testing.assert_allclose(got[24000 - 500 : 24000], got[24000 + 500 : 24000 : -1], atol=1e-6)


@pytest.mark.parametrize(("name", "subtype"), [("a.mp3", "MPEG_LAYER_III"), ("a.ogg", "VORBIS")])
def test_a_lossy_file_read_in_blocks_is_the_file_read_at_once(tmp_path, name, subtype):
    path = write(tmp_path / name, noise(5.0, 2), subtype=subtype)
    at_once, _ = soundfile.read(path)
    np.testing.assert_allclose(read(path, rate_hz=RATE), at_once.T, atol=1e-7)


@pytest.mark.parametrize("rate_hz", [RATE, 44100])
def test_blocks_are_the_whole(tmp_path, rate_hz):
    path = write(tmp_path / "a.wav", noise(2.0, 3))
    pieces = list(blocks(path, rate_hz=rate_hz, frames=1000))
    assert {piece.shape for piece in pieces[:-1]} == {(3, 1000)}
    np.testing.assert_array_equal(np.concatenate(pieces, axis=1), read(path, rate_hz=rate_hz))


def test_memory_is_bounded(tmp_path):
    path = write(tmp_path / "a.wav", noise(60.0, 4), subtype="PCM_16")
    next(blocks(path, rate_hz=44100))  # imports happen once, before
    tracemalloc.start()
    count = sum(piece.shape[1] for piece in blocks(path, rate_hz=44100))
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert count == 60 * 44100
    assert peak < 8e6


def refused(path, *words, **more):
    """Assert a refusal within a second of processor time that contains these words."""
    begun = time.process_time()
    with pytest.raises(InputError) as caught:
        list(blocks(path, rate_hz=RATE, **more))
    assert time.process_time() - begun < 1.0
    for word in (path.name, *words):
        assert word in str(caught.value)


def test_missing_folder_and_other_files(tmp_path):
    refused(tmp_path / "none.wav", "no such file")
    (tmp_path / "folder.wav").mkdir()
    refused(tmp_path / "folder.wav", "folder")
    for content in (b"", b"format: 1\n" * 50, bytes(range(256)) * 9, b"RIFF\x00\x00\x00\x00WAVE"):
        path = tmp_path / "text.wav"
        path.write_bytes(content)
        refused(path, "not readable as sound", "FLAC")
    path = tmp_path / "headerless.raw"
    path.write_bytes(bytes(1000))
    refused(path, "not readable as sound")


def test_the_place_that_names_the_file_is_reported(tmp_path):
    with pytest.raises(InputError) as caught:
        probe(tmp_path / "none.wav", where="take.yaml:4")
    assert caught.value.problems[0].where == "take.yaml:4"
    assert "none.wav" in str(caught.value)


def test_no_samples(tmp_path):
    refused(write(tmp_path / "a.wav", np.zeros((0, 2))), "0 samples")


def test_ten_hours_are_refused_by_the_header(tmp_path):
    """A valid WAV of ten hours whose samples are a hole in the file."""
    path, size = tmp_path / "a.wav", 10 * 3600 * 16000 * 2
    header = struct.pack(
        "<4sI4s4sIHHIIHH4sI",
        b"RIFF",
        size + 36,
        b"WAVE",
        b"fmt ",
        16,
        1,
        1,
        16000,
        32000,
        2,
        16,
        b"data",
        size,
    )
    with path.open("wb") as file:
        file.write(header)
        file.truncate(len(header) + size)
    refused(path, "600.0 minutes", "30 minutes")


def test_thirty_minutes_are_the_limit(tmp_path):
    path = write(tmp_path / "a.flac", np.zeros(1800 * 8000, dtype=np.int16), 8000, "PCM_16")
    assert probe(path).seconds == 1800.0
    refused(
        write(tmp_path / "b.flac", np.zeros(1800 * 8000 + 80, dtype=np.int16), 8000, "PCM_16"), "30 minutes"
    )


@pytest.mark.parametrize("rate_hz", [7999, 384001])
def test_rates(tmp_path, rate_hz):
    refused(write(tmp_path / "a.wav", noise(0.01), rate_hz), str(rate_hz), "8000 to 384000")


def test_channels(tmp_path):
    assert probe(write(tmp_path / "a.wav", noise(0.01, 64))).channels == 64
    refused(write(tmp_path / "b.wav", noise(0.01, 65)), "65 channels")


@pytest.mark.parametrize(
    ("name", "subtype"),
    [("a.wav", "PCM_16"), ("a.wav", "FLOAT"), ("a.aiff", "PCM_24"), ("a.flac", "PCM_16"), ("a.ogg", "VORBIS"),
     ("a.mp3", "MPEG_LAYER_III"), ("a.w64", "PCM_16"), ("a.au", "PCM_16")],
)  # fmt: skip
@pytest.mark.parametrize("kept", [0.95, 0.6, 0.3])
def test_truncated(tmp_path, name, subtype, kept):
    path = write(tmp_path / name, noise(4.0), subtype=subtype)
    content = path.read_bytes()
    path.write_bytes(content[: int(kept * len(content))])
    refused(path, "cut short")


def test_a_header_that_claims_more_than_the_file_holds(tmp_path):
    path = write(tmp_path / "a.wav", noise(1.0), subtype="PCM_16")
    content = bytearray(path.read_bytes())
    at = content.index(b"data") + 4
    content[at : at + 4] = struct.pack("<I", 5 * RATE * 2)
    path.write_bytes(content)
    refused(path, "480000 bytes", "96000 are there")


def test_a_flac_header_that_claims_more_frames(tmp_path):
    path = write(tmp_path / "a.flac", noise(1.0), subtype="PCM_16")
    content = bytearray(path.read_bytes())
    content[22:26] = struct.pack(">I", 20 * RATE)  # low 32 bits of the frame count in STREAMINFO
    path.write_bytes(content)
    refused(path, "cut short", "960000 frames")


def test_a_stream_of_unstated_length(tmp_path):
    """WAV written to a pipe claims 0xFFFFFFFF bytes, which is correct; FLAC claims 0 frames."""
    path = write(tmp_path / "a.wav", noise(1.0), subtype="PCM_16")
    content = bytearray(path.read_bytes())
    at = content.index(b"data") + 4
    content[at : at + 4] = content[4:8] = b"\xff\xff\xff\xff"
    path.write_bytes(content)
    assert probe(path).frames == RATE
    path = write(tmp_path / "a.flac", noise(1.0), subtype="PCM_16")
    content = bytearray(path.read_bytes())
    content[22:26] = bytes(4)
    path.write_bytes(content)
    refused(path, "does not say how long")


@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf, 1e9])
def test_samples_that_are_not_numbers(tmp_path, bad):
    samples = noise(1.0, 2)
    samples[12000, 1] = bad
    refused(write(tmp_path / "a.wav", samples), "channel 2 at 0.2500 s", str(np.float64(bad))[:3])


def test_silence(tmp_path):
    refused(write(tmp_path / "a.wav", np.zeros((RATE, 2)), subtype="PCM_16"), "silence")
    with pytest.raises(InputError, match="silence"):
        examine_file(tmp_path / "a.wav")


def test_examination_of_a_clean_recording(tmp_path):
    samples = 0.5 * swell(np.arange(2 * RATE) / RATE, 2.0)
    (facts,) = examine_file(write(tmp_path / "a.wav", samples, subtype="PCM_24"))
    assert facts.peak == pytest.approx(0.5, abs=1e-3)
    assert facts.warnings("channel 1") == []


@pytest.mark.parametrize("level", [1.0, 1.5])
def test_clipped_integers(tmp_path, level):
    """Clipped at 200, 201, … places: 100 Hz for a second has 200 crests."""
    samples = np.clip(level * 1.2 * np.sin(2 * np.pi * 100 * np.arange(RATE) / RATE), -1, 32767 / 32768)
    path = write(tmp_path / "a.wav", np.rint(samples * 32768).astype(np.int16), subtype="PCM_16")
    (facts,) = examine_file(path)
    assert facts.clipped_runs == 200
    assert "clipped 200 times" in facts.warnings("neck_a")[0]


def test_full_scale_reached_for_one_sample_is_not_clipping(tmp_path):
    samples = noise(1.0)[:, 0]
    samples[::4000] = 32767 / 32768
    (facts,) = examine_file(
        write(tmp_path / "a.wav", np.rint(samples * 32768).astype(np.int16), subtype="PCM_16")
    )
    assert facts.clipped_runs == 0


def test_volts_above_one_are_not_clipping_but_flat_tops_are(tmp_path):
    sine = 3.0 * np.sin(2 * np.pi * 100 * np.arange(RATE) / RATE)
    clean, flat = examine_file(write(tmp_path / "a.wav", np.stack([sine, np.clip(sine, -2.5, 2.5)], axis=1)))
    assert (clean.clipped_runs, flat.clipped_runs) == (0, 200)
    assert clean.peak == pytest.approx(3.0, abs=1e-4)


def test_a_quiet_16_bit_recording_kept_as_floats_is_not_clipping(tmp_path):
    sine = np.rint(500 * np.sin(2 * np.pi * 82.4 * np.arange(RATE) / RATE)) / 32768
    (facts,) = examine_file(write(tmp_path / "a.wav", sine))
    assert facts.clipped_runs == 0


def test_offset_noise_floor_and_a_dead_channel(tmp_path):
    random = np.random.default_rng(2)
    hiss = 10 ** (-60 / 20) * random.standard_normal(4 * RATE)
    note = np.where(np.arange(4 * RATE) % (2 * RATE) < RATE, 0.5 * np.sin(0.05 * np.arange(4 * RATE)), 0.0)
    path = write(tmp_path / "a.wav", np.stack([hiss + note, hiss + note + 0.02, 0 * hiss], axis=1))
    clean, offset, dead = examine_file(path)
    assert clean.noise_floor_db == pytest.approx(-60.0, abs=0.5)
    assert clean.warnings("a") == []
    assert offset.dc == pytest.approx(0.02, abs=1e-3)
    assert "DC offset" in offset.warnings("b")[0]
    assert dead.warnings("c") == ["c is silent from start to end"]
