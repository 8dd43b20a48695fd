"""Unusable takes: each gives an InputError with place and line, fast and in little memory."""

from __future__ import annotations

import struct
import time
import tracemalloc
from pathlib import Path

import numpy as np
import pytest
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st

from dsp.errors import InputError, Problem
from dsp.parts.coil import Coil
from dsp.takes.model import Take, coil_matrix, silent_coils
from dsp.takes.reading.take import read_take
from dsp.wiring.model import Wiring
from server.files.yaml_text import parse_tree
from server.takes.load import load_take

SOON_S = 5.0
"""Of processor time. The bar is one second; five leave room for a slow machine."""
LITTLE_BYTES = 80e6
COILS = {
    "neck": Coil(4e3, 2.0, 8e-11, sensitivity=1.0),
    "bridge": Coil(5e3, 3.0, 8e-11, winding=-1, sensitivity=2.0),
}
WIRING = Wiring("test", "test.yaml", COILS)
TAKE = "format: 1\nname: Test\nkind: coils\naudio: stems.wav\nchannels: [neck, bridge]\n"
MONO = "format: 1\nname: Test\nkind: mono\naudio: stems.wav\nsource: flat\n"


def tone(channels: int = 2, frames: int = 4800) -> np.ndarray:
    rows = np.sin(2 * np.pi * 110.0 / 48e3 * np.arange(frames))
    return np.outer(rows, 0.5 / (1.0 + np.arange(channels)))


@pytest.fixture
def take(tmp_path: Path) -> Path:
    soundfile.write(tmp_path / "stems.wav", tone(), 48_000, subtype="FLOAT")
    path = tmp_path / "take.yaml"
    path.write_text(TAKE, encoding="utf-8")
    return path


def refused(path: Path) -> tuple[Problem, ...]:
    tracemalloc.start()
    start = time.process_time()
    try:
        with pytest.raises(InputError) as caught:
            list(load_take(path).stems(WIRING, 48_000))
        assert tracemalloc.get_traced_memory()[1] < LITTLE_BYTES
    finally:
        tracemalloc.stop()
    assert time.process_time() - start < SOON_S
    assert all(problem.got and problem.allowed for problem in caught.value.problems)
    return caught.value.problems


def test_the_valid_take_these_start_from(take: Path) -> None:
    performance = load_take(take)
    stems = np.concatenate(list(performance.stems(WIRING, 48_000)), axis=1)
    np.testing.assert_array_equal(stems.astype(np.float32), tone().T.astype(np.float32))
    assert performance.warnings == ()
    assert performance.frames(48_000) == 4800


def test_channels_find_their_coils(take: Path) -> None:
    take.write_text(TAKE.replace("[neck, bridge]", "[bridge, neck]"), encoding="utf-8")
    stems = np.concatenate(list(load_take(take).stems(WIRING, 48_000)), axis=1)
    np.testing.assert_array_equal(stems[1].astype(np.float32), tone()[:, 0].astype(np.float32))


def test_mono_reaches_every_coil_with_the_strings_sign(take: Path) -> None:
    take.write_text(MONO, encoding="utf-8")
    stems = np.concatenate(list(load_take(take).stems(WIRING, 48_000)), axis=1)
    np.testing.assert_allclose(stems[0], tone().mean(axis=1), atol=1e-7)
    np.testing.assert_allclose(stems[1], -2.0 * stems[0], atol=1e-12)


