"""`presolder render --through`: what is heard behind an amplifier, its level, name, record and tags."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray
from places import DEMO
from render_case import Render, listed
from tolerances import FLOAT32, LOUDNESS_LU

from dsp.chain.run import USUAL_KNOBS, drive_gain, respond_small
from dsp.chain.soft import BEND_PER_V, BLOCKING_HZ, bend
from dsp.chain.speaker import respond_speaker
from dsp.chain.stack import respond_stack
from dsp.chain.ways import WAYS
from dsp.sound.loudness import integrated_lufs
from dsp.sound.peak import dbtp, true_peak
from server.files.tags import read_tags

Floats = NDArray[np.float64]
RATE_HZ, FINER = 48_000, 16
FLOAT32_DB = 20.0 * np.log10(FLOAT32)


def sound(folder: Path, name: str) -> Floats:
    samples, rate_hz = soundfile.read(folder / "out" / name)
    assert rate_hz == RATE_HZ
    return np.asarray(samples)


def filtered(samples: Floats, response: Floats | NDArray[np.complex128]) -> Floats:
    """Apply a response, given at the bins of twice the length."""
    n = len(samples)
    return np.asarray(np.fft.irfft(np.fft.rfft(samples, 2 * n) * response, 2 * n)[:n])


def bins(n: int) -> Floats:
    hz = np.fft.rfftfreq(2 * n, 1.0 / RATE_HZ)
    hz[0] = 1e-3
    return hz


def off_db(got: Floats, want: Floats) -> float:
    """What is left of a sound once the other, at its best gain, is taken off; dB."""
    gain = got @ want / (want @ want)
    return float(10.0 * np.log10(np.sum((got - gain * want) ** 2) / np.sum(got**2)))


def below(samples: Floats, hertz: float) -> Floats:
    spectrum = np.fft.rfft(samples)
    spectrum[np.fft.rfftfreq(len(samples), 1.0 / RATE_HZ) > hertz] = 0.0
    return np.fft.irfft(spectrum, len(samples))


def test_direct_keeps_its_bytes_and_says_so(render: Render, tmp_path: Path) -> None:
    assert render("-p", "1").exit_code == 0
    (plain,) = listed(tmp_path)
    before = (tmp_path / "out" / plain["file"]).read_bytes()
    assert render("-p", "1", "--through", "direct").exit_code == 0
    (direct,) = listed(tmp_path)
    assert direct == plain
    assert plain["through"] == "direct"
    assert (tmp_path / "out" / plain["file"]).read_bytes() == before
    assert "through" not in read_tags(tmp_path / "out" / plain["file"], "wav")


def test_clean_is_the_response_of_stack_and_loudspeaker(render: Render, tmp_path: Path) -> None:
    """From the file of volts, by a transform of the whole; aligned, to the last sample."""
    assert render("-p", "1").exit_code == 0
    assert render("-p", "1", "--through", "clean").exit_code == 0
    volts, heard = (sound(tmp_path, f"baritone-bursts-1{way}.wav") for way in ("", "-clean"))
    assert len(heard) == len(volts)
    want = filtered(volts, respond_small(WAYS["clean"], bins(len(volts))))
    assert off_db(below(heard, 15e3), below(want, 15e3)) <= -75.0
    assert off_db(below(heard[1:], 15e3), below(want[:-1], 15e3)) > -40.0
    assert off_db(below(heard, 15e3), below(volts, 15e3)) > -20.0


@pytest.mark.parametrize("name", ["edge", "driven"])
def test_bent_as_by_the_curve_at_many_times_the_rate(render: Render, tmp_path: Path, name: str) -> None:
    """Stack, curve at 16 times the rate, capacitor and loudspeaker, each by a transform of the whole."""
    assert render("-p", "5").exit_code == 0
    assert render("-p", "5", "--through", name).exit_code == 0
    volts, heard = (sound(tmp_path, f"baritone-bursts-5{way}.wav") for way in ("", f"-{name}"))
    (lowered_db,) = {one["drive_lowered_db"] for one in listed(tmp_path) if one["through"] == name}
    n, hz = len(volts), bins(len(volts))
    into = np.zeros(FINER * n + 1, complex)
    into[: n + 1] = np.fft.rfft(volts, 2 * n) * respond_stack(USUAL_KNOBS, hz)
    into[n] = 0.0
    fine = np.fft.irfft(into, 2 * FINER * n) * FINER * drive_gain(WAYS[name], lowered_db)
    assert np.max(np.abs(fine)) * BEND_PER_V > 1.0  # far enough to be bent
    bent = np.fft.rfft(bend(fine))[: n + 1] / FINER
    s = 1j * hz / BLOCKING_HZ
    want = np.fft.irfft(bent * respond_speaker(hz) * s / (1.0 + s), 2 * n)[:n]
    assert off_db(below(heard, 15e3), below(want, 15e3)) <= -60.0
    straight = filtered(volts, respond_small(WAYS[name], hz))
    assert off_db(below(heard, 15e3), below(straight, 15e3)) > -40.0


def test_a_set_has_one_gain_and_one_drive_and_keeps_below_full_scale(render: Render, tmp_path: Path) -> None:
    assert render("--through", "driven").exit_code == 0
    entries = listed(tmp_path)
    assert [one["file"] for one in entries] == [f"baritone-bursts-{p}-driven.wav" for p in "123456"]
    assert len({one["gain_db"] for one in entries}) == 1
    (lowered_db,) = {one["drive_lowered_db"] for one in entries}
    assert lowered_db > 0.0  # the bursts are louder than strings
    for one in entries:
        assert one["level"] == "as wired"
        assert dbtp(true_peak(sound(tmp_path, one["file"]), RATE_HZ)) <= -1.0
        assert any(f"driven {lowered_db:.1f} dB less" in text for text in one["warnings"])
        assert not any("full scale" in text for text in one["warnings"])
        assert read_tags(tmp_path / "out" / one["file"], "wav")["through"] == "driven"


def test_the_drive_gives_way_to_the_limit_and_no_further(
    render: Render, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The loudest of the set ends at the limit; a set alone drives its stage as far."""
    from server.clips import render as rendering

    drives: list[float] = []
    run_all = rendering._run_all

    def watched(*args: object, **more: object) -> object:
        measured = run_all(*args, **more)  # type: ignore[arg-type]
        drives.append(max(one.measured.excess_db for one in measured))
        return measured

    monkeypatch.setattr(rendering, "_run_all", watched)
    assert render("--through", "edge").exit_code == 0
    assert len(drives) == 2
    assert drives[0] > 0.0
    assert drives[1] < 1e-6
    assert listed(tmp_path)[0]["drive_lowered_db"] == pytest.approx(drives[0], abs=1e-3)


