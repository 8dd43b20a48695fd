"""`presolder stems`: the file, its take file, and refusals."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile
from click.testing import CliRunner, Result
from places import DEMO
from tolerances import STEMS_24_BIT

from dsp.errors import InputError
from server.cli import main
from server.clips import stems as jobs
from server.files.tags import read_tags
from server.takes.load import load_take
from server.wirings.text import load_wiring

COILS = ["neck_a", "neck_b", "bridge_a", "bridge_b"]
SCORE = """format: 1
name: "Two notes, 'quoted'"
kind: score
tempo: 120
courses: 6
tail: 0.4 s
events:
  - {beat: 0, string: 6, fret: 3, force: 0.4}
  - {beat: 1, frets: [x, x, 2, 2, 1, x], force: 0.4}
"""


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Make a folder with a wiring and a score, and work in it."""
    (tmp_path / "baritone.yaml").write_text((DEMO / "baritone.yaml").read_text("utf-8"), "utf-8")
    (tmp_path / "twelve.yaml").write_text((DEMO / "twelve.yaml").read_text("utf-8"), "utf-8")
    (tmp_path / "notes.yaml").write_text(SCORE, "utf-8")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def run(*words: str, status: int = 0) -> Result:
    done = CliRunner().invoke(main, ["stems", *words], catch_exceptions=False)
    assert done.exit_code == status, done.output
    assert "Traceback" not in done.output
    return done


def refused(*words: str, status: int = 1) -> str:
    done = run(*words, status=status)
    assert done.stdout == ""
    return " ".join(done.stderr.split())


def eight_and_more(folder: Path, count: int, sensitivity: float = 0.06) -> None:
    coil = "kind: coil, resistance: 4 kΩ, inductance: 2 H, capacitance: 70 pF"
    rows = [f"  c{i}: {{{coil}, at: {40 + 9 * i} mm, sensitivity: {sensitivity}}}" for i in range(count)]
    joints = "  - [c0.start, output.tip]\n  - [c0.finish, output.sleeve]\n"
    text = "format: 1\nparts:\n" + "\n".join(rows) + "\n  output: {kind: jack}\njoints:\n" + joints
    (folder / "many.yaml").write_text(text, encoding="utf-8")


def model(take: str = "notes.yaml", wiring: str = "baritone.yaml", rate_hz: int = 48_000) -> np.ndarray:
    return np.concatenate(list(load_take(Path(take)).stems(load_wiring(Path(wiring)), rate_hz)), axis=1).T


# --- output


def test_flac_in_volts_a_channel_for_each_coil(folder: Path) -> None:
    done = run("notes.yaml", "baritone.yaml", "--out", "new/stems")
    path = folder / "new" / "stems" / "baritone-notes-stems.flac"
    info = soundfile.info(path)
    assert (info.format, info.subtype, info.channels, info.samplerate) == ("FLAC", "PCM_24", 4, 48_000)
    samples, _ = soundfile.read(path)
    np.testing.assert_allclose(samples, model(), atol=STEMS_24_BIT)
    assert np.max(np.abs(samples - model() * (1.0 + 1e-5))) > STEMS_24_BIT
    peaks = ", ".join(
        f"{n} {1e3 * p:.0f} mV" for n, p in zip(COILS, np.abs(model()).max(axis=0), strict=True)
    )
    assert f"0.9 s, peaks: {peaks}" in done.stdout
    assert "coil places: modelled" in done.stderr
    tags = read_tags(path, "flac")
    assert tags["coil_places"].startswith("modelled")
    assert "Two notes, 'quoted'" in tags["title"]


def test_the_take_file_beside_it_reads_the_same_stems(folder: Path) -> None:
    run("notes.yaml", "baritone.yaml")
    performance = load_take(folder / "baritone-notes-stems.yaml")
    assert performance.take.channels == tuple(COILS)
    assert performance.take.name == "Two notes, 'quoted', stems"
    np.testing.assert_allclose(model("baritone-notes-stems.yaml"), model(), atol=STEMS_24_BIT)


