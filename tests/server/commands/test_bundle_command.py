"""`presolder bundle`: from a wiring file to a file, a ZIP, a folder."""

from __future__ import annotations

import re
import zipfile
from collections import Counter
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from places import DEMO
from score_text import EXACT, score_text

from server.cli import main


def bundle(*words: str | Path) -> Result:
    return CliRunner().invoke(main, ["bundle", *map(str, words)], catch_exceptions=False)


def test_a_wiring_file_becomes_a_proposal_that_can_be_saved_again(tmp_path: Path) -> None:
    data, page = ("--data", tmp_path / "data"), tmp_path / "sounds.html"
    take = ("--take", DEMO / "e_slide.yaml")
    result = bundle(
        DEMO / "baritone.yaml", *take, "-p", "3", "--set", "tone=5", "--title", "Yours", *data, "--out", page
    )
    assert result.exit_code == 0, result.output
    assert result.output == f"{page}: {page.stat().st_size / 1e6:.1f} MB\n"
    text = page.read_text("utf-8")
    assert "<title>Yours</title>" in text
    assert "tone at 5" in text
    listed = bundle("--list", *data).output.split()
    assert listed[2:] == ["Yours"]
    page.rename(tmp_path / "before.html")
    result = bundle(
        DEMO / "baritone.yaml", *take, "-p", "3", "--set", "tone=5", "--title", "Yours", *data, "--out", page
    )
    assert result.exit_code == 0, result.output
    assert page.read_bytes() == (tmp_path / "before.html").read_bytes(), "the same proposal"
    assert len(bundle("--list", *data).output.splitlines()) == 1
    assert '"ways":[{"name":"clean",' in text
    again = ("--proposal", listed[0], *data, "--out")
    assert bundle("--through", "edge", *again, tmp_path / "other.html").exit_code == 2
    bundle(*again, tmp_path / "sounds.zip")
    result = bundle(*again, tmp_path / "sounds")
    files = {path.relative_to(tmp_path / "sounds").as_posix() for path in (tmp_path / "sounds").rglob("*.*")}
    assert f"{len(files)} files" in result.stdout
    assert not result.stderr
    with zipfile.ZipFile(tmp_path / "sounds.zip") as zipped:
        assert set(zipped.namelist()) == files
        assert zipped.read("index.html") == (tmp_path / "sounds" / "index.html").read_bytes()
    kinds = Counter(found[1] for name in files if (found := re.search(r"\w\.([a-z]\w+)\.js$", name)))
    assert kinds == {"mp3": 1, "svg": 1, "json": 1, "model": 1, "flac": 2}, (
        "the page, and each piece's beginning"
    )


def test_another_way_to_hear_it_is_another_proposal_whose_page_says_so(tmp_path: Path) -> None:
    data, page = ("--data", tmp_path / "data"), tmp_path / "sounds.html"
    words = (DEMO / "baritone.yaml", "--take", DEMO / "e_slide.yaml", "-p", "3", *data, "--out", page)
    result = bundle(*words, "--through", "driven")
    assert result.exit_code == 0, result.output
    assert "through driven they turn by the link alone" in result.output
    assert '"ways":[{"name":"driven",' in page.read_text("utf-8")
    assert bundle(*words).exit_code == 0
    assert len(bundle("--list", *data).output.splitlines()) == 2


@pytest.mark.long
def test_a_take_that_lies_elsewhere_is_named_again_for_its_knobs(tmp_path: Path) -> None:
    score, data = tmp_path / "score.yaml", ("--data", tmp_path / "data")
    score.write_text(
        score_text(["beat: 0, string: 1, fret: 2, length: 0.5"], f"tail: 0.5 s\n{EXACT}"), "utf-8"
    )
    out = ("--out", tmp_path / "sounds.html")
    made = bundle(DEMO / "baritone.yaml", "--take", score, "-p", "3", *data, *out)
    assert made.exit_code == 0, made.output
    assert not made.stderr
    again = ("--proposal", bundle("--list", *data).output.split()[0], *data, *out)
    assert "The knobs do not turn with “Test”" in bundle(*again).stderr
    assert not bundle(*again, "--take", score).stderr


def test_wrong_usage_is_told(tmp_path: Path) -> None:
    take = ("--take", DEMO / "e_slide.yaml")
    for words, told in (
        ((), "one of a wiring file, --proposal and --list"),
        ((DEMO / "baritone.yaml", *take), "--out is missing"),
        ((DEMO / "baritone.yaml", "--out", "x"), "--take: allowed with a wiring file, and needed there"),
        (("--list", *take), "--take: allowed with a wiring file, and needed there"),
        (("--proposal", "x", "--out", "x", "--title", "y"), "--title: allowed with a wiring file only"),
    ):
        result = bundle(*words)
        assert result.exit_code == 2
        assert told in result.output


def test_what_is_no_take_and_no_proposal_is_told(tmp_path: Path) -> None:
    data = ("--data", tmp_path / "data", "--out", tmp_path / "x.html")
    result = bundle(DEMO / "baritone.yaml", "--take", DEMO / "baritone.yaml", *data)
    assert result.exit_code == 1
    assert "got no take" in result.output
    result = bundle("--proposal", "none", *data)
    assert result.exit_code == 1
    assert "the id of a proposal" in result.output
    assert not (tmp_path / "x.html").exists()
