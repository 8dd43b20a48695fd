"""Quantities of the trade read as people write them, without guesses."""

from __future__ import annotations

import math
import os
import subprocess
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dsp.errors import InputError
from dsp.units import DIMENSIONS, parse
from dsp.units.reading import _tidy

READ = [
    ("4k7", "resistance", 4700.0),
    ("4K7", "resistance", 4700.0),
    ("4k7Ω", "resistance", 4700.0),
    ("4k7 ohm", "resistance", 4700.0),
    ("4R7", "resistance", 4.7),
    ("R47", "resistance", 0.47),
    ("47R", "resistance", 47.0),
    ("1M5", "resistance", 1.5e6),
    ("500k", "resistance", 500e3),
    ("500 K", "resistance", 500e3),
    ("500 kΩ", "resistance", 500e3),
    ("500\N{NO-BREAK SPACE}k\N{OHM SIGN}", "resistance", 500e3),
    ("500 k ohms", "resistance", 500e3),
    ("1M", "resistance", 1e6),
    ("1 MΩ", "resistance", 1e6),
    ("1 meg", "resistance", 1e6),
    ("90 Ω", "resistance", 90.0),
    ("90 ohm", "resistance", 90.0),
    ("90 ohms", "resistance", 90.0),
    ("90", "resistance", 90.0),
    ("5 mΩ", "resistance", 0.005),
    ("22n", "capacitance", 22e-9),
    ("2n2", "capacitance", 2.2e-9),
    ("2n2F", "capacitance", 2.2e-9),
    (".022uF", "capacitance", 22e-9),
    ("0.022 \N{MICRO SIGN}F", "capacitance", 22e-9),
    ("0.022 \N{GREEK SMALL LETTER MU}F", "capacitance", 22e-9),
    ("4u7", "capacitance", 4.7e-6),
    ("1e-9 F", "capacitance", 1e-9),
    ("470pf", "capacitance", 470e-12),
    ("2H5", "inductance", 2.5),
    ("2.3 H", "inductance", 2.3),
    ("2.3", "inductance", 2.3),
    ("350 mH", "inductance", 0.35),
    ("350m", "inductance", 0.35),
    ("4m7", "inductance", 4.7e-3),
    ("0.046 in", "length", 0.0011684),
    ('.046"', "length", 0.0011684),
    ("168 mm", "length", 0.168),
    ("5.9 m²", "area", 5.9),
    ("31000 cm2", "area", 3.1),
    ("16.8 cm", "length", 0.168),
    ("5 m", "length", 5.0),
    ("10 ft", "length", 3.048),
    ("18 %", "share", 0.18),
    ("18%", "share", 0.18),
    ("0.18", "share", 0.18),
    ("3.2 kHz", "frequency", 3200.0),
    ("3k2", "frequency", 3200.0),
    ("440", "frequency", 440.0),
    ("100 pF/m", "capacitance per length", 100e-12),
    ("100 pF / m", "capacitance per length", 100e-12),
    ("30 pF/ft", "capacitance per length", 30e-12 / 0.3048),
    ("-3 dB", "level", -3.0),
    ("\N{MINUS SIGN}3 dB", "level", -3.0),
    ("-3", "level", -3.0),
    ("-0.12", "number", -0.12),
    ("+1e3", "number", 1000.0),
    ("  7. ", "number", 7.0),
    ("250 ms", "time", 0.25),
    ("3 min", "time", 180.0),
    ("2", "time", 2.0),
]

REFUSED = [
    ("5m", "resistance", "m alone is refused"),
    ("4m7", "resistance", "m alone is refused"),
    ("350M", "inductance", "milli is m"),
    ("10 mF", "capacitance", "stand for micro"),
    ("10 MFD", "capacitance", "stand for micro"),
    ("10 M", "capacitance", "stand for micro"),
    ("3 mHz", "frequency", "case-sensitive"),
    ("5 PF", "capacitance", "case-sensitive"),
    ("5 m", "time", "milliseconds or minutes"),
    ("22 nF", "resistance", "this is a capacitance"),
    ("350 mH", "resistance", "this is an inductance"),
    ("100 pF", "capacitance per length", "this is a capacitance"),
    ("18 %", "number", "this is a share"),
    ("5 mm", "resistance", "this is a length"),
    ("22n", "resistance", "could be a capacitance or an inductance"),
    ("4k7", "capacitance", "could be a resistance or a frequency"),
    ("22", "capacitance", "unit is missing"),
    ("168", "length", "unit is missing"),
    ("100e-12", "capacitance per length", "unit is missing"),
    ("4,7k", "resistance", "decimal point"),
    ("1,000", "number", "decimal point"),
    ("", "length", "the value is empty"),
    (" \N{NO-BREAK SPACE}", "number", "the value is empty"),
    ("4k7k", "resistance", ""),
    ("4.7k7", "resistance", ""),
    ("4k7.2", "resistance", ""),
    ("4k7 kΩ", "resistance", ""),
    ("4R7 kΩ", "resistance", ""),
    ("2H5 H", "inductance", ""),
    ("5 kΩ Ω", "resistance", ""),
    ("5 kΩ (about)", "resistance", ""),
    ("1 000", "number", ""),
    ("1_000", "number", ""),
    ("--3", "level", ""),
    ("0x10", "number", ""),
    ("10²", "number", ""),
    ("١٢", "number", ""),
    ("5\n", "number", ""),
    ("k", "resistance", ""),
    (".", "number", ""),
    ("nan", "number", ""),
    ("inf", "number", ""),
    ("-Infinity Ω", "resistance", ""),
    ("1e999", "number", ""),
    ("1e-999", "number", ""),
    ("1e99999999", "number", ""),
    ("1" * 65, "number", ""),
]


