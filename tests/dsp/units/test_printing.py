"""Printed values have engineering form and read back."""

from __future__ import annotations

import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dsp.errors import InputError
from dsp.units import DIMENSIONS, parse, show

SHOWN = [
    (4700.0, "resistance", "4.7 kΩ"),
    (999.96, "resistance", "1 kΩ"),
    (999.94, "resistance", "999.9 Ω"),
    (1e6, "resistance", "1 MΩ"),
    (0.005, "resistance", "0.005 Ω"),
    (0.0, "resistance", "0 Ω"),
    (-0.0, "resistance", "0 Ω"),
    (22e-9, "capacitance", "22 nF"),
    (4.7e-6, "capacitance", "4.7 µF"),
    (1e-3, "capacitance", "1000 µF"),
    (1e-15, "capacitance", "0.001 pF"),
    (2.5, "inductance", "2.5 H"),
    (0.35, "inductance", "350 mH"),
    (0.168, "length", "168 mm"),
    (5.0, "length", "5 m"),
    (5.9, "area", "5.9 m²"),
    (0.18, "share", "18 %"),
    (1.0, "share", "100 %"),
    (100e-12, "capacitance per length", "100 pF/m"),
    (3200.0, "frequency", "3.2 kHz"),
    (-3.0, "level", "-3 dB"),
    (-0.12, "number", "-0.12"),
    (0.25, "time", "250 ms"),
]

dimensions = st.sampled_from(sorted(DIMENSIONS))
# 1e300 and not the last float: rounding that one up would leave the range.
values = st.floats(-1e300, 1e300)
usual = st.floats(1e-13, 1e10)


@pytest.mark.parametrize(("value", "dimension", "text"), SHOWN)
def test_engineering_form(value: float, dimension: str, text: str) -> None:
    assert show(value, dimension) == text


def test_digits_are_significant_digits() -> None:
    assert show(12345.678, "resistance", digits=2) == "12 kΩ"
    assert show(12345.678, "resistance", digits=7) == "12.34568 kΩ"
    assert show(12345.678, "resistance", digits=None) == "12.345678 kΩ"


@given(values, dimensions)
def test_all_digits_read_back_the_same_float(value: float, dimension: str) -> None:
    text = show(value, dimension, digits=None)
    assert parse(text, dimension) == value


@given(values, dimensions, st.integers(1, 17))
def test_digits_read_back_to_that_many_digits(value: float, dimension: str, digits: int) -> None:
    text = show(value, dimension, digits)
    back = parse(text, dimension)
    # Half a step of the last digit, which is at most 10^(1-digits)/2 of the value, and one float step.
    assert abs(back - value) <= abs(value) * 0.5 * 10.0 ** (1 - digits) + math.ulp(value)
    assert show(back, dimension, digits) == text
    shown = re.sub(r"e.*", "", text.split(" ")[0]).strip("-").replace(".", "").lstrip("0")
    assert len(shown.rstrip("0")) <= digits


@given(usual, st.sampled_from(["resistance", "capacitance", "inductance", "frequency"]))
def test_one_to_three_digits_before_the_point(value: float, dimension: str) -> None:
    number, ending = show(value, dimension).split(" ")
    printed = [e for e, _ in DIMENSIONS[dimension].printed]
    if ending != printed[0]:
        assert float(number) >= 1
    if ending != printed[-1]:
        assert float(number) < 1000


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_only_finite_values_are_shown(value: float) -> None:
    with pytest.raises(InputError, match="finite resistance"):
        show(value, "resistance")


@pytest.mark.parametrize("digits", [0, -1, 18])
def test_digits_out_of_range(digits: int) -> None:
    with pytest.raises(InputError, match="1 to 17"):
        show(1.0, "number", digits)
