"""`presolder render --limit`: a limiter makes room for a loudness, and says what it took."""

from __future__ import annotations

from pathlib import Path

import pytest
import soundfile
from render_case import Render, listed
from tolerances import LIMITED_LU

from dsp.sound.loudness import integrated_lufs
from dsp.sound.peak import dbtp, true_peak
from server.files.tags import read_tags


def measured(folder: Path, name: str) -> tuple[float, float]:
    samples, rate_hz = soundfile.read(folder / "out" / name)
    return integrated_lufs(samples, rate_hz), dbtp(true_peak(samples, rate_hz))


def plain_lufs(render: Render, folder: Path, target: str) -> float:
    """Return how loud the set comes without a limiter."""
    assert render("-p", "1", "--loudness", target).exit_code == 0
    (entry,) = listed(folder)
    return float(entry["loudness_lufs"])


def test_a_clip_reaches_its_loudness_and_says_what_was_taken(render: Render, tmp_path: Path) -> None:
    room = plain_lufs(render, tmp_path, "0")  # as loud as its peaks allow
    target = room + 2.0
    done = render("-p", "1", "--loudness", f"{target:g}", "--limit")
    assert done.exit_code == 0, done.output
    (entry,) = listed(tmp_path)
    lufs, peak = measured(tmp_path, entry["file"])
    assert lufs == pytest.approx(target, abs=LIMITED_LU)
    assert lufs == pytest.approx(entry["loudness_lufs"], abs=0.05)
    assert peak <= -1.0
    assert 1.9 < entry["limited_db"] <= 6.0
    words = f"peaks limited by up to {entry['limited_db']:.1f} dB"
    assert words in entry["level"]
    assert words in read_tags(tmp_path / "out" / entry["file"], "wav")["level"]
    assert f"limited by {entry['limited_db']:.1f} dB" in done.stdout
    assert entry["warnings"] == [] or all("asked" not in text for text in entry["warnings"])


def test_beyond_six_decibels_the_set_comes_down_together(render: Render, tmp_path: Path) -> None:
    target = plain_lufs(render, tmp_path, "0") + 9.0
    done = render("--loudness", f"{min(target, 0.0):g}", "--limit")
    assert done.exit_code == 0, done.output
    entries = [one for one in listed(tmp_path) if one["limited_db"]]
    assert max(one["limited_db"] for one in entries) == pytest.approx(6.0, abs=0.05)
    heard = [measured(tmp_path, one["file"]) for one in entries]
    assert max(lufs for lufs, _ in heard) - min(lufs for lufs, _ in heard) <= 2.0 * LIMITED_LU
    assert max(peak for _, peak in heard) <= -1.0
    for one in entries:
        assert "the limiter takes at most 6 dB" in one["level"]
        assert any("every clip of the set alike" in text for text in one["warnings"])


def test_without_it_nothing_changes_and_as_wired_has_none(render: Render, tmp_path: Path) -> None:
    assert render("-p", "1", "--loudness", "-30").exit_code == 0
    (entry,) = listed(tmp_path)
    assert entry["limited_db"] == 0.0
    assert "limited" not in entry["level"]
    refused = render("-p", "1", "--limit")
    assert refused.exit_code == 2
    assert "allowed: --loudness with a number" in refused.stderr
