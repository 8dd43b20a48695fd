"""What holds for every test."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from browser_started import chromium, console, context, page, player, playwright
from server_started import running_server, shared_server

from server.files.cache import ENVIRONMENT

__all__ = [
    "chromium", "console", "context", "page", "player", "playwright", "running_server", "shared_server",
]  # fmt: skip
"""Fixtures of every room; one playwright for all of them, since a process can have only one."""


@pytest.fixture(scope="session", autouse=True)
def kept_aside(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """Results are kept in a folder of the test run, never in the person's own; processes inherit it."""
    folder = tmp_path_factory.mktemp("cache")
    before = os.environ.get(ENVIRONMENT)
    os.environ[ENVIRONMENT] = str(folder)
    yield folder
    if before is None:
        del os.environ[ENVIRONMENT]
    else:
        os.environ[ENVIRONMENT] = before


LONG_S = 3600
"""Limit of a test marked long; the others' stands in pyproject.toml."""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Long tests may take long."""
    for item in items:
        if item.get_closest_marker("long"):
            item.add_marker(pytest.mark.timeout(LONG_S))
