"""The finished guitar under an exciter, as a technician calls the commands."""

from __future__ import annotations

import json
from collections.abc import Iterator
from math import log10
from pathlib import Path

import numpy as np
import pytest
import soundfile
from click.testing import CliRunner, Result
from exciter_rig import MUTUAL_H, TEXT, record, transfer
from rig import RATE_HZ
from small_wirings import read

from dsp.checking.readings_text import level_text, read_row
from server.cli import main
from server.measurements.rig import EXCITER_CAUTIONS, EXCITER_STEPS

HEAD = "setting,what,value"
SWAPPED = "start and finish of neck are exchanged"


@pytest.fixture(scope="module", autouse=True)
def cached(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("PRESOLDER_CACHE", str(tmp_path_factory.mktemp("cache")))
        yield


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "small.yaml").write_text(TEXT, encoding="utf-8")
    return tmp_path


def call(*words: str) -> Result:
    return CliRunner().invoke(main, list(words))


def typed(coil: str, at: str, *, swapped: str = "") -> str:
    """A row with a level at 900 Hz, as read by hand."""
    own = transfer(coil, at, np.array([900.0]), swapped=swapped)[0].real
    level = 20 * log10(abs(own) * MUTUAL_H[coil] * 2 * np.pi * 900 / 100) if abs(own) > 1e-6 else None
    value = "silent" if level is None else f"{'+' if own > 0 else '-'} {level:.2f} dB"
    return f"{at},exciter {coil},{value}"


def table(folder: Path, *rows: str) -> str:
    path = folder / "excited.csv"
    path.write_text("\n".join([HEAD, *rows]), encoding="utf-8")
    return str(path)


def rounds(swapped: str = "") -> list[str]:
    return [typed(coil, at, swapped=swapped) for coil in MUTUAL_H for at in "123"]


@pytest.mark.usefixtures("folder")
def test_what_an_exciter_should_read_is_printed() -> None:
    done = call("expect", "small.yaml", "--exciter")
    assert done.exit_code == 0, done.output
    assert all(f"  {one}" in done.output for one in EXCITER_CAUTIONS)
    assert f"  {SWAPPED}" in done.output.split("what neither the meter nor |Z| does:")[1]
    record = json.loads(call("expect", "small.yaml", "--exciter", "--json").output)["exciter"]
    by = {(one["setting"], one["coil"], one["frequency_hz"]): one for one in record["readings"]}
    want = [transfer("bridge", at, np.array([900.0]))[0].real for at in "23"]
    both = by["2", "bridge", 900.0]
    assert both["reference"] == "3"
    assert both["typical_ratio"] == pytest.approx(want[0] / want[1], rel=1e-3)
    assert both["low_ratio"] < both["typical_ratio"] < both["high_ratio"]
    assert {one["coil"]: one["sign"] for one in record["blade"]} == {"neck": "+", "bridge": "+"}
    assert SWAPPED in record["told"]
    assert "exciter" not in json.loads(call("expect", "small.yaml", "--json").output)


def test_the_form_has_rows_for_an_exciter(folder: Path) -> None:
    assert call("expect", "small.yaml", "--exciter", "--form", "form.csv").exit_code == 0
    rows = (folder / "form.csv").read_text(encoding="utf-8").splitlines()
    assert "2,exciter neck," in rows
    assert "3,blade bridge," in rows


def test_levels_typed_by_hand_are_judged(folder: Path) -> None:
    done = call("jack", "small.yaml", table(folder, *rounds()))
    assert done.exit_code == 0, done.output
    assert "all 6 readings are those of a sound instrument" in done.output
    turned = call("jack", "small.yaml", table(folder, *rounds("neck")), "--json")
    assert turned.exit_code == 1
    found = json.loads(turned.output)["exciter"]
    assert {one["side"] for one in found} == {"within", "turned"}
    free = call("jack", "small.yaml", table(folder, *rounds("neck")), "--sides", "free")
    assert free.exit_code == 0, "the ratios are right, and nobody knows the sides"
    open_lead = [*rounds()[:1], "2,exciter neck,silent", *rounds()[2:]]
    said = call("jack", "small.yaml", table(folder, *open_lead)).output
    assert "FAIL  2, exciter neck at 900 Hz" in said
    assert said.count("FAIL") == 1


def test_nothing_is_judged_by_one_reading_of_its_own(folder: Path) -> None:
    for row in ("1,exciter neck,+ +3 dB", "3,exciter neck,silent", "1,blade neck,-"):
        done = call("jack", "small.yaml", table(folder, row))
        assert done.exit_code == 1, done.output
        assert "nothing can be judged yet" in done.output
        assert "sound instrument" not in done.output
        (one,) = json.loads(call("jack", "small.yaml", table(folder, row), "--json").output)["exciter"]
        assert one["passed"] is None
    beside = call("jack", "small.yaml", table(folder, "1,exciter neck,+ -40 dB", "1,meter,5.4k"))
    assert beside.exit_code == 0
    assert "all 1 readings" in beside.output


