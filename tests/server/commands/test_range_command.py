"""`presolder range` and `presolder travel` as a technician uses them."""

from __future__ import annotations

import json
import re
from pathlib import Path
from xml.etree import ElementTree

import pytest
from click.testing import CliRunner, Result
from first_set import answer_poorly_first
from places import DEMO

from dsp.knobs import goal_search
from dsp.knobs.goal_networks import goal_networks
from dsp.parts.expression import format_expression
from dsp.sounds.candidates import find_candidates
from dsp.sounds.rules import SetRules
from server.cli import main
from server.wirings.text import load_wiring

SKETCH = str(DEMO / "baritone_sketch.yaml")


def run(*words: str) -> Result:
    return CliRunner().invoke(main, words, catch_exceptions=False)


def test_the_best_positions_with_their_proof() -> None:
    done = run("range", SKETCH, "-n", "5", "--quiet", "3", "--in-phase", "--json")
    assert done.exit_code == 0, done.output
    message = json.loads(done.stdout)
    assert message["proved"]
    assert message["distance_db"] == message["bound_db"]
    assert message["sounds"] == 572
    rows = message["positions"]
    assert len(rows) == 5
    assert sum(row["hum_residual_db"] <= -15.0 for row in rows) >= 3
    assert not any(row["opposed"] for row in rows)
    brightness = [row["brightness_hz"] for row in rows]
    assert brightness == sorted(brightness)
    assert all(500.0 < row["resonance_hz"] < 12_000.0 for row in rows)


