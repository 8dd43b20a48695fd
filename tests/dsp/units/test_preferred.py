"""Preferred values of IEC 60063."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dsp.errors import InputError
from dsp.units.preferred import SERIES, nearest_value, step_value

# IEC 60063:2015 as tabulated on a public page (read): each series adds to the one before.
E6 = {10, 15, 22, 33, 47, 68}
E12 = E6 | {12, 18, 27, 39, 56, 82}
E24 = E12 | {11, 13, 16, 20, 24, 30, 36, 43, 51, 62, 75, 91}

values = st.floats(1e-12, 1e12)
names = st.sampled_from(sorted(SERIES))


@pytest.mark.reference
@pytest.mark.parametrize(("name", "table"), [("E6", E6), ("E12", E12), ("E24", E24)])
def test_tables_of_two_digits(name: str, table: set[int]) -> None:
    assert SERIES[name] == tuple(sorted(v / 10 for v in table))


def test_e3_is_every_other_value_of_e6() -> None:
    assert SERIES["E3"] == SERIES["E6"][::2]  # from memory of the standard


@pytest.mark.reference
@pytest.mark.parametrize(("name", "count"), [("E48", 48), ("E96", 96)])
def test_tables_of_three_digits_are_rounded_powers(name: str, count: int) -> None:
    # From memory of the standard: its only value off the rule, 9.20, is in E192.
    assert SERIES[name] == tuple(round(10 ** (i / count), 2) for i in range(count))


def test_tables_of_two_digits_are_not_rounded_powers() -> None:
    off = {v for i, v in enumerate(SERIES["E24"]) if v != round(10 ** (i / 24), 1)}
    assert off == {2.7, 3.0, 3.3, 3.6, 3.9, 4.3, 4.7, 8.2}


@pytest.mark.parametrize(
    ("value", "series", "expected"),
    [
        (23e-9, "E6", 22e-9),
        (500e3, "E12", 470e3),
        (250e3, "E24", 240e3),
        (9.9, "E12", 10.0),
        (8.9, "E6", 10.0),  # by ratio: 10/8.9 is less than 8.9/6.8
        (4700.0, "E96", 4750.0),
        (22e-9, "E12", 22e-9),
        (1e-9, "E3", 1e-9),
    ],
)
def test_nearest(value: float, series: str, expected: float) -> None:
    assert nearest_value(value, series) == expected


@pytest.mark.parametrize(
    ("value", "series", "up", "expected"),
    [
        (22e-9, "E6", 1, 33e-9),
        (22e-9, "E6", -1, 15e-9),
        (23e-9, "E6", 1, 33e-9),
        (23e-9, "E6", -1, 22e-9),
        (23e-9, "E6", 0, 22e-9),
        (0.1 + 0.2, "E24", 1, 0.33),  # 0.30000000000000004 is 0.3
        (0.1 + 0.2, "E24", -1, 0.27),
        (6.8, "E6", 1, 10.0),
        (1000.0, "E12", -1, 820.0),
        (1.0, "E3", 6, 100.0),
        (1.0, "E12", -24, 0.01),
    ],
)
def test_step(value: float, series: str, up: int, expected: float) -> None:
    assert step_value(value, series, up) == expected


@given(values, names)
def test_no_other_preferred_value_is_nearer(value: float, series: str) -> None:
    found = nearest_value(value, series)
    decade = math.floor(math.log10(value))
    others = [float(f"{v}e{d}") for d in range(decade - 1, decade + 3) for v in SERIES[series]]
    assert found in others

    def apart(v: float) -> float:
        return abs(math.log(v / value))

    assert apart(found) <= min(map(apart, others)) + 1e-12  # rounding of the logarithm


@given(values, names)
def test_steps_go_strictly_up_and_down_and_back(value: float, series: str) -> None:
    above, below = step_value(value, series, 1), step_value(value, series, -1)
    assert below < value < above
    assert step_value(nearest_value(value, series), series, 1) > nearest_value(value, series)
    assert step_value(step_value(above, series, -1), series, 1) == above


@pytest.mark.parametrize("value", [0.0, -1.0, math.nan, math.inf, 1e-30, 1e30])
def test_values_out_of_range(value: float) -> None:
    with pytest.raises(InputError, match="1e-18 to 1e\\+18"):
        nearest_value(value, "E12")
    with pytest.raises(InputError, match="1e-18 to 1e\\+18"):
        step_value(value, "E12", 1)


def test_unknown_series_and_absurd_steps() -> None:
    with pytest.raises(InputError, match="E12"):
        nearest_value(1.0, "E13")
    with pytest.raises(InputError, match="1000"):
        step_value(1.0, "E12", 10**9)
