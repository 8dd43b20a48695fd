"""Clips on disk: aligned, tagged, the same bytes each time, never clipped, never partial."""

from __future__ import annotations

import resource
import time

import numpy as np
import pytest
import soundfile
import tolerances as tol

from dsp.errors import InputError
from dsp.sound.peak import dbtp, true_peak
from server.files.audio_in import read
from server.files.audio_out import Clip, Encoding, from_array, write_clip, write_set
from server.files.tags import ClipTags, read_tags

RATE = 48000
TAGS = ClipTags(
    wiring="Baritone, two doubles; Übung Ω",
    position="3",
    settings="volume=10 tone=7.5",
    take="E slide",
    coil_places="not modelled: electrical voicing only",
    level="as wired",
    artist="Werkstatt Übung",
    album="Baritone",
    track="12",
)
ENCODINGS = [
    Encoding("wav", "16"), Encoding("wav", "24"), Encoding("wav", "float"), Encoding("flac", "16"),
    Encoding("flac", "24"), Encoding("ogg"), Encoding("opus"), Encoding("mp3"),
]  # fmt: skip
named = pytest.mark.parametrize("encoding", ENCODINGS, ids=lambda e: e.format + e.depth)
lossy = pytest.mark.parametrize("name", ["ogg", "opus", "mp3"])


def names(folder):
    """Return the names in a folder, hidden files included."""
    return sorted(path.name for path in folder.iterdir())


def plucks(rate_hz=RATE, seconds=0.8, height=0.5):
    """Return decaying partials struck twice, first after 0.1 s."""
    times_s = np.arange(round(seconds * rate_hz) + 17) / rate_hz
    out = np.zeros_like(times_s)
    for start_s in (0.1, 0.45):
        since = np.maximum(times_s - start_s, 0.0)
        partials = sum(np.sin(2 * np.pi * 110 * n * since) / n for n in range(1, 30))
        out += np.exp(-4 * since) * partials * np.minimum(since / 0.002, 1.0)
    return height * out / np.abs(out).max()


def clip(path, samples, **more):
    return Clip(path, from_array(samples), TAGS, **more)


@named
@pytest.mark.parametrize("channels", [1, 2])
def test_what_is_written_is_read(tmp_path, encoding, channels):
    samples = plucks()
    samples = samples if channels == 1 else np.stack([samples, 0.5 * samples], axis=1)
    path = tmp_path / "clip"
    written = write_clip(clip(path, samples), RATE, encoding=encoding, channels=channels, gain=0.5)
    got = read(path, rate_hz=RATE).T.reshape(samples.shape)
    step = {"16": 1.5 / 2**15, "24": 0.5 / 2**23, "float": 1e-7, "": 0.05}[encoding.depth]
    assert np.abs(got - 0.5 * samples).max() <= step
    assert written.frames == len(samples)
    assert written.true_peak == pytest.approx(true_peak(got, RATE), rel=1e-9)
    assert names(tmp_path) == ["clip"]


@named
def test_tags(tmp_path, encoding):
    path = tmp_path / "clip"
    write_clip(clip(path, plucks()), RATE, encoding=encoding, gain=10 ** (-6.02 / 20))
    assert read_tags(path, encoding.format) == {
        "title": "Baritone, two doubles; Übung Ω, position 3: E slide",
        "wiring": TAGS.wiring,
        "position": "3",
        "settings": TAGS.settings,
        "take": "E slide",
        "coil_places": TAGS.coil_places,
        "level": TAGS.level,
        "artist": "Werkstatt Übung",
        "album": "Baritone",
        "track": "12",
        "gain": "-6.02 dB",
        "software": "presolder",
    }


def test_the_same_clip_gives_the_same_bytes(tmp_path):
    """Two writes more than a second apart: neither the clock nor chance has an effect."""
    first = {}
    for again in range(2):
        for encoding in ENCODINGS:
            path = tmp_path / f"{encoding.format}{encoding.depth}"
            write_clip(clip(path, plucks(), seed=7), RATE, encoding=encoding)
            assert first.setdefault(path, path.read_bytes()) == path.read_bytes(), encoding
        time.sleep(1.1 * (1 - again))