def test_clips_of_the_stems_are_those_of_the_score(folder: Path) -> None:
    """In float to the last bit; in FLAC to 24 bits of each coil."""
    run("notes.yaml", "fine.wav", "--wiring", "baritone.yaml")
    run("notes.yaml", "coarse.flac", "--wiring", "baritone.yaml")
    words = ["render", "baritone.yaml", "-p", "2", "--out", "clips"]
    for take in ("notes.yaml", "fine.yaml", "coarse.yaml"):
        words += ["--take", take]
    done = CliRunner().invoke(main, words, catch_exceptions=False)
    assert done.exit_code == 0, done.output
    direct, fine, coarse = (
        soundfile.read(f"clips/baritone-{name}-2.wav")[0] for name in ("notes", "fine", "coarse")
    )
    assert np.max(np.abs(direct)) > 0.02
    np.testing.assert_array_equal(fine, direct)
    np.testing.assert_allclose(coarse, direct, atol=8.0 * STEMS_24_BIT)  # two coils, a peak of up to 4
    assert np.any(coarse != direct)


@pytest.mark.parametrize("rate", ["44100", "96000"])
def test_other_rates_have_their_own_stems(folder: Path, rate: str) -> None:
    run("notes.yaml", "baritone.yaml", "--rate", rate)
    samples, rate_hz = soundfile.read("baritone-notes-stems.flac")
    assert rate_hz == int(rate)
    np.testing.assert_allclose(samples, model(rate_hz=rate_hz), atol=STEMS_24_BIT)


def test_more_than_a_volt_is_floating_point(folder: Path) -> None:
    eight_and_more(folder, 2, sensitivity=2.0)
    run("notes.yaml", "many.yaml")
    info = soundfile.info("many-notes-stems.wav")
    assert (info.format, info.subtype, info.channels) == ("WAV", "FLOAT", 2)
    samples, _ = soundfile.read("many-notes-stems.wav")
    assert np.max(np.abs(samples)) > 1.0
    np.testing.assert_array_equal(samples, model(wiring="many.yaml"))
    assert "a name that ends in .wav" in refused("notes.yaml", "x.flac", "--wiring", "many.yaml")
    assert not Path("x.flac").exists()
    assert not Path("x.yaml").exists()


@pytest.mark.parametrize(("count", "ending"), [(8, "flac"), (9, "wav")])
def test_eight_coils_are_what_flac_can_hold(folder: Path, count: int, ending: str) -> None:
    eight_and_more(folder, count)
    run("notes.yaml", "many.yaml")
    assert soundfile.info(f"many-notes-stems.{ending}").channels == count
    assert load_take(Path("many-notes-stems.yaml")).take.channels == tuple(f"c{i}" for i in range(count))
    np.testing.assert_allclose(model("many-notes-stems.yaml", "many.yaml"), model(wiring="many.yaml"),
                               atol=STEMS_24_BIT)  # fmt: skip


def test_names_of_ones_own(folder: Path) -> None:
    run("notes.yaml", "a folder/it's mine.WAV", "--wiring", "baritone.yaml")
    assert soundfile.info("a folder/it's mine.WAV").subtype == "FLOAT"
    np.testing.assert_array_equal(model("a folder/it's mine.yaml"), model())
    run("notes.yaml", "a folder/it's mine.WAV", "--wiring", "twelve.yaml")  # its own files are replaced
    assert load_take(Path("a folder/it's mine.yaml")).take.channels == ("neck", "bridge")


def test_a_recording_has_stems_too(folder: Path) -> None:
    soundfile.write("rec.wav", 0.5 * np.sin(np.arange(4800) / 9.0), 48_000, subtype="FLOAT")
    run("rec.wav", "twelve.yaml")
    samples, _ = soundfile.read("twelve-rec-stems.flac")
    np.testing.assert_allclose(samples, model("rec.wav", "twelve.yaml"), atol=STEMS_24_BIT)


# --- refusals


