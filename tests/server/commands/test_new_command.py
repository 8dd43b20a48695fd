"""`presolder new` as a person types it: a wiring from words, wired or sketched, and what it refuses."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from server.cli import main
from server.wirings.text import load_wiring


def run(*words: str) -> Result:
    return CliRunner().invoke(main, ["new", *words], catch_exceptions=False)


def test_a_layout_becomes_a_sketched_wiring(tmp_path: Path) -> None:
    file = tmp_path / "guitar.yaml"
    done = run(str(file), "--layout", "humbucker_two_singles", "--name", "Ours")
    assert done.exit_code == 0, done.output
    assert "  4  middle with bridge, one coil" in done.output
    assert f"presolder lugs {file} --order fixed --switch blade_5_four_pole" in done.output
    wiring = load_wiring(file)
    assert wiring.name == "Ours"
    assert list(wiring.labels.values())[-1] == "Bridge, both coils"
    assert wiring.sketch is not None


def test_words_become_a_wired_switch(tmp_path: Path) -> None:
    file = tmp_path / "two.yaml"
    words = ("--neck", "single", "--bridge", "single", "--switch", "toggle_3_selector", "--scale", "25.5 in")
    done = run(str(file), *words, "--wired")
    assert done.exit_code == 0, done.output
    assert "1 pole, 1 wire" in done.output
    wiring = load_wiring(file)
    assert wiring.sketch is None
    assert wiring.positions == ("1", "2", "3")
    assert wiring.instrument is not None
    assert wiring.instrument.scale_m == pytest.approx(0.6477)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--neck", "humbuker"), "did you mean 'humbucker'?"),
        ((), "a pickup at one place at least"),
        (("--neck", "single", "--sound", "bridge"), "sounds: got 'bridge'; allowed: neck"),
        (
            (
                "--layout", "one_humbucker", "--switch", "toggle_on_on", "--wired",
                "--sound", "bridge, both coils in parallel", "--sound", "bridge, both coils",
                "--sound", "bridge, one coil",
            ),
            "3 sounds for 2 positions; allowed: 2 at most; or one of these switches: toggle_3_selector",
        ),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_and_nothing_written(
    tmp_path: Path, words: tuple[str, ...], said: str
) -> None:
    file = tmp_path / "no.yaml"
    done = run(str(file), *words)
    assert done.exit_code == 1
    assert said in done.output
    assert not file.exists()


def test_a_file_that_exists_stays(tmp_path: Path) -> None:
    file = tmp_path / "mine.yaml"
    file.write_text("mine", encoding="utf-8")
    done = run(str(file), "--layout", "one_single")
    assert done.exit_code == 1
    assert "nothing is overwritten" in done.output
    assert file.read_text(encoding="utf-8") == "mine"
