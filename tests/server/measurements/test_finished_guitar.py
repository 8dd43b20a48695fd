"""The commands expect and jack as a technician calls them."""

from __future__ import annotations

import csv
import json
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest
import soundfile
from click.testing import CliRunner, Result
from places import DEMO
from rig import RATE_HZ, Rig, opened, resistor, shorted

from dsp.checking.book import Book, read
from dsp.checking.directions import find_directions
from dsp.checking.faults import find_faults
from dsp.checking.readings_text import Reading
from dsp.checking.symptoms import ear_settings
from dsp.circuit.response import respond
from dsp.measuring.tone import make_tone
from dsp.parts.load import Load
from dsp.wiring.model import Wiring
from server.cli import main
from server.measurements.rig import CAUTIONS
from server.searches.fault_book import ROOMS, open_book
from server.wirings.text import load_wiring

FILE = str(DEMO / "twelve.yaml")


def call(*words: str) -> Result:
    return CliRunner().invoke(main, list(words))


def test_what_to_read_is_printed_below_the_cautions() -> None:
    done = call("expect", FILE)
    assert done.exit_code == 0, done.output
    lines = done.output.splitlines()
    assert [line.strip() for line in lines[1 : 1 + len(CAUTIONS)]] == list(CAUTIONS)
    assert "2   Neck and bridge in parallel" in lines
    assert "makers' sheets" in done.output


def test_the_numbers_are_those_of_the_lines() -> None:
    record = json.loads(call("expect", FILE, "--json").output)
    assert record["cautions"] == list(CAUTIONS)
    first = record["readings"][0]
    assert (first["setting"], first["what"], first["frequency_hz"]) == ("1", "meter", None)
    assert first["low_ohm"] < first["typical_ohm"] < first["high_ohm"]
    assert first["typical_ohm"] == pytest.approx(5900 * 250e3 / 255.9e3, rel=0.01)  # beside the volume


def test_the_form_is_filled_in_and_judged(tmp_path: Path) -> None:
    form = tmp_path / "readings.csv"
    assert call("expect", FILE, "--form", str(form)).exit_code == 0
    again = call("expect", FILE, "--form", str(form))
    assert again.exit_code == 1
    assert "readings in it would be lost" in again.stderr
    expected = json.loads(call("expect", FILE, "--json").output)["readings"]
    typical = {one["setting"]: one["typical_ohm"] for one in expected if one["what"] == "meter"}
    rows = list(csv.reader(form.read_text(encoding="utf-8").splitlines()))
    for row in rows[1:]:
        if row[1] == "meter":
            row[2] = "open" if typical[row[0]] is None else f"{typical[row[0]]:.4g}"
    filled = tmp_path / "filled.csv"
    filled.write_text("\n".join(",".join(row) for row in rows), encoding="utf-8")
    done = call("jack", FILE, str(filled))
    assert done.exit_code == 0, done.output
    assert "are those of a sound instrument" in done.output
    rows[1][2] = f"{1.2 * typical[rows[1][0]]:.4g}"
    filled.write_text("\n".join(",".join(row) for row in rows), encoding="utf-8")
    failed = call("jack", FILE, str(filled))
    assert failed.exit_code == 1
    assert "too high" in failed.output
    assert failed.output.count("FAIL") == 1
    record = json.loads(call("jack", FILE, str(filled), "--json").output)
    assert [one["passed"] for one in record["readings"]].count(False) == 1
    assert record["passed"] is False


