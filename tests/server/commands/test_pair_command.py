"""`presolder pair` as a technician uses it, and the same on the page."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner, Result
from places import DEMO

from server.cli import main

BARITONE, TWELVE = str(DEMO / "baritone.yaml"), str(DEMO / "twelve.yaml")


def run(*words: str) -> Result:
    return CliRunner().invoke(main, ["pair", *words], catch_exceptions=False)


def test_it_tells_each_volume_and_the_best_one() -> None:
    done = run(TWELVE, "-p", "3")
    assert done.exit_code == 0, done.output
    head, *rows = done.stdout.splitlines()
    assert head.startswith("position 3  Tone travels widest with volume at 10, and most evenly too: ")
    assert [row.split()[1] for row in rows] == [str(n) for n in range(10, 0, -1)]
    assert rows[0].endswith("changed by 0.0 dB   widest, most even")
    assert "level   -6.1 dB" in rows[3]
    assert [one for one in rows if "widest" in one] == rows[:1]


def test_json_has_every_place() -> None:
    done = run(BARITONE, "--first", "tone", "--within", "3", "--json")
    found = json.loads(done.stdout)["pairs"]
    assert [one["position"] for one in found] == list("123456")
    one = found[0]
    assert one["knobs"] == ["tone", "volume"]
    assert one["within_db"] == 3.0
    assert one["distance_db"][20][20] == one["level_db"][20][20] == 0.0
    assert one["level_db"][20][0] is None, "the second knob is the volume here"
    assert len(one["rows"]) == len(one["values"]) == 21


def test_a_search_names_what_keeps_the_tone_and_what_alters_it() -> None:
    said = run(TWELVE, "-p", "3", "--search").stdout
    kept, _, more = said.partition("it does most else with:")
    assert "changes tried; as it is, volume turned down changes what tone does by 1.7 dB" in kept
    assert "tone stays most as it is with:" in kept
    assert "    tone at the wiper of volume: " in more
    assert "unsolder tone.2; solder tone.2 to volume.2" in more
    other = run(TWELVE, "-p", "3", "--first", "tone", "--second", "volume", "--search")
    assert other.stdout.endswith("nothing to try: tone is no volume, with a wiper between its ends\n")
    (one,) = json.loads(run(TWELVE, "-p", "3", "--search", "--json").stdout)["pairs"]
    within = [row["changed_db"] for row in one["rows"] if row["level_db"] >= -12.0]
    assert one["changed_db"] == max(within)
    assert [way["changed_db"] for way in one["ways"]] == sorted(way["changed_db"] for way in one["ways"])


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--first", "tome"), "did you mean 'tone'"),
        (("--first", "tone", "--second", "tone"), "two different knobs"),
        (("--within", "-1"), "allowed: 0 to 60 (dB)"),
        (("-p", "9"), "position"),
    ],
)
def test_what_cannot_be_asked(words: tuple[str, ...], said: str) -> None:
    done = run(BARITONE, *words)
    assert done.exit_code != 0
    assert said in done.output
