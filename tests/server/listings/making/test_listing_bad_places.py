"""Unwritable places and odd names: clear messages, no partial files, mended by a new run."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner
from listing_case import MORE, catalogue, clips, content, run

from dsp.errors import InputError
from server.cli import main
from server.listings.making.folder import OWN

NAMES = [
    "it's",
    'a "b" c',
    "käfer Ω 漢字",
    "con",
    "-dash",
    "a&b<c>",
    "100%#?",
    "x" * 180,
    "émoji 🎸",
    " lead",
]


@pytest.mark.parametrize("jobs", ["1", "2"])
def test_a_file_where_the_folder_should_be(tmp_path, jobs):
    path = catalogue(tmp_path, instruments=1)
    (tmp_path / "out").write_text("in the way")
    done = CliRunner().invoke(main, ["listing", str(path), "--jobs", jobs])
    assert done.exit_code == 1
    assert f"{tmp_path / 'out' / OWN}: got " in done.stderr
    assert (tmp_path / "out").read_text() == "in the way"


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write anywhere")
def test_a_folder_that_may_not_be_written(tmp_path):
    path = catalogue(tmp_path, instruments=1)
    (tmp_path / "out").mkdir(mode=0o500)
    with pytest.raises(InputError, match="permission denied"):
        run(path)


def test_a_folder_that_cannot_be_written_by_anyone(tmp_path):
    """A file system of the kernel, which refuses the superuser too."""
    path = catalogue(tmp_path, instruments=1)
    path.write_text(path.read_text().replace("out: out", "out: /proc/presolder"))
    with pytest.raises(InputError, match="/proc/presolder"):
        run(path)


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """Mount a disk of 400 kB, where the system allows it."""
    place = tmp_path / "small"
    place.mkdir()
    words = ["mount", "-t", "tmpfs", "-o", "size=400k", "tmpfs", str(place)]
    if not shutil.which("mount") or subprocess.run(words, capture_output=True, check=False).returncode:
        pytest.skip("no disk can be mounted here")
    yield place
    subprocess.run(["umount", str(place)], check=True)


@pytest.mark.parametrize("jobs", ["1", "2"])
def test_a_full_disk_ends_the_run_and_more_room_lets_it_go_on(small_disk, tmp_path, jobs):
    path = catalogue(tmp_path, more=MORE, tail_s=1.0)
    path.write_text(path.read_text().replace("out: out", f"out: {small_disk}/out"))
    done = CliRunner().invoke(main, ["listing", str(path), "--jobs", jobs])
    assert done.exit_code == 1
    assert "room" in done.stderr
    assert "Traceback" not in done.output + done.stderr
    assert not list(small_disk.rglob("*.part"))
    subprocess.run(["mount", "-o", "remount,size=50m", str(small_disk)], check=True)
    assert CliRunner().invoke(main, ["listing", str(path), "--jobs", jobs]).exit_code == 0
    other = catalogue(tmp_path / "other", more=MORE, tail_s=1.0)
    run(other)
    assert content(small_disk / "out") == content(tmp_path / "other" / "out")


@pytest.mark.parametrize("name", NAMES)
def test_odd_names_of_wirings(tmp_path, name):
    """Spaces, quotes, any letters, long and reserved names give files that every system accepts."""
    path = catalogue(tmp_path, instruments=1, more="formats: [mp3]\npositions: [1]\nnames: '{wiring}'")
    wiring = tmp_path / "wirings" / "baritone_000.yaml"
    text = wiring.read_text().replace(
        "name: Baritone, two humbuckers, six-way rotary", f"name: {json.dumps(name, ensure_ascii=False)}"
    )
    wiring.unlink()
    (wiring.parent / f"{name[:100]}.yaml").write_text(
        text.replace("Neck, both coils in series", json.dumps(name, ensure_ascii=False)[1:-1])
    )
    report = run(path)
    (one,) = report.instruments
    assert one.name == name
    (entry,) = clips(tmp_path / "out", one.folder)
    for part in (one.folder, entry["file"]):
        assert not set(part) & set("<>:\"/\\|?*\x00\n'&% ")
        assert len(part.encode()) <= 130
        assert part.partition(".")[0].lower() != "con"
        assert not part.startswith(("-", "."))
    assert entry["wiring"] == name
    page = (tmp_path / "out" / one.folder / "index.html").read_text()
    assert "<c>" not in page
    index = (tmp_path / "out" / "index.html").read_text()
    assert "<c>" not in index


def test_a_name_that_would_break_out_of_the_page_is_shown_as_it_is(tmp_path):
    path = catalogue(tmp_path, instruments=1, more="formats: [mp3]\npositions: [1]")
    wiring = tmp_path / "wirings" / "baritone_000.yaml"
    hostile = "</script><script>alert(1)</script><!-- ${x} $title"
    wiring.write_text(
        wiring.read_text().replace(
            "name: Baritone, two humbuckers, six-way rotary", f"name: {json.dumps(hostile)}"
        )
    )
    run(path)
    page = (tmp_path / "out" / "baritone_000" / "index.html").read_text()
    assert page.count("<script>") == 1
    assert "alert(1)" in page  # shown, as text
    data = page.split('<script type="application/json" id="data">')[1].split("</script>")[0]
    assert json.loads(data)["instrument"] == hostile


@pytest.mark.parametrize("words", [[], ["--jobs", "0"], ["--jobs", "x"]])
def test_wrong_usage(words):
    assert CliRunner().invoke(main, ["listing", *words]).exit_code == 2


def test_a_listing_that_cannot_be_read(tmp_path):
    done = CliRunner().invoke(main, ["listing", str(tmp_path / "none.yaml")])
    assert done.exit_code == 1
    assert "none.yaml: got no such file" in done.stderr


def test_a_broken_wiring_makes_the_exit_status_one_and_the_rest_is_there(tmp_path):
    path = catalogue(tmp_path, instruments=1, more="formats: [mp3]\npositions: [1]")
    (tmp_path / "wirings" / "broken.yaml").write_text("format: 1\n")
    done = CliRunner().invoke(main, ["listing", str(path), "--jobs", "1"])
    assert done.exit_code == 1
    assert "broken.yaml: failed" in done.stderr
    assert "1 instrument, 1 file; 1 instrument failed" in done.stdout
    assert "\r" not in done.output  # no bar where there is no terminal


def test_json_lines(tmp_path):
    path = catalogue(tmp_path, instruments=2, more="formats: [mp3]\npositions: [1]")
    done = CliRunner().invoke(main, ["listing", str(path), "--jobs", "1", "--json"])
    events = [json.loads(line) for line in done.stdout.splitlines()]
    assert [event["event"] for event in events if event["event"] != "progress"] == [
        "start", "instrument", "instrument", "end"
    ]  # fmt: skip
    shares = [event["share"] for event in events if event["event"] == "progress"]
    assert shares == sorted(shares)
    assert shares[-1] == 1.0
    moving = [event for event in events if event["event"] == "progress"]
    assert moving[0]["times_real_time"] > 0.0
    assert moving[0]["remaining_s"] >= 0.0
    assert moving[-1]["remaining_s"] == 0.0