def test_the_seed_of_the_dither_counts(tmp_path):
    for seed in (1, 2):
        write_clip(clip(tmp_path / f"{seed}", plucks(), seed=seed), RATE, encoding=Encoding("wav", "16"))
    assert (tmp_path / "1").read_bytes() != (tmp_path / "2").read_bytes()


def shift_frames(samples, decoded):
    """Return the delay of the decoded signal, by the peak of the cross-correlation."""
    n = 2 * len(samples)
    crossed = np.fft.irfft(np.fft.rfft(decoded, n) * np.conj(np.fft.rfft(samples, n)), n)
    return (int(np.argmax(crossed)) + n // 2) % n - n // 2


@lossy
@pytest.mark.parametrize("rate_hz", [32000, 44100, 48000])
@pytest.mark.parametrize("quality", [0.0, 0.8])
def test_lossy_files_are_aligned_and_as_long_as_the_clip(tmp_path, name, rate_hz, quality):
    if name == "opus" and rate_hz != 48000:
        with pytest.raises(InputError, match="24000, 48000"):
            Encoding(name).check_rate(rate_hz)
        return
    samples = plucks(rate_hz)
    path = tmp_path / "clip"
    write_clip(clip(path, samples), rate_hz, encoding=Encoding(name, quality=quality))
    decoded, _ = soundfile.read(path)
    assert len(decoded) == len(samples)
    assert shift_frames(samples, decoded) == tol.LOSSY_SHIFT_FRAMES
    assert shift_frames(samples, np.roll(decoded, 1)) != tol.LOSSY_SHIFT_FRAMES


@lossy
def test_quality_costs_bytes_and_lowers_the_error(tmp_path, name):
    samples, sizes, errors = plucks(), [], []
    for quality in (0.2, 0.9):
        path = tmp_path / "clip"
        write_clip(clip(path, samples), RATE, encoding=Encoding(name, quality=quality))
        sizes.append(path.stat().st_size)
        errors.append(np.std(soundfile.read(path)[0] - samples))
    assert sizes[1] > sizes[0]
    assert errors[1] < errors[0]


@pytest.mark.parametrize(
    "encoding", [e for e in ENCODINGS if not e.plain_volts], ids=lambda e: e.format + e.depth
)
def test_a_set_keeps_the_ceiling_by_one_gain(tmp_path, encoding):
    """Volts far above full scale come down together; their difference of 6.02 dB stays."""
    loud, quiet = plucks(height=3.0), plucks(height=1.5)
    written = write_set([clip(tmp_path / "1", loud), clip(tmp_path / "2", quiet)], RATE, encoding=encoding)
    assert written[0].gain == written[1].gain < 0.34
    decoded = [soundfile.read(one.path)[0] for one in written]
    assert max(dbtp(true_peak(one, RATE)) for one in decoded) <= -1.0
    assert dbtp(true_peak(decoded[0], RATE)) > -2.0
    assert np.std(decoded[0]) / np.std(decoded[1]) == pytest.approx(2.0, rel=0.01)


@lossy
def test_an_encoder_that_overshoots_gets_less_gain(tmp_path, name):
    """Clipped noise grows between encoder and decoder; the first gain is not enough."""
    samples = np.sign(np.random.default_rng(4).standard_normal(RATE)) * 0.6
    encoding = Encoding(name, quality=0.3)
    started = 10 ** (-1.1 / 20) / true_peak(samples, RATE)
    first = write_clip(clip(tmp_path / "first", samples), RATE, encoding=encoding, gain=started)
    (written,) = write_set([clip(tmp_path / "clip", samples)], RATE, encoding=encoding)
    assert dbtp(first.true_peak) > -1.0
    assert dbtp(true_peak(soundfile.read(written.path)[0], RATE)) <= -1.0
    assert written.gain < 0.999 * started


def test_a_set_that_is_quiet_is_left_alone(tmp_path):
    (written,) = write_set([clip(tmp_path / "a", plucks())], RATE, encoding=Encoding("flac"))
    assert written.gain == 1.0


def test_float_files_hold_volts(tmp_path):
    samples = plucks(height=4.0)
    write_clip(clip(tmp_path / "a", samples), RATE, encoding=Encoding("wav"))
    assert np.abs(read(tmp_path / "a", rate_hz=RATE)[0]).max() == pytest.approx(4.0, rel=1e-6)


@pytest.mark.parametrize("encoding", [Encoding("wav", "16"), Encoding("flac")])
def test_integers_never_clip(tmp_path, encoding):
    with pytest.raises(InputError, match="lower the gain"):
        write_clip(clip(tmp_path / "a", plucks(height=1.01)), RATE, encoding=encoding)
    assert names(tmp_path) == []


def test_rates_a_format_cannot_hold(tmp_path):
    with pytest.raises(InputError, match="44100, 48000"):
        write_set([clip(tmp_path / "a", plucks())], 96000, encoding=Encoding("mp3"))
    for name in ("wav", "flac", "ogg"):
        write_clip(clip(tmp_path / name, plucks(96000)), 96000, encoding=Encoding(name))
        assert len(soundfile.read(tmp_path / name)[0]) == len(plucks(96000))


@pytest.mark.parametrize(
    ("arguments", "words"),
    [(("wave",), "did you mean 'wav'"), (("flac", "float"), "24, 16"), (("mp3", "16"), "no depth"),
     (("ogg", "", 1.2), "0 to 1"), (("ogg", "", float("nan")), "0 to 1")],
)  # fmt: skip
def test_encodings_that_do_not_go_together(arguments, words):
    with pytest.raises(InputError, match=words):
        Encoding(*arguments)


@named
def test_a_source_that_fails_leaves_the_old_file(tmp_path, encoding):
    path = tmp_path / "clip"
    path.write_text("old")

    def failing():
        yield plucks()
        raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        write_clip(Clip(path, failing, TAGS), RATE, encoding=encoding)
    assert path.read_text() == "old"
    assert names(tmp_path) == ["clip"]


def test_a_set_is_written_whole_or_not_at_all(tmp_path):
    bad = clip(tmp_path / "missing" / "b.flac", plucks())
    with pytest.raises(InputError, match="missing"):
        write_set([clip(tmp_path / "a.flac", plucks()), bad], RATE, encoding=Encoding("flac"))
    assert names(tmp_path) == []


def test_a_clip_without_samples(tmp_path):
    with pytest.raises(InputError, match="without samples"):
        write_clip(clip(tmp_path / "a", np.zeros(0)), RATE, encoding=Encoding("wav"))
    assert names(tmp_path) == []


@named
@pytest.mark.parametrize("bad", [np.nan, np.inf])
def test_a_sample_that_is_not_a_number_is_refused(tmp_path, encoding, bad):
    with pytest.raises(InputError, match="clip"):
        write_clip(clip(tmp_path / "clip", np.append(plucks(), bad)), RATE, encoding=encoding)
    assert names(tmp_path) == []


@named
@pytest.mark.parametrize("short_of", [0.8, 0.01], ids=["sound", "tags"])
def test_a_full_disk_leaves_nothing(tmp_path, encoding, short_of):
    """The system lets this process write no file as large as the clip, as a full disk would."""
    path, before = tmp_path / "clip", resource.getrlimit(resource.RLIMIT_FSIZE)
    write_clip(clip(path, plucks()), RATE, encoding=encoding)
    room = int((1 - short_of) * path.stat().st_size)
    path.unlink()
    resource.setrlimit(resource.RLIMIT_FSIZE, (room, before[1]))
    try:
        with pytest.raises(InputError, match="clip"):
            write_clip(clip(path, plucks()), RATE, encoding=encoding)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
    assert names(tmp_path) == []