@pytest.mark.parametrize(
    ("text", "line", "got", "advice"),
    [
        (TAKE.replace("format: 1", "format: 3"), 1, "'3'", "1"),
        (TAKE.replace("format: 1\n", ""), 1, "no format", "1"),
        (TAKE.replace("kind: coils", "kind: coil"), 3, "'coil'", "did you mean 'coils'?"),
        (TAKE.replace("kind: coils\n", ""), 1, "no kind", "score, coils, strings, mono"),
        (TAKE.replace("kind: coils", "kind: score"), 4, "'audio'", "tempo, events"),
        (TAKE.replace("audio: stems.wav\n", ""), 1, "none", "a sound file"),
        (TAKE.replace("audio: stems.wav", "audio: [a, b]"), 4, "a list of 2", "one value"),
        (TAKE.replace("channels:", "chanels:"), 5, "'chanels'", "did you mean 'channels'?"),
        (TAKE.replace("[neck, bridge]", "[]"), 5, "none", "the coil of each channel"),
        (TAKE.replace("[neck, bridge]", "neck"), 5, "'neck'", "a list"),
        (TAKE.replace("[neck, bridge]", "[neck, neck]"), 5, "'neck' twice", "each coil once"),
        (TAKE + "source: flat\n", 6, "'source'", "audio, channels"),
        (TAKE + "tempo: 120\n", 6, "'tempo'", "format, name"),
        (TAKE + "name: again\n", 6, "'name' again", "line 2"),
        (MONO.replace("source: flat\n", ""), 1, "none", "flat"),
        (MONO.replace("flat", "steep"), 5, "'steep'", "flat"),
        (MONO.replace("flat", "{wiring: x.yaml, position: 1}"), 5, "no such file", "a wiring file"),
        (MONO + "line: chord\n", 6, "'chord'", "single or chords"),
        (MONO + "channels: [neck]\n", 6, "'channels'", "source, line"),
        ("- a\n- b\n", 1, "a list of 2", "a map"),
        ("", 1, "an empty file", "YAML"),
    ],
)
def test_files_that_are_not_takes(take: Path, text: str, line: int, got: str, advice: str) -> None:
    take.write_text(text, encoding="utf-8")
    found = refused(take)
    assert len({str(problem) for problem in found}) == len(found), "a problem reported twice"
    assert any(
        p.where.startswith(f"{take}:{line}") and got in p.got and advice in f"{p.allowed} {p.hint}"
        for p in found
    ), found


def test_all_problems_of_a_take_at_once(take: Path) -> None:
    take.write_text(
        MONO.replace("format: 1", "format: 9").replace("flat", "steep") + "line: x\ntuning: low\n",
        encoding="utf-8",
    )
    assert len(refused(take)) == 4


@pytest.mark.parametrize("channels", [1, 3, 8])
def test_channels_that_are_not_there(take: Path, channels: int) -> None:
    soundfile.write(take.parent / "stems.wav", tone(channels), 48_000)
    (problem,) = refused(take)
    assert problem.where == f"{take}:5: channels"
    assert problem.got == f"2 named, {channels} in stems.wav"


def test_coils_the_wiring_does_not_have(take: Path) -> None:
    take.write_text(TAKE.replace("bridge]", "brigde]"), encoding="utf-8")
    (problem,) = refused(take)
    assert (problem.where, problem.got) == (f"{take}:5: channels", "'brigde'")
    assert problem.hint == "did you mean 'bridge'?"


def test_a_coil_that_no_channel_names_is_reported() -> None:
    one = Take("t", "t.yaml", "coils", "a.wav", ("neck",))
    assert silent_coils(one, COILS) == ("bridge",)
    np.testing.assert_array_equal(coil_matrix(one, COILS, 1), [[1.0], [0.0]])
    assert silent_coils(Take("t", "t.yaml", "mono", "a.wav"), COILS) == ()


def _wav(
    path: Path, *, rate: int = 48_000, channels: int = 2, claims: int, data: bytes = b"", length: int = 0
) -> None:
    """Write a WAV header by hand, true or false; the file may be sparse."""
    fmt = struct.pack("<HHIIHH", 1, channels, rate, rate * channels * 2, channels * 2, 16)
    head = (
        b"RIFF" + struct.pack("<I", min(claims + 36, 2**32 - 1)) + b"WAVEfmt " + struct.pack("<I", 16) + fmt
    )
    head += b"data" + struct.pack("<I", min(claims, 2**32 - 1))
    with path.open("wb") as file:
        file.write(head + data)
        if length:
            file.truncate(len(head) + length)