@pytest.mark.parametrize("name", ["clean", "driven"])
def test_loudness_is_matched_behind_the_amplifier(render: Render, tmp_path: Path, name: str) -> None:
    assert render("--through", name, "--loudness", "-24", "--format", "flac").exit_code == 0
    for one in listed(tmp_path):
        assert integrated_lufs(sound(tmp_path, one["file"]), RATE_HZ) == pytest.approx(-24.0, abs=LOUDNESS_LU)
        assert one["level"] == "matched to -24 LUFS"


def test_flips_and_knobs_act_before_the_amplifier(render: Render, tmp_path: Path) -> None:
    """Long after a flip the sound is that of the other position, through the same amplifier."""
    how = ("--through", "clean")
    assert render("-p", "5", *how).exit_code == 0
    assert render("-p", "1", *how, "--flip", "position=5@0.5").exit_code == 0
    whole = sound(tmp_path, "baritone-bursts-5-clean.wav")
    flipped = sound(tmp_path, "baritone-bursts-1-position5at0.5-clean.wav")
    assert off_db(flipped[48_000:], whole[48_000:]) <= FLOAT32_DB
    assert off_db(flipped[:20_000], whole[:20_000]) > -20.0


def test_a_low_input_drives_half_as_far(render: Render, tmp_path: Path) -> None:
    text = (DEMO / "baritone.yaml").read_text(encoding="utf-8").partition("\nload:")[0]
    other = "amplifier: {resistance: 136.1 kΩ, capacitance: 32 pF}"
    loads = {"low": "{like: low_input}", "equal": f"{{like: low_input, {other}}}"}
    levels = {}
    for name, load in loads.items():
        file = tmp_path / f"{name}.yaml"
        file.write_text(f"{text}\nload: {load}\n", encoding="utf-8")
        assert render("-p", "1", "--through", "clean", "--format", "wav", wiring=file).exit_code == 0
        (entry,) = (one for one in listed(tmp_path) if one["wiring_file"] == file.name)
        levels[name] = entry["loudness_lufs"] - entry["gain_db"]
    assert levels["equal"] - levels["low"] == pytest.approx(6.02, abs=0.02)


def test_a_way_that_is_not_offered_is_refused(render: Render) -> None:
    result = render("--through", "loud")
    assert result.exit_code == 2
    assert "direct" in result.output
    assert "driven" in result.output
