"""Examples in the docstrings of dsp run, and print what they say."""

from __future__ import annotations

import doctest
import importlib
import warnings
from collections import Counter

from places import ROOT

MODULES = sorted(
    ".".join(path.relative_to(ROOT).with_suffix("").parts)
    for path in (ROOT / "dsp").rglob("*.py")
    if path.name != "__init__.py"
)
OPTIONS = doctest.ELLIPSIS | doctest.NORMALIZE_WHITESPACE
FEWEST = {
    "facts": 3,
    "lugs": 5,
    "parts": 13,
    "sound": 5,
    "sounds": 3,
    "strings": 2,
    "units": 3,
}
"""Fewest docstrings with an example, by room of dsp."""


def examples_of(module: str) -> list[doctest.DocTest]:
    """Return the docstrings of a module with at least one example."""
    found = doctest.DocTestFinder(exclude_empty=True).find(importlib.import_module(module))
    return [test for test in found if test.examples]


def failures_of(test: doctest.DocTest) -> tuple[int, str]:
    """Return the number of failing examples of a docstring, and their report."""
    report: list[str] = []
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        result = doctest.DocTestRunner(verbose=False, optionflags=OPTIONS).run(test, out=report.append)
    return result.failed, "".join(report)


def test_every_example_prints_what_it_says() -> None:
    tests = [test for module in MODULES for test in examples_of(module)]
    assert len(tests) >= 30
    reports = [report for failed, report in map(failures_of, tests) if failed]
    assert not reports, "\n".join(reports)
    counted = Counter(test.name.split(".")[1] for test in tests)
    lacking = {room: counted[room] for room, fewest in FEWEST.items() if counted[room] < fewest}
    assert not lacking


def test_a_wrong_example_fails() -> None:
    """A runner that accepts everything would pass the test above."""
    wrong = doctest.DocTestParser().get_doctest(">>> 1 + 1\n3\n", {}, "wrong", None, 0)
    failed, report = failures_of(wrong)
    assert failed == 1
    assert "Expected:" in report