SIGNAL = (tone(2, 2000) * 3e4).astype("<i2").tobytes()
HOURS_10 = 10 * 3600 * 24_000 * 2 * 2  # at 24 kHz, so that its bytes still fit a WAV's header

LIES = {
    "10 hours": {"rate": 24_000, "claims": HOURS_10, "length": HOURS_10},
    "10 hours claimed, none there": {"rate": 24_000, "claims": HOURS_10, "data": SIGNAL},
    "more than there is": {"claims": len(SIGNAL) * 2, "data": SIGNAL},
    "a rate of none": {"rate": 0, "claims": len(SIGNAL), "data": SIGNAL},
    "a rate of 1 Hz": {"rate": 1, "claims": len(SIGNAL), "data": SIGNAL},
    "a rate of 1 GHz": {"rate": 10**9, "claims": len(SIGNAL), "data": SIGNAL},
    "no channels": {"channels": 0, "claims": len(SIGNAL), "data": SIGNAL},
    "a thousand channels": {"channels": 1000, "claims": len(SIGNAL), "data": SIGNAL},
    "no samples": {"claims": 0},
    "half a frame": {"claims": 2, "data": b"\1\1"},
    "silence": {"claims": 8000, "data": bytes(8000)},
}


@pytest.mark.parametrize("what", LIES)
def test_headers_that_lie(take: Path, what: str) -> None:
    _wav(take.parent / "stems.wav", **LIES[what])  # type: ignore[arg-type]
    (problem,) = refused(take)
    assert problem.where.startswith(f"{take}:4") or "channels" in problem.where
    assert "stems.wav" in problem.got


@pytest.mark.parametrize("kept", [0, 3, 12, 43, 44, 1000])
def test_cut_short(take: Path, kept: int) -> None:
    sound = take.parent / "stems.wav"
    sound.write_bytes(sound.read_bytes()[:kept])
    refused(take)


def test_no_sound_at_all(take: Path) -> None:
    sound = take.parent / "stems.wav"
    for content in (b"", b"RIFF", bytes(1000), b"format: 1\n", bytes(range(256)) * 10):
        sound.write_bytes(content)
        refused(take)
    sound.unlink()
    (problem,) = refused(take)
    assert problem.where == f"{take}:4: audio"
    assert "stems.wav" in problem.got
    sound.mkdir()
    refused(take)


@pytest.mark.parametrize("bad", [np.nan, np.inf, -1e9])
def test_samples_that_are_not_numbers(take: Path, bad: float) -> None:
    samples = tone()
    samples[777, 1] = bad
    soundfile.write(take.parent / "stems.wav", samples, 48_000, subtype="FLOAT")
    (problem,) = refused(take)
    assert "channel 2" in problem.got


def test_clipped_is_used_with_a_warning(take: Path) -> None:
    """A clipped take plays, with a warning."""
    soundfile.write(take.parent / "stems.wav", np.clip(tone() * 8.0, -1.0, 1.0), 48_000, subtype="PCM_16")
    performance = load_take(take)
    assert any("neck" in text and "clip" in text.lower() for text in performance.warnings)
    assert next(iter(performance.stems(WIRING, 48_000))).shape[0] == 2


def test_a_sound_file_alone_is_a_flat_recording(take: Path) -> None:
    performance = load_take(take.parent / "stems.wav")
    assert performance.take.kind == "mono"
    assert "not modelled" in performance.take.coil_places


@settings(max_examples=150, derandomize=True, deadline=None)
@given(
    st.sampled_from([TAKE, MONO]),
    st.integers(0, 200),
    st.integers(0, 12),
    st.sampled_from(["", "[", ": ", "\n", "*a", "- ", "0", "{}"]),
)
def test_a_take_with_a_slip_is_read_or_refused(text: str, at: int, cut: int, extra: str) -> None:
    slipped = text[:at] + extra + text[at + cut :]
    try:
        found = read_take(parse_tree(slipped, "t.yaml"), "t.yaml")
    except InputError:
        return  # any other error fails the test
    assert found.audio
    assert found.kind in ("coils", "mono")