def test_a_recording_of_the_rig_is_a_reading(tmp_path: Path) -> None:
    wiring = load_wiring(Path(FILE))
    bare = Load(0.0, amplifier_ohm=1e12, amplifier_f=0.0)

    def jack(hz: np.ndarray) -> np.ndarray:
        from dataclasses import replace

        kept = np.maximum(hz, 1.0)
        return respond(replace(wiring, load=bare), [wiring.setting("1")], kept).output_impedance_ohm[0]

    parts = {"one": jack, "open": opened, "short": shorted, "known": resistor(99_870.0)}
    for seed, (name, part) in enumerate(parts.items()):
        samples = Rig().record(part, make_tone(RATE_HZ, 4), seed)
        soundfile.write(tmp_path / f"{name}.wav", samples.T, RATE_HZ, subtype="PCM_24")
    table = tmp_path / "recorded.csv"
    table.write_text("setting,what,value\n1,recording,one.wav\n", encoding="utf-8")
    rig = [f"--{name}={tmp_path / f'{name}.wav'}" for name in ("open", "short")]
    done = call("jack", FILE, str(table), *rig, f"--known={tmp_path / 'known.wav'}=99.87k", "--json")
    assert done.exit_code == 0, done.output
    found = json.loads(done.output)["readings"]
    assert [one["frequency_hz"] for one in found] == [120.0, 900.0, 4000.0, 8800.0]
    want = np.abs(jack(np.array([120.0, 900.0, 4000.0, 8800.0])))
    assert [one["ohm"] for one in found] == pytest.approx(want, rel=0.01)
    alone = call("jack", FILE, str(table))
    assert alone.exit_code == 1
    assert "a recording without the rig's own" in alone.stderr


S_PARAMETERS = """! a reflection of 50 ohm says little of kilohms
# HZ S RI R 50
100 0.98 0.001
1000 0.985 0.01
10000 0.99 0.01
"""


def test_what_a_curve_leaves_in_doubt_is_told_with_its_row(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "one.s1p").write_text(S_PARAMETERS, encoding="utf-8")
    table = tmp_path / "recorded.csv"
    table.write_text("setting,what,value\n1,meter,open\n1,recording,one.s1p\n", encoding="utf-8")
    lines = call("jack", FILE, str(table)).output.splitlines()
    told = [line for line in lines if line.startswith(f"note: {table}:3: one.s1p: Impedances reach ")]
    assert len(told) == 1, "once for all of its frequencies"
    record = json.loads(call("jack", FILE, str(table), "--json").output)
    meter, *swept = record["readings"]
    assert (meter["ohm"], meter["notes"]) == (None, []), "null is open, of a reading as of a band"
    assert swept
    assert all("times the reference of 50" in one["notes"][0] for one in swept)
    monkeypatch.setattr("server.searches.fault_book.open_book", small_book)
    odd = json.loads(call("fault", FILE, str(table), "--json").output)
    assert "times the reference of 50" in odd["notes"][0]
    assert odd["unexplained"].startswith("no single fault explains these readings")
    assert odd["misfit"] > 10
    assert "Beware: no single fault explains" in call("fault", FILE, str(table)).output


def small_book(wiring: Wiring, readings: Sequence[Reading], progress: object, rig: object) -> Book:
    """The book without most of its faults: quick."""
    points = [one.point for one in readings]
    faults = find_faults(wiring)[:3]
    directions = find_directions(wiring)
    tables = np.array([read(one, directions, points) for one in faults])
    ear = ear_settings(wiring)
    heard = np.zeros((len(faults), len(ear), 4))
    return Book(faults, directions, tuple(points), ear, tables[:, 0], tables[:, 1:], heard)


def test_a_recording_that_reaches_no_frequency_is_told(tmp_path: Path) -> None:
    rows = ["f,re,im", *(f"{hz},5000,{hz}" for hz in (10_000, 11_000, 12_000, 13_000))]
    (tmp_path / "high.csv").write_text("\n".join(rows), encoding="utf-8")
    table = tmp_path / "recorded.csv"
    table.write_text("setting,what,value\n1,recording,high.csv\n", encoding="utf-8")
    done = call("jack", FILE, str(table))
    assert done.exit_code == 1
    assert f"{table}:2: " in done.stderr
    assert "10 kHz to 13 kHz; allowed: one at least of 120 Hz, 900 Hz, 4 kHz, 8.8 kHz" in done.stderr


def test_a_missing_recording_is_told(tmp_path: Path) -> None:
    table = tmp_path / "recorded.csv"
    table.write_text("setting,what,value\n1,recording,none.csv\n", encoding="utf-8")
    done = call("jack", FILE, str(table))
    assert done.exit_code == 1
    assert "none.csv" in done.stderr