def test_exchanged_leads_are_found(folder: Path) -> None:
    odd = table(folder, *rounds("neck"), "1,meter,5.4k", "3,meter,6.8k")
    record = json.loads(call("fault", "small.yaml", odd, "--json").output)
    first = record["classes"][0]
    assert not first["sound"]
    assert SWAPPED in {one["text"] for one in first["faults"]}
    assert SWAPPED not in record["unseen"], "an exciter sees it"
    assert record["cautions"][-1] == EXCITER_CAUTIONS[-1]
    plain = table(folder, "1,meter,5.4k", "3,meter,6.8k", "2,meter,3.05k")
    alone = json.loads(call("fault", "small.yaml", plain, "--json").output)
    assert SWAPPED in alone["unseen"]
    every = "setting,what,value", "1,meter,5.4k", "2,meter,3.05k", "3,meter,6.8k"
    swept = call("fault", "small.yaml", table(folder, *every[1:]), "--next", "--exciter").output
    assert "Read next: " in swept


def test_a_recording_under_an_exciter_is_a_reading(folder: Path) -> None:
    for seed, at in enumerate("123"):
        samples = record("neck", at, seed)
        soundfile.write(folder / f"neck{at}.wav", samples.T, RATE_HZ, subtype="PCM_24")
    rows = [f"{at},exciter neck,neck{at}.wav" for at in "123"]
    done = call("jack", "small.yaml", table(folder, *rows), "--json")
    assert done.exit_code == 0, done.output
    found = {(one["setting"], one["frequency_hz"]): one for one in json.loads(done.output)["exciter"]}
    assert len(found) == 6
    assert found["3", 900.0]["ratio"] == 0.0, "silent, not refused"
    exchanged = [f"1,exciter neck,neck{at}.wav" for at in "2"] + [
        f"2,exciter neck,neck{at}.wav" for at in "1"
    ]
    assert call("jack", "small.yaml", table(folder, *exchanged)).exit_code == 1, "the twin: files mixed up"


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ("1,exciter nek,+ -40 dB", "did you mean 'neck'"),
        ("1,exciter,+ -40 dB", "exciter bridge"),
        ("1,exciter neck,+ forty", "a sign and a level such as + -12.3 dB"),
        ("1,exciter neck at 9 kHz,+ -40 dB", "below a resonance"),
        ("1,exciter neck,- 400 dB", "a sign and a level"),
        ("1,exciter neck,-40 dB", "two signs: + or -, then the level, such as + -40 dB"),
        ("1,exciter neck,+ 40 dB", "two signs"),
        ("1,exciter neck,+ +40 dB", "at most +20 dB"),
        ("1 volume=5,exciter neck,+ -40 dB", "all knobs at 10"),
        ("1,blade neck,up", "+ or - of blade neck"),
        ("1,exciter neck,none.wav", "none.wav"),
    ],
)
def test_what_cannot_be_read_is_told(row: str, said: str, folder: Path) -> None:
    done = call("jack", "small.yaml", table(folder, row))
    assert done.exit_code == 1
    assert said in done.stderr
    assert "excited.csv:2" in done.stderr or "none.wav" in done.stderr


@pytest.mark.usefixtures("folder")
def test_what_is_at_the_jack_is_checked() -> None:
    done = call("expect", "small.yaml", "--input", "5 Ω")
    assert done.exit_code == 2
    assert "1 kΩ to 1 GΩ" in done.stderr


def test_the_exciter_is_told_in_words() -> None:
    lines = call("rig", "--exciter").output.splitlines()
    assert [line.strip() for line in lines[1 : 1 + len(EXCITER_CAUTIONS)]] == list(EXCITER_CAUTIONS)
    assert any("100 turns" in line for line in lines)
    assert max(map(len, lines)) <= 110
    assert "presolder" not in " ".join(EXCITER_STEPS), "the page shows them too"


def test_the_exciters_words_stand_beside_the_tone(folder: Path) -> None:
    assert call("rig", "--exciter", "--tone", "out", "--seconds", "4").exit_code == 0
    told = (folder / "out" / "exciter.txt").read_text(encoding="utf-8")
    assert "100 turns" in told
    assert not (folder / "out" / "rig.txt").exists()


@pytest.mark.parametrize(("transfer", "hz"), [(0.01, 900.0), (-0.5, 200.0), (1.2, 900.0), (-1.0, 900.0)])
def test_a_level_that_was_recorded_is_read_again(transfer: float, hz: float) -> None:
    row = ("1", f"exciter neck at {hz:.0f} Hz", level_text(transfer, hz))
    found = read_row(read(TEXT), row, "row", comma=True)
    assert found is not None
    assert found.transfer == pytest.approx(transfer, rel=1e-3)
