"""Records of `presolder render`: levels as reached, notes, the list; and how it ends."""

from __future__ import annotations

import fcntl
import json
import os
import re
import resource
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
import soundfile
from click.testing import CliRunner
from places import DEMO
from render_case import COILS, Render, listed
from tolerances import LOUDNESS_LU

from dsp.sound.loudness import integrated_lufs
from server.cli import main
from server.files.scratch import scratch_folder
from server.files.tags import read_tags

# --- levels are recorded as reached


def test_a_loudness_without_room_is_recorded_as_reached(render: Render, tmp_path: Path) -> None:
    """The list, the tags and a note have it; one gain for the set, measured from the files."""
    done = render("--loudness", "-3", "--format", "flac")
    assert done.exit_code == 0
    for entry in listed(tmp_path):
        path = tmp_path / "out" / entry["file"]
        samples, rate_hz = soundfile.read(path)
        reached = integrated_lufs(samples, rate_hz)
        words = f"matched to {reached:.1f} LUFS (asked -3: true peak leaves no room)"
        assert entry["level"] == words
        assert read_tags(path, "flac")["level"] == words
        assert [text for text in entry["warnings"] if text.startswith(words)]
        assert entry["loudness_lufs"] == pytest.approx(reached, abs=LOUDNESS_LU)
    assert "true peak leaves no room" in done.stderr


def test_a_clip_that_ends_below_the_gate_has_no_loudness(tmp_path: Path) -> None:
    """One take's peaks lower the set, a quiet one falls below -70 LUFS: JSON has no infinity."""
    takes = []
    for name, volts in (("loud", 40.0), ("quiet", 0.003)):
        noise = volts * np.random.default_rng(1).uniform(-1.0, 1.0, (48_000, 4))
        soundfile.write(tmp_path / f"{name}.wav", noise, 48_000, "FLOAT")
        text = f"format: 1\nkind: coils\naudio: {name}.wav\nchannels: [{', '.join(COILS)}]\n"
        (tmp_path / f"{name}.yaml").write_text(text)
        takes += ["--take", str(tmp_path / f"{name}.yaml")]
    words = ["render", str(DEMO / "baritone.yaml"), *takes, "-p", "1", "--format", "flac", "--out"]
    done = CliRunner().invoke(main, [*words, str(tmp_path / "out")], catch_exceptions=False)
    assert done.exit_code == 0
    by_take = {entry["take_file"]: entry for entry in listed(tmp_path)}
    assert by_take["quiet.yaml"]["gain_db"] < -20.0
    assert by_take["quiet.yaml"]["loudness_lufs"] is None
    assert by_take["loud.yaml"]["loudness_lufs"] > -30.0
    assert "Infinity" not in (tmp_path / "out" / "clips.json").read_text(encoding="utf-8")


@pytest.mark.parametrize("format_", ["wav", "flac"])
def test_the_gain_recorded_is_the_gain_applied(render: Render, tmp_path: Path, format_: str) -> None:
    """Record and tags state the same gain, that between the file and the plain volts."""
    assert render("-p", "2").exit_code == 0
    volts = soundfile.read(tmp_path / "out" / listed(tmp_path)[0]["file"])[0]
    (tmp_path / "out" / "baritone-bursts-2.wav").unlink()
    assert render("-p", "2", "--loudness", "-30", "--format", format_).exit_code == 0
    (entry,) = listed(tmp_path)
    path = tmp_path / "out" / entry["file"]
    gain_db = 20.0 * np.log10(soundfile.read(path)[0] @ volts / np.sum(volts**2))
    assert abs(gain_db) > 1.0
    assert entry["gain_db"] == pytest.approx(gain_db, abs=0.02)
    assert read_tags(path, format_)["gain"] == f"{entry['gain_db']:.2f} dB"
    assert not [text for text in entry["warnings"] if "room" in text]


def test_float_volts_above_full_scale_are_noted(render: Render, tmp_path: Path) -> None:
    """Players clip them; files kept below full scale need no such note."""
    done = render("-p", "1")
    assert max(entry["true_peak_dbtp"] for entry in listed(tmp_path)) > 0.0
    assert done.stderr.count("above full scale") == 1
    assert "--format flac" in done.stderr
    for more in (["--format", "flac"], ["--loudness", "-30"]):
        assert "above full scale" not in render("-p", "1", *more).stderr