@pytest.mark.parametrize("count", [3, 5, 6])
def test_no_set_listed_below_the_best_is_better(count: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """A set found without one of the first answer's positions is better: it comes first."""
    found = find_candidates(load_wiring(Path(SKETCH)))
    best, poor = answer_poorly_first(monkeypatch, found, SetRules(count))
    assert poor.distance_db < best.distance_db - 0.05
    message = json.loads(run("range", SKETCH, "-n", str(count), "--json").stdout)
    assert message["distance_db"] == pytest.approx(best.distance_db, abs=0.005)
    assert all(one["distance_db"] <= message["distance_db"] for one in message["alternatives"])
    assert message["bound_db"] >= message["distance_db"]


def test_words_and_a_pin() -> None:
    done = run("range", SKETCH, "-n", "4", "--pin", "bridge_b + bridge_a", "--order", "near")
    assert done.exit_code == 0, done.output
    assert "bridge_a + bridge_b" in done.stdout
    assert "proved best" in done.stdout
    assert re.search(
        r"positions \d and \d are most alike: [\d.]+ dB in the band that differs most: heard", done.stdout
    )
    assert "hum cancels: -15 dB or less of the coils' hum is left" in done.stdout
    assert "Hum cancels if -15 dB or less of it is left" in " ".join(run("range", "--help").stdout.split())


def test_a_favoured_sound_comes_in_and_an_excluded_one_stays_out() -> None:
    plain = json.loads(run("range", SKETCH, "-n", "3", "--json").stdout)
    taken = [row["expression"] for row in plain["positions"]]
    without = json.loads(run("range", SKETCH, "-n", "3", "--leave-out", taken[0], "--json").stdout)
    assert taken[0] not in [row["expression"] for row in without["positions"]]
    assert without["proved"]
    assert without["distance_db"] <= plain["distance_db"]
    wish = "neck_a + neck_b"
    assert wish not in taken
    message = json.loads(run("range", SKETCH, "-n", "3", "--favour", f"{wish}=4", "--json").stdout)
    assert wish in [row["expression"] for row in message["positions"]]


@pytest.mark.parametrize("favour", ["neck_a", "neck_a=", "neck_a=much", "neck_a=0", "a=nan", "neck_a=11"])
def test_a_favour_that_makes_no_sense_is_refused(favour: str) -> None:
    done = run("range", SKETCH, "--favour", favour)
    assert done.exit_code == 2
    assert "0.1 to 10" in done.output


def test_a_map_and_a_wiring_to_go_on_with(tmp_path: Path) -> None:
    svg, out = tmp_path / "map.svg", tmp_path / "best.yaml"
    done = run(
        "range",
        SKETCH,
        "-n",
        "3",
        "--coil",
        "neck_a",
        "--coil",
        "bridge_a",
        "--svg",
        str(svg),
        "--out",
        str(out),
    )
    assert done.exit_code == 0, done.output
    root = ElementTree.fromstring(svg.read_text(encoding="utf-8"))
    dots = [
        one
        for one in root.iter("{http://www.w3.org/2000/svg}circle")
        if one.get("class") in ("quiet", "hums")
    ]
    assert len(dots) == 6
    assert load_wiring(out).positions == ("1", "2", "3")
    assert "# The baritone before its switch" in out.read_text(encoding="utf-8"), "comments are kept"
    assert run("check", str(out)).exit_code == 0


def test_a_take_to_judge_by() -> None:
    by_notes = json.loads(run("range", SKETCH, "-n", "3", "--json").stdout)
    by_take = json.loads(
        run("range", SKETCH, "-n", "3", "--json", "--take", str(DEMO / "low_riff.yaml")).stdout
    )
    assert by_take["proved"]
    assert by_take["distance_db"] != by_notes["distance_db"]


@pytest.mark.long
def test_the_best_on_a_switch_goes_on_to_its_lug_chart(tmp_path: Path) -> None:
    out = tmp_path / "best.yaml"
    words = (
        "-n",
        "5",
        "--quiet",
        "2",
        "--in-phase",
        "--switch",
        "blade_5_four_pole",
        "--out",
        str(out),
        "--time",
        "120",
    )
    done = run("range", SKETCH, *words)
    assert done.exit_code == 0, done.output
    assert "proved best" in done.stdout
    assert "hum cancels: -15 dB or less of the coils' hum is left" in done.stdout
    assert "Hum cancels if -15 dB or less of it is left" in " ".join(run("range", "--help").stdout.split())
    charted = run("lugs", str(out), "--switch", "blade_5_four_pole", "--out", str(tmp_path / "chart"))
    assert charted.exit_code == 0, charted.output
    assert run("check", str(next((tmp_path / "chart").glob("*.yaml")))).exit_code == 0


def test_a_switch_that_cannot(tmp_path: Path) -> None:
    done = run("range", SKETCH, "-n", "5", "--switch", "toggle_on_on", "--time", "2")
    assert done.exit_code == 1
    assert "up to the 2 positions" in done.output


@pytest.mark.parametrize(
    ("words", "status", "message"),
    [
        ((str(DEMO / "baritone.yaml"),), 1, "selector: got a switch; allowed: a sketch"),
        ((SKETCH, "-n", "0"), 1, "1 to 572"),
        ((SKETCH, "-n", "3", "--quiet", "four"), 2, "a whole number, a share such as 60 %, or all"),
        ((SKETCH, "-n", "3", "--quiet", "4"), 1, "at most the 3 positions"),
        ((SKETCH, "--coil", "neck"), 2, "did you mean 'neck_"),
        ((SKETCH, "--in-phase-positions", "most"), 2, "a share such as 60 %"),
        ((SKETCH, "--at", "neck_a"), 2, "a position, = and an expression"),
        ((SKETCH, "-n", "3", "--at", "4=neck_a"), 1, "a position, 1 to 3"),
        ((SKETCH, "--step", "-1"), 2, "0.0"),
        ((SKETCH, "-n", "3", "--keep-order", "--order", "near"), 1, "depends on the set"),
        ((SKETCH, "--pin", "neck_a + nowhere"), 1, "'nowhere'"),
        ((SKETCH, "--extra", "volume"), 1, "capacitor, resistor or inductor"),
        ((SKETCH, "--extra", "nothing"), 1, "'nothing'"),
        ((SKETCH, "--out", SKETCH), 1, "another name"),
    ],
)
def test_impossible_searches_are_refused(words: tuple[str, ...], status: int, message: str) -> None:
    done = run("range", *words)
    assert done.exit_code == status, done.output
    assert message in done.output


def test_too_many_coils(tmp_path: Path) -> None:
    text = (DEMO / "baritone_sketch.yaml").read_text(encoding="utf-8")
    more = "".join(
        f"  more_{i}: {{kind: coil, resistance: 5 kΩ, inductance: 3 H, capacitance: 90 pF, at: 9{i} mm}}\n"
        for i in range(3)
    )
    path = tmp_path / "seven.yaml"
    path.write_text(text.replace("  bass_cut:", f"{more}  bass_cut:"), encoding="utf-8")
    done = run("range", str(path))
    assert done.exit_code == 1
    assert "1 to 6 coils" in done.output


def test_travel_of_every_knob() -> None:
    done = run("travel", str(DEMO / "baritone.yaml"), "-p", "1", "--json")
    assert done.exit_code == 0, done.output
    travels = json.loads(done.stdout)["travels"]
    assert [one["knob"] for one in travels] == ["volume", "tone"]
    assert all(0.0 < one["evenness"] <= 1.0 and len(one["step_db"]) == 20 for one in travels)
    assert "advice" not in travels[0]


def test_advice_for_one_knob() -> None:
    done = run("travel", str(DEMO / "twelve.yaml"), "-p", "3", "--knob", "tone", "--capacitor", "tone_cap")
    assert done.exit_code == 0, done.output
    assert "tone_cap.capacitance = 10 nF" in done.stdout
    assert "lug 3" not in done.stdout, "a tone knob has no treble to keep"
    volume = run("travel", str(DEMO / "baritone.yaml"), "-p", "1", "--knob", "volume")
    assert "lug 3 to wiper" in volume.stdout


def test_unknown_names_are_refused() -> None:
    assert "did you mean 'tone'" in run("travel", SKETCH, "--knob", "tome").output
    assert run("travel", SKETCH, "--knob", "tome").exit_code == 2


@pytest.mark.long
def test_networks_for_a_tone_knob_and_one_of_them_written(tmp_path: Path) -> None:
    out = tmp_path / "other.yaml"
    words = ("travel", str(DEMO / "baritone.yaml"), "-p", "5", "--knob", "tone")
    done = run(*words, "--json", "--choose", "3", "--out", str(out))
    assert done.exit_code == 0, done.output
    (one,) = json.loads(done.stdout)["travels"]
    rows = one["networks"]
    front = [row for row in rows if row["unbeaten"]]
    assert [row["width_db"] for row in front] == sorted((row["width_db"] for row in front), reverse=True)
    assert [row["evenness"] for row in front] == sorted(row["evenness"] for row in front)
    assert all(row["edit"] for row in rows)
    (again,) = json.loads(run("travel", str(out), "-p", "5", "--knob", "tone", "--json").stdout)["travels"]
    assert (again["width_db"], again["evenness"]) == (rows[2]["width_db"], rows[2]["evenness"])
    said = run(*words).stdout
    assert "no other beats these in both" in said
    assert "most even: " in said
    assert "solder tone.2 to volume.3 (with selector.A0)" in said


@pytest.fixture
def few_networks(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every twelfth network is enough to see what the command prints and writes."""
    monkeypatch.setattr(goal_search, "goal_networks", lambda *words: list(goal_networks(*words))[::12])


@pytest.mark.usefixtures("few_networks")
@pytest.mark.long
def test_networks_that_lead_to_another_sound(tmp_path: Path) -> None:
    out = tmp_path / "thin.yaml"
    words = (
        "travel",
        SKETCH,
        "-p",
        "1",
        "--to",
        "thin",
        "--at-least",
        "2",
        "--within",
        "12",
        "--evenness",
        "0.5",
    )
    done = run(*words, "--json", "--choose", "1", "--out", str(out), "--knob", "tone")
    assert done.exit_code == 0, done.output
    (one,) = json.loads(done.stdout)["travels"]
    rows = one["goal"]["candidates"]
    assert rows
    assert all(row["meets"] and row["change_db"] >= 2.0 and row["bass_db"] <= -1.0 for row in rows)
    assert {other["position"] for other in rows[0]["elsewhere"]} == set(
        load_wiring(Path(SKETCH)).positions
    ) - {"1"}
    (again,) = json.loads(run("travel", str(out), "-p", "1", "--knob", "tone", "--json").stdout)["travels"]
    assert (again["width_db"], again["evenness"]) == (rows[0]["width_db"], rows[0]["evenness"])
    said = run(*words).stdout
    assert "every value of the lists computed" in said
    assert "today's sound at " in said
    volume = run("travel", SKETCH, "-p", "1", "--knob", "volume", "--to", "quieter", "--at-least", "9").stdout
    assert "level to silence" in volume
    assert "bass" not in volume, "of silence nothing is said"
    assert "re the total; level " in said


@pytest.mark.usefixtures("few_networks")
def test_a_goal_that_nothing_meets_shows_the_nearest() -> None:
    done = run("travel", SKETCH, "-p", "1", "--knob", "tone", "--to", "dark", "--at-least", "50")
    assert done.exit_code == 0, done.output
    assert "none meets it; the nearest that lead there:" in done.stdout


@pytest.mark.parametrize(
    ("options", "message"),
    [
        (("--to", "thinn"), "did you mean 'thin'"),
        (("--to", "thin", "--within", "-1"), "within: got -1 dB"),
        (("--to", "dark", "--to", "clear"), "exclude"),
        (("--to", "thin", "--knob", "tome"), "did you mean 'tone'"),
    ],
)
def test_goals_that_cannot_be_searched(options: tuple[str, ...], message: str) -> None:
    done = run("travel", SKETCH, "-p", "1", *options)
    assert done.exit_code in (1, 2)
    assert message in done.output


@pytest.mark.parametrize(
    ("options", "message"),
    [
        (("--choose", "1"), "--choose and --out go together"),
        (("--choose", "99", "--out", "x.yaml", "-p", "5", "--knob", "tone"), "allowed: 1 to"),
        (("--choose", "1", "--out", "x.yaml"), "name one --position and one --knob"),
        (
            ("--choose", "1", "--out", str(DEMO / "baritone.yaml"), "-p", "5", "--knob", "tone"),
            "another name",
        ),
    ],
)
def test_changes_that_cannot_be_written(options: tuple[str, ...], message: str) -> None:
    done = run("travel", str(DEMO / "baritone.yaml"), *options)
    assert done.exit_code == 2
    assert message in done.output


def test_the_best_on_two_switches() -> None:
    words = ("-n", "4", "--coil", "neck_a", "--coil", "bridge_b", "--json")
    switches = ("--switch", "toggle_on_on", "--switch", "push_pull")
    done = run("range", SKETCH, *words, *switches)
    assert done.exit_code == 0, done.output
    assert "presolder lugs FILE --switch toggle_on_on --switch push_pull" in done.stderr
    alone = run("range", SKETCH, *words)
    assert json.loads(done.stdout)["distance_db"] <= json.loads(alone.stdout)["distance_db"]
    assert run("range", SKETCH, *words, "--switch", "toggle_on_on").exit_code == 1, "two positions"
    many = run("range", SKETCH, *words, "--switch", "rotary_12_one_pole", "--switch", "toggle_3_selector")
    assert "up to 24 combinations" in many.output


def test_a_sound_keeps_its_label_in_the_file_that_is_written(tmp_path: Path) -> None:
    """Written in another order and turned round, it is the same sound."""
    text = Path(SKETCH).read_text(encoding="utf-8").replace("2: neck_a + neck_b\n", "2: -neck_b + -neck_a\n")
    named = tmp_path / "named.yaml"
    named.write_text(text.replace("2: Neck in series", "2: 'The neck: whole'"), encoding="utf-8")
    pins = ["--pin", "neck_a + neck_b"]
    done = run("range", str(named), "-n", "3", *pins, "--out", str(tmp_path / "out.yaml"))
    assert done.exit_code == 0, done.output
    after = load_wiring(tmp_path / "out.yaml")
    assert after.sketch is not None
    texts = {format_expression(one): position for position, one in after.sketch.positions.items()}
    assert after.labels == {texts["neck_a + neck_b"]: "The neck: whole"}