def test_a_sound_file_needs_a_wiring() -> None:
    assert "--wiring: got none" in refused("notes.yaml", "out.wav", status=2)
    said = refused("notes.yaml", "baritone.yaml", "--wiring", "baritone.yaml", status=2)
    assert "a name ending in .flac or .wav" in said
    assert not Path("out.wav").exists()


@pytest.mark.parametrize("name", ["notes", "baritone", "other"])
def test_no_input_file_is_overwritten(folder: Path, name: str) -> None:
    """The take file of a sound file named like the score would replace the score."""
    (folder / "other.yaml").write_text("# shopping\n- strings\n", encoding="utf-8")
    before = {path: path.read_bytes() for path in folder.iterdir()}
    said = refused("notes.yaml", f"{name}.wav", "--wiring", "baritone.yaml")
    assert f"{name}.yaml: got a file that is there already" in said
    assert {path: path.read_bytes() for path in folder.iterdir()} == before


@pytest.mark.parametrize("out", ["notes.yaml", "notes.yaml/deeper"])
def test_places_that_cannot_be_written(folder: Path, out: str) -> None:
    before = sorted(folder.iterdir())
    for words in (("baritone.yaml", "--out", out), (f"{out}/x.wav", "--wiring", "baritone.yaml")):
        said = refused("notes.yaml", *words)
        assert "allowed: a folder that can be made" in said or "allowed: a path in a folder" in said
        assert out in said
    assert sorted(folder.iterdir()) == before
    assert (folder / "notes.yaml").read_text("utf-8") == SCORE


def test_a_folder_in_the_files_place(folder: Path) -> None:
    (folder / "x.wav").mkdir()
    assert "x.wav" in refused("notes.yaml", "x.wav", "--wiring", "baritone.yaml")
    assert not (folder / "x.yaml").exists()


def test_files_that_are_not_takes_or_wirings(folder: Path) -> None:
    assert "gone.yaml" in refused("gone.yaml", "baritone.yaml")
    assert "gone.yaml" in refused("notes.yaml", "gone.yaml")
    (folder / "bad.yaml").write_text(SCORE.replace("fret: 3", "fret: 60"), encoding="utf-8")
    assert "bad.yaml:8: event: fret: got '60'" in refused("bad.yaml", "baritone.yaml")
    text = (folder / "baritone.yaml").read_text("utf-8").replace("at: 176 mm", "aperture: 9 mm")
    (folder / "nowhere.yaml").write_text(text, encoding="utf-8")
    said = refused("notes.yaml", "nowhere.yaml")
    assert "neck_a: got no at" in said
    assert said.count("no at") == 1
    assert not list(folder.glob("*.flac"))


def test_a_wiring_without_a_coil_is_refused(folder: Path) -> None:
    (folder / "none.yaml").write_text("format: 1\nparts:\n  output: {kind: jack}\n", encoding="utf-8")
    assert "coil" in refused("notes.yaml", "none.yaml")


def test_a_disk_that_fails_midway_is_an_error_of_the_place(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(jobs.tempfile, "TemporaryFile", full)
    with pytest.raises(InputError, match="No space left"):
        jobs.write_stems(load_take(Path("notes.yaml")), load_wiring(Path("baritone.yaml")), folder, 48_000)
    assert not list(folder.glob("*stems*"))


def test_progress_reaches_the_end(folder: Path) -> None:
    shares: list[float] = []
    take, wiring = load_take(Path("notes.yaml")), load_wiring(Path("baritone.yaml"))
    written = jobs.write_stems(take, wiring, folder, 48_000, progress=shares.append)
    assert shares == sorted(shares)
    assert shares[-1] == pytest.approx(1.0)
    assert written.seconds == pytest.approx(take.seconds, abs=1e-4)
    assert written.coils == tuple(COILS)


def test_notes_on_the_strings_are_printed(folder: Path) -> None:
    eight_and_more(folder, 1)
    done = run("notes.yaml", "many.yaml")
    assert "note: the wiring names no strings: E2 A2 D3 G3 B3 E4 on 648 mm are assumed" in done.stderr