def test_silent_coils_are_noted(render: Render, take: Path, tmp_path: Path) -> None:
    samples = soundfile.read(tmp_path / "stems.wav")[0]
    soundfile.write(tmp_path / "stems.wav", samples[:, :2], 48_000, "FLOAT")
    take.write_text(take.read_text().replace(", bridge_a, bridge_b", ""))
    assert "bridge_a, bridge_b" in render("-p", "2").stderr


def test_a_stereo_file_as_one_recording_is_noted(render: Render, tmp_path: Path) -> None:
    stereo = soundfile.read(tmp_path / "stems.wav")[0][:, :2]
    soundfile.write(tmp_path / "both.wav", stereo, 48_000, "FLOAT")
    arguments = ["render", str(DEMO / "baritone.yaml"), "--take", str(tmp_path / "both.wav")]
    done = CliRunner().invoke(main, [*arguments, "-p", "1", "--out", str(tmp_path / "out")])
    assert "the 2 channels of both.wav are averaged" in done.stderr
    assert any("averaged" in text for text in listed(tmp_path)[0]["warnings"])


def test_absurd_voltages_are_noted(render: Render, tmp_path: Path) -> None:
    samples = soundfile.read(tmp_path / "stems.wav")[0]
    assert "V; strings make" not in render("-p", "1").stderr
    soundfile.write(tmp_path / "stems.wav", 100.0 * samples, 48_000, "FLOAT")
    assert "V; strings make" in render("-p", "1").stderr


def test_a_circuit_that_settles_very_slowly_is_noted(render: Render, tmp_path: Path) -> None:
    """A capacitor of 47 µF before the amplifier: a flip late in the clip cannot wait for it."""
    text = (DEMO / "twelve.yaml").read_text(encoding="utf-8")
    slow = tmp_path / "slow.yaml"
    slow.write_text(
        text.replace("parts:", "parts:\n  big: {kind: capacitor, capacitance: 47 µF}", 1)
        .replace("output.tip", "big.a")
        .replace("joints:", "joints:\n  - [big.b, output.tip]", 1)
    )
    n = 22 * 48_000
    soundfile.write(tmp_path / "long.wav", 0.1 * np.sin(np.arange(n) * 0.01), 48_000, "FLOAT")
    arguments = ["render", str(slow), "--take", str(tmp_path / "long.wav"), "-p", "1", "--out"]
    flip = ["--flip", "position=2@21.5"]
    done = CliRunner().invoke(main, [*arguments, str(tmp_path / "out"), *flip], catch_exceptions=False)
    assert done.exit_code == 0, done.stderr
    assert "settles very slowly" in done.stderr
    assert "settles very slowly" not in render("-p", "1", "--flip", "position=2@1.5").stderr


def test_a_depth_that_nothing_has_is_noted(render: Render) -> None:
    assert "--depth 16 has no effect" in render("--depth", "16", "--format", "mp3", "-p", "1").stderr
    assert "no effect" not in render("--depth", "16", "--format", "flac", "--format", "mp3", "-p", "1").stderr


# --- the list of clips


def test_files_written_before_a_failure_are_listed(render: Render, tmp_path: Path) -> None:
    """A folder has the name of the third file: the first two are whole and in the list."""
    (tmp_path / "out" / "baritone-bursts-3.wav").mkdir(parents=True)
    done = render()
    assert done.exit_code == 1
    assert "baritone-bursts-3.wav" in done.stderr
    assert [entry["position"] for entry in listed(tmp_path)] == ["1", "2"]
    assert not list((tmp_path / "out").glob(".*"))


@pytest.mark.parametrize("old", ["{", '{"clips": 1}', "[]", '{"clips": [{"file": 1}]}', "\x00", "[" * 5000])
def test_a_file_that_is_not_a_list_is_put_aside(render: Render, tmp_path: Path, old: str) -> None:
    out = tmp_path / "out"
    out.mkdir()
    (out / "clips.json").write_text(old)
    done = render("-p", "1")
    assert done.exit_code == 0
    assert (out / "clips.unreadable-1.json").read_text() == old
    assert "clips.unreadable-1.json" in done.stderr
    assert len(listed(tmp_path)) == 1
    (out / "clips.json").write_text(old)
    assert render("-p", "1").exit_code == 0
    assert (out / "clips.unreadable-2.json").exists()


