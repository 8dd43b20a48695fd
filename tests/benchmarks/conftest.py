"""Collect the figures of the benchmarks and print them as one table at the end."""

from __future__ import annotations

from collections.abc import Callable

import pytest

Record = Callable[[str, str, str], None]
_ROWS = pytest.StashKey[list[tuple[str, str, str]]]()


@pytest.fixture
def record(request: pytest.FixtureRequest) -> Record:
    """Add a row: the measurement, the figure, the bar."""
    rows = request.config.stash.setdefault(_ROWS, [])
    return lambda what, figure, bar: rows.append((what, figure, bar))


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter, config: pytest.Config) -> None:
    rows = config.stash.get(_ROWS, [])
    if not rows:
        return
    terminalreporter.section("measured, side by side in this run")
    widths = [max(len(row[i]) for row in rows) for i in range(3)]
    for row in rows:
        terminalreporter.write_line("  ".join(text.ljust(w) for text, w in zip(row, widths, strict=True)))
