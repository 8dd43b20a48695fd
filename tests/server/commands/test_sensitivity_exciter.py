"""`presolder sensitivity --exciter`: recordings by a rig of its own, values, signs, and refusals in words."""

from __future__ import annotations

import json
import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import soundfile
from click.testing import CliRunner, Result
from exciter_rig import COILS, MUTUAL_H, TEXT, Guitar, record
from rig import RATE_HZ

from server.cli import main
from server.verifying.excited import windings_lines
from server.wirings.text import load_wiring

NOTES = ("B1", "E2", "A2", "D3", "F#3", "B3")
MORE_DB = {"6": 1.5, "1": -1.5}
"""Balance of the bridge at its lowest and its highest string."""
ROWS = (
    "neck,,1,neck1.wav", "neck,,2,neck2.wav", "bridge,,2,bridge2.wav", "bridge,,3,bridge3.wav",
    "bridge,6,3,pole6.wav", "bridge,1,3,pole1.wav",
)  # fmt: skip
RATIO_DB = 20 * np.log10(MUTUAL_H["bridge"] / MUTUAL_H["neck"])


def built() -> Guitar:
    """A guitar whose parts are not the file's: R, L, pot and cable within their tolerances."""
    coils = {
        name: (
            ohm * (1.04 if name == "neck" else 0.97),
            henry * (0.95 if name == "neck" else 1.06),
            farad,
            way,
        )
        for name, (ohm, henry, farad, way) in COILS.items()
    }
    return Guitar(coils, 230e3, cable_f=600e-12)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Make a wiring and its recordings: both coils, two poles, and what cannot be read."""
    folder = tmp_path_factory.mktemp("exciter")
    (folder / "guitar.yaml").write_text(TEXT, encoding="utf-8")
    guitar = built()
    for seed, (coil, at) in enumerate([("neck", "1"), ("neck", "2"), ("bridge", "2"), ("bridge", "3")]):
        write(folder / f"{coil}{at}.wav", record(coil, at, seed, guitar=guitar))
        turned = record(coil, at, seed, guitar=guitar, swapped="bridge")
        write(folder / f"turned_{coil}{at}.wav", turned)
    for string, db in MORE_DB.items():
        mutual_h = 0.3 * MUTUAL_H["bridge"] * 10 ** (db / 20)
        write(folder / f"pole{string}.wav", record("bridge", "3", 9, guitar=guitar, mutual_h=mutual_h))
    good = soundfile.read(folder / "neck1.wav")[0].T
    write(folder / "mono.wav", good[:1])
    write(folder / "swapped.wav", good[::-1])
    write(folder / "silent.wav", np.array([good[0], 0.0 * good[0]]))
    write(folder / "hum.wav", np.array([good[0], 0.01 * np.sin(0.0065 * np.arange(good.shape[1]))]))
    write(folder / "unfed.wav", np.array([0.0 * good[0], good[1]]))
    write(folder / "short.wav", good[:, : 2 * RATE_HZ])
    table(folder / "over.csv")
    return folder


def write(path: Path, samples: np.ndarray) -> None:
    soundfile.write(path, samples.T, RATE_HZ, subtype="PCM_24")


def table(path: Path, rows: tuple[str, ...] = ROWS) -> Path:
    path.write_text("\n".join(["coil,string,setting,recording", *rows, ""]), encoding="utf-8")
    return path


def call(folder: Path, *options: str, name: str = "over.csv") -> Result:
    words = ["sensitivity", str(folder / "guitar.yaml"), "--exciter", str(folder / name), *options]
    return CliRunner().invoke(main, words)


def test_values_and_signs_are_found_and_written(made: Path, tmp_path: Path) -> None:
    out = tmp_path / "out.yaml"
    shutil.copy(made / "guitar.yaml", out)
    done = call(made, "--json", "--reference", "neck", "--like-magnets", "--out", str(out),
                "--blade", "neck=-", "--blade", "bridge=-")  # fmt: skip
    assert done.exit_code == 0, done.output
    found = json.loads(done.output)
    (coil,) = found["coils"]
    assert (coil["coil"], coil["told"], found["fits"]) == ("bridge", True, True)
    assert coil["ratio_db"] == pytest.approx(RATIO_DB, abs=0.7), "parts off by tolerance move it little"
    assert coil["ratio_db"] != pytest.approx(0.0, abs=0.7), "the twin: like coils"
    low, high = coil["interval"]
    assert low < 0.055 * MUTUAL_H["bridge"] / MUTUAL_H["neck"] < high
    balance = {str(one["string"]): one["change_db"] for one in coil["balance"]}
    assert balance == pytest.approx(MORE_DB, abs=0.1)
    assert (coil["winding"], coil["magnet"]) == ("as the file says", "as the file says")
    (pair,) = found["polarities"]
    assert (pair["setting"], pair["wired"], pair["heard"]) == ("2", "in phase", "in phase")
    assert any("not the magnet" in one for one in found["notes"])
    told = "\n".join(windings_lines(found))
    assert told.startswith("Heed:")
    assert "    string 6  +1.5" in told
    assert "winding with its leads against neck: as the file says" in told
    text = out.read_text(encoding="utf-8")
    assert "exciter over each coil, magnets taken as alike, against neck" in text
    assert load_wiring(out).coils["bridge"].sensitivity == pytest.approx(coil["sensitivity"], rel=5e-3)
    assert load_wiring(out).coils["neck"] == load_wiring(made / "guitar.yaml").coils["neck"]


def test_the_poles_of_the_reference_are_told_and_its_sensitivity_stays(made: Path, tmp_path: Path) -> None:
    six = "  strings: [" + ", ".join(f"{{note: {note}, gauge: 0.02 in}}" for note in NOTES) + "]\n"
    head = TEXT.replace("parts:", f"instrument:\n  scale: 686 mm\n{six}parts:", 1)
    head = head.replace("magnet: south", "magnet: south, sensitivity: 0.054321")
    for name in ("guitar.yaml", "out.yaml"):
        (tmp_path / name).write_text(head, encoding="utf-8")
    for name in ("pole6.wav", "pole1.wav"):
        shutil.copy(made / name, tmp_path)
    table(tmp_path / "over.csv", ROWS[4:])
    done = call(tmp_path, "--like-magnets", "--out", str(tmp_path / "out.yaml"))
    assert done.exit_code == 0, done.output
    assert "the others are held to it" in done.output
    was, now = (load_wiring(tmp_path / name).coils["bridge"] for name in ("guitar.yaml", "out.yaml"))
    assert now == replace(was, string_balance_db=now.string_balance_db)
    assert now.string_balance_db[0] == pytest.approx(1.5, abs=0.11)
    assert now.string_balance_db[-1] == pytest.approx(-1.5, abs=0.11)
    assert "balance of its strings alone" in (tmp_path / "out.yaml").read_text(encoding="utf-8")


def test_leads_exchanged_and_a_magnet_turned_are_told_apart(made: Path) -> None:
    rows = [row.rpartition(",") for row in ROWS[:4]]
    table(made / "turned.csv", tuple(f"{row},turned_{file}" for row, _, file in rows))
    leads = call(made, "--json", "--blade", "neck=+", "--blade", "bridge=-", name="turned.csv")
    assert leads.exit_code == 1
    (coil,) = json.loads(leads.output)["coils"]
    assert (coil["winding"], coil["magnet"]) == ("turned", "as the file says")
    (pair,) = json.loads(leads.output)["polarities"]
    assert (pair["wired"], pair["heard"]) == ("in phase", "out of phase")
    magnet = call(made, "--json", "--reference", "neck", "--blade", "neck=+", "--blade", "bridge=-")
    assert magnet.exit_code == 1
    assert json.loads(magnet.output)["coils"][0]["winding"] == "as the file says"
    assert json.loads(magnet.output)["coils"][0]["magnet"] == "turned"
    alone = call(made, name="turned.csv")
    assert alone.exit_code == 1
    assert "nobody knows which" in alone.output
    assert "strings over neck and bridge at 2: not told; the file says in phase" in alone.output
    free = call(made, "--sides", "free", name="turned.csv")
    assert free.exit_code == 0, "without its side kept no sign is told"
    assert "The side of the exciter was not kept" in free.output


def test_recordings_that_do_not_agree_are_named(made: Path) -> None:
    table(made / "named.csv", (ROWS[0], "neck,,2,neck1.wav", *ROWS[2:4]))
    done = call(made, "--reference", "bridge", name="named.csv")
    assert done.exit_code == 1
    assert "neck          not told: its recordings do not agree" in done.output
    assert "Recordings of neck do not agree" in done.output


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("middle,,2,neck2.wav", "coil 'middle'; allowed: neck, bridge"),
        ("neck,9,2,neck2.wav", "string '9'; allowed: 1, the highest, to 6"),
        ("neck,,9,neck2.wav", "9"),
        ("neck,,2 volume=3,neck2.wav", "all knobs at 10"),
        ("neck,,3,neck2.wav", "neck at 3, where it does not reach the jack; allowed: 1 or 2"),
        ("neck,2,neck2.wav", "3 column(s); allowed: four"),
        ("neck,,2,mono.wav", "one channel; allowed: two channels"),
        ("neck,,2,swapped.wav", "are the two inputs exchanged?"),
        ("neck,,2,silent.wav", "channel 2: nothing of the exciter"),
        ("neck,,2,hum.wav", "channel 2: nothing of the exciter"),
        ("neck,,2,unfed.wav", "channel 1: silence"),
        ("neck,,2,short.wav", "s of sound; allowed: at least 4 s"),
        ("neck,,2,nothing.wav", "no such file"),
    ],
)
def test_what_cannot_be_read_is_refused_in_words(made: Path, row: str, words: str) -> None:
    table(made / "wrong.csv", (ROWS[3], row))
    done = call(made, name="wrong.csv")
    assert done.exit_code == 1
    assert words in done.output, done.output
    assert "wrong.csv:3" in done.output
    assert "Traceback" not in done.output


@pytest.mark.parametrize(
    ("rows", "words"),
    [((), "no recording in any row"), (ROWS[:1], "neck alone; allowed: two coils, or two poles of one")],
)
def test_a_table_that_compares_nothing_is_refused(made: Path, rows: tuple[str, ...], words: str) -> None:
    table(made / "few.csv", rows)
    done = call(made, name="few.csv")
    assert done.exit_code == 1
    assert words in done.output


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--out", "guitar.yaml"), "an exciter hears no magnet; allowed with --like-magnets"),
        (("--blade", "middle=+"), "allowed: neck, bridge"),
        (("--blade", "neck"), "neck=+ or neck=-"),
        (("--frets", "0 0 0 0 0 0"), "allowed without plucked recordings and --frets"),
    ],
)
def test_wrong_options_are_refused(
    made: Path, options: tuple[str, ...], words: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(made)
    done = call(made, *options)
    assert done.exit_code == 2
    assert words in " ".join(done.output.replace("│", " ").split())


def test_options_of_an_exciter_need_its_table(made: Path) -> None:
    done = CliRunner().invoke(main, ["sensitivity", str(made / "guitar.yaml"), "--blade", "neck=+"])
    assert done.exit_code == 2
    assert "allowed with --exciter TABLE" in " ".join(done.output.split())


def test_the_plan_says_where_each_coil_reaches_the_jack(made: Path) -> None:
    words = ["sensitivity", str(made / "guitar.yaml")]
    done = CliRunner().invoke(main, words)
    assert "  over neck at 1" in done.output
    assert "  over bridge at 3" in done.output
    assert "without it the output drives a short circuit" in done.output
    plan = json.loads(CliRunner().invoke(main, [*words, "--json"]).output)["exciter"]
    assert plan["coils"] == [{"coil": "neck", "setting": "1"}, {"coil": "bridge", "setting": "3"}]