def test_the_list_is_read_as_it_is_written_whatever_the_locale(render: Render, tmp_path: Path) -> None:
    """UTF-8 in a locale that knows only ASCII: entries with other letters stay."""
    copy = tmp_path / "other.yaml"
    text = (DEMO / "baritone.yaml").read_text(encoding="utf-8")
    copy.write_text(re.sub("^name: .*", "name: Übung Ω", text, flags=re.MULTILINE), encoding="utf-8")
    assert render("-p", "1", wiring=copy).exit_code == 0
    arguments = [sys.executable, "-c", "from server.cli import main; main()", "render"]
    arguments += [str(DEMO / "baritone.yaml"), "--take", str(tmp_path / "bursts.yaml"), "-p", "1"]
    environment = {**os.environ, "LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"}
    done = subprocess.run(
        [*arguments, "--out", str(tmp_path / "out")],
        cwd=DEMO.parent, env=environment, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    clips = json.loads((tmp_path / "out" / "clips.json").read_text(encoding="utf-8"))["clips"]
    assert [entry["wiring_file"] for entry in clips] == ["other.yaml", "baritone.yaml"]
    assert clips[0]["wiring"] == "Übung Ω"


# --- ended from outside


@pytest.fixture(scope="module")
def long_take(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Write twenty minutes of a tone."""
    path = tmp_path_factory.mktemp("long") / "long.wav"
    second = (3277 * np.sin(np.arange(48_000) * 0.05)).astype(np.int16)
    with soundfile.SoundFile(path, "w", 48_000, 1, "PCM_16") as file:
        for _ in range(20 * 60):
            file.write(second)
    return path


@pytest.mark.parametrize("ending", [signal.SIGTERM, signal.SIGHUP, signal.SIGINT])
def test_a_render_that_is_ended_leaves_nothing(
    tmp_path: Path, long_take: Path, ending: signal.Signals
) -> None:
    """A real process, ended in the middle of a long clip."""
    out = tmp_path / "out"
    arguments = ["render", str(DEMO / "baritone.yaml"), "--take", str(long_take), "--out"]
    process = subprocess.Popen(
        [sys.executable, "-c", "from server.cli import main; main()", *arguments, str(out)],
        cwd=DEMO.parent, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        preexec_fn=lambda: signal.signal(ending, signal.SIG_DFL),  # whatever handler the tests inherited
    )  # fmt: skip
    try:
        while process.poll() is None and not list(out.glob(".presolder-*/*/0.f32")):
            time.sleep(0.02)
        process.send_signal(ending)
        process.communicate(timeout=60)
    finally:
        process.kill()
    assert process.returncode in (128 + ending, 1)
    assert list(out.iterdir()) == []


def test_a_hangup_that_is_ignored_stays_ignored(tmp_path: Path) -> None:
    """As `nohup` starts a command; handlers are as before once the folder is gone."""
    before = signal.signal(signal.SIGHUP, signal.SIG_IGN)
    terminate = signal.getsignal(signal.SIGTERM)
    try:
        with scratch_folder(tmp_path / "out"):
            assert signal.getsignal(signal.SIGHUP) is signal.SIG_IGN
            assert signal.getsignal(signal.SIGTERM) is not terminate
        assert signal.getsignal(signal.SIGHUP) is signal.SIG_IGN
        assert signal.getsignal(signal.SIGTERM) is terminate
    finally:
        signal.signal(signal.SIGHUP, before)


def test_what_a_killed_render_left_is_swept(render: Render, tmp_path: Path) -> None:
    """A folder without a holder and older than a minute is deleted; one in use, or new, stays."""
    out = tmp_path / "out"
    for name in ("old", "held", "new"):
        (out / f".presolder-{name}").mkdir(parents=True)
        (out / f".presolder-{name}" / "0.f32").write_bytes(b"x")
    for name in ("old", "held"):
        os.utime(out / f".presolder-{name}", (1.0, 1.0))
    handle = os.open(out / ".presolder-held", os.O_RDONLY)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX)
        assert render("-p", "1").exit_code == 0
    finally:
        os.close(handle)
    assert sorted(path.name for path in out.glob(".*")) == [".presolder-held", ".presolder-new"]


def test_a_full_disk_is_called_one(render: Render, tmp_path: Path) -> None:
    """The scratch file hits the limit on file sizes, as it would a full disk."""
    before, ignored = resource.getrlimit(resource.RLIMIT_FSIZE), signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, before[1]))
    try:
        done = render("-p", "1")
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
        signal.signal(signal.SIGXFSZ, ignored)
    assert done.exit_code == 1
    assert "more room" in done.stderr
    assert list((tmp_path / "out").iterdir()) == []