@pytest.mark.parametrize(("text", "dimension", "value"), READ)
def test_common_spellings_are_read(text: str, dimension: str, value: float) -> None:
    assert parse(text, dimension) == value  # correctly rounded from the decimal, so equal


@pytest.mark.parametrize(("text", "dimension", "hint"), REFUSED)
def test_ambiguous_spellings_are_refused(text: str, dimension: str, hint: str) -> None:
    with pytest.raises(InputError) as caught:
        parse(text, dimension, where="file.yaml:7")
    problem = caught.value.problems[0]
    assert problem.where == "file.yaml:7"
    assert dimension in problem.allowed
    assert DIMENSIONS[dimension].examples[0] in problem.allowed
    assert hint in problem.hint
    assert bool(hint) == bool(problem.hint)
    if len(text) <= 64:
        assert problem.got == repr(text)


def test_an_overlong_text_is_not_repeated_whole() -> None:
    with pytest.raises(InputError) as caught:
        parse("9" * 100_000, "number")
    assert len(str(caught.value)) < 300


def test_unknown_dimension_is_the_programs_own_fault() -> None:
    with pytest.raises(KeyError):
        parse("5", "weight")


@pytest.mark.parametrize("dimension", DIMENSIONS)
def test_every_row_of_the_table_holds_together(dimension: str) -> None:
    row = DIMENSIONS[dimension]
    assert row.name == dimension
    for example in row.examples:
        assert math.isfinite(parse(example, dimension))
    for ending in row.endings:
        assert _tidy(ending) == ending, "the reader rewrites this ending, so it never matches"
    for ending, size in row.printed:
        assert row.endings[ending] == size, "printed text must read back"
    sizes = [size for _, size in row.printed]
    assert sizes == sorted(set(sizes))


@pytest.mark.parametrize("dimension", DIMENSIONS)
def test_no_ending_has_two_meanings(dimension: str) -> None:
    row = DIMENSIONS[dimension]
    written = [p + s for u in row.units for s in u.spellings for p in ("", *u.prefixes)]
    written += [*row.alone]
    assert len(written) == len(set(written))


@pytest.mark.parametrize("dimension", ["capacitance", "length", "capacitance per length"])
def test_a_bare_number_is_refused_where_nobody_means_the_si_unit(dimension: str) -> None:
    with pytest.raises(InputError, match="unit is missing"):
        parse("1", dimension)
    assert DIMENSIONS[dimension].bare == ""


def test_negative_zero_is_zero() -> None:
    assert math.copysign(1.0, parse("-0", "number")) == 1.0


@given(st.text(alphabet="0123456789.eE+-kKmMµunpGRHFΩohms%dBi/ft,\u00a0 \u2126", max_size=20))
def test_anything_is_a_finite_number_or_an_input_error(text: str) -> None:
    for dimension in DIMENSIONS:
        try:
            value = parse(text, dimension)
        except InputError:  # any other error fails the test
            continue
        assert math.isfinite(value)


@given(st.integers(0, 999), st.integers(0, 99), st.sampled_from("kMG"))
def test_letter_for_the_point_equals_the_point(whole: int, part: int, letter: str) -> None:
    assert parse(f"{whole}{letter}{part}", "resistance") == parse(f"{whole}.{part} {letter}Ω", "resistance")


def test_reading_loads_no_heavy_module() -> None:
    code = "import sys, dsp.units, dsp.units.preferred; print('numpy' in sys.modules)"
    search = os.pathsep.join(p for p in sys.path if p)
    run = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, "PYTHONPATH": search},
    )
    assert run.stdout.strip() == "False"