def test_a_fault_is_named_and_its_book_is_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Position 2 reads the neck alone, position 3 nothing: the bridge coil is cut off."""
    monkeypatch.setenv("PRESOLDER_CACHE", str(tmp_path / "cache"))
    table = tmp_path / "odd.csv"
    typical = json.loads(call("expect", FILE, "--json").output)["readings"]
    meter = {one["setting"]: one["typical_ohm"] for one in typical if one["what"] == "meter"}
    dead = 250e3  # the volume's track alone
    rows = [f"1,meter,{meter['1']:.4g}", f"2,meter,{meter['1']:.4g}", f"3,meter,{dead:.4g}"]
    table.write_text("\n".join(["setting,what,value", *rows]), encoding="utf-8")
    done = call("fault", FILE, str(table))
    assert done.exit_code == 0, done.output
    lines = done.output.splitlines()
    assert [line.strip() for line in lines[1 : 1 + len(CAUTIONS)]] == list(CAUTIONS)
    assert "bridge.start" in done.output
    books = list((tmp_path / "cache" / "faults").glob("*.npy"))
    assert len(books) == 1
    monkeypatch.setattr("dsp.checking.book.read", None)  # computing it again would fail
    record = json.loads(call("fault", FILE, str(table), "--json").output)
    first = record["classes"][0]
    assert not first["sound"]
    assert any("bridge.start" in one["terminals"] for one in first["faults"])
    assert sum(one["probability"] for one in record["classes"]) == pytest.approx(1.0, abs=0.05)
    upcoming = json.loads(call("fault", FILE, "--next", "--json").output)
    assert (upcoming["next"]["setting"], upcoming["next"]["what"]) == ("2 phase=2", "meter")
    alone = call("fault", FILE, str(table), "--next")
    assert alone.output.splitlines()[-1] == "Read next: the meter at 2 phase=2"


def test_a_book_depends_on_where_words_are_heard_and_on_the_settings_to_read() -> None:
    wiring = load_wiring(Path(FILE))
    plain, odd = wiring.setting("1"), wiring.setting("1", {"tone": 0.0, "volume": 0.0})
    names: list[str] = []

    def keep(kind: str, name: str, make: object) -> np.ndarray:
        names.append(name)
        raise StopIteration

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("server.searches.fault_book.kept", keep)
        for setting in (plain, odd):
            with pytest.raises(StopIteration):
                open_book(wiring, [Reading("", setting, "heard", text="fine")])
    assert names[0] != names[1]
    assert "dsp/sheet" in ROOMS


def test_a_fault_needs_readings() -> None:
    done = call("fault", FILE)
    assert done.exit_code == 2
    assert "--next for the first to take" in done.stderr


def test_a_word_that_is_none_is_told(tmp_path: Path) -> None:
    table = tmp_path / "odd.csv"
    table.write_text("setting,what,value\n1,heard,thinn\n2,heard,does nothing\n", encoding="utf-8")
    done = call("fault", FILE, str(table))
    assert done.exit_code == 1
    assert "did you mean 'thin'" in done.stderr
    assert "the knob turned down" in done.stderr
    assert call("jack", FILE, str(table)).exit_code == 1


def test_the_spread_is_told_and_its_ends_are_files(tmp_path: Path) -> None:
    done = call("spread", FILE, "--built", "4", "--cable", "20 %", "--out", str(tmp_path / "ends"))
    assert done.exit_code == 0, done.output
    assert "cable" in done.output.split("What differs most:")[1].splitlines()[1]
    ends = [tmp_path / "ends" / name for name in ("end_one.yaml", "end_other.yaml")]
    first, second = (load_wiring(path) for path in ends)
    assert first.parts["neck"] != second.parts["neck"]
    assert "# Demo commission" in ends[0].read_text(encoding="utf-8"), "comments stay"
    record = json.loads(call("spread", FILE, "--built", "4", "--json").output)
    assert record["built"] == 4
    assert sum(one["share"] for one in record["shares"]) == pytest.approx(1.0)
    assert any("players' cables differ by about ±20 %" in note for note in record["notes"])
    assert "players' cables" not in done.output, "it has them"
    alone = call("spread", FILE, "--built", "4")
    assert alone.output.splitlines()[-1].startswith("note: All with one cable")
    assert call("spread", FILE, "--cable", "200 %").exit_code == 2
    assert call("spread", FILE, "--built", "1").exit_code == 2
