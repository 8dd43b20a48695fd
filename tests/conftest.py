"""Fixtures and limits of every test."""

from __future__ import annotations

import os
import sys

os.environ["OPENBLAS_NUM_THREADS"] = os.environ.get("OPENBLAS_NUM_THREADS", "1")
# Before numpy is loaded, as the command line does. Threads that wait for one another by spinning
# took seven times the processor's time on a busy machine.

from collections.abc import Iterator
from pathlib import Path

import pytest
from browser_fixtures import chromium, console, context, page, player, playwright
from server_process import running_server, shared_server

from server.files.cache import ENVIRONMENT
from server.files.compiled import VARIABLE
from server.takes.compiling import compile_tracker

__all__ = [
    "chromium", "console", "context", "page", "player", "playwright", "running_server", "shared_server",
]  # fmt: skip
"""Fixtures of every room. They share one playwright: a process can have only one."""


@pytest.fixture(scope="session", autouse=True)
def own_cache(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """Put the cache into a folder of the test run, not the user's own; child processes inherit it.

    The workers of a run share it: what one has computed the others read.
    """
    own = tmp_path_factory.getbasetemp()
    folder = (own.parent if "PYTEST_XDIST_WORKER" in os.environ else own) / "cache"
    folder.mkdir(exist_ok=True)
    before = os.environ.get(ENVIRONMENT)
    os.environ[ENVIRONMENT] = str(folder)
    yield folder
    if before is None:
        del os.environ[ENVIRONMENT]
    else:
        os.environ[ENVIRONMENT] = before


def pytest_configure(config: pytest.Config) -> None:
    """Keep compiled code: the pitch tracker's takes twenty seconds, and each of hundreds of servers
    and children would compile the project's modules again, a second or two.
    """
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    sys.dont_write_bytecode = False
    os.environ.setdefault(VARIABLE, str(config.rootpath / ".pytest_cache" / "compiled"))


@pytest.fixture(scope="session")
def compiled_tracker() -> None:
    """Have the pitch tracker compiled before a test calls it without the server's cache."""
    compile_tracker()


def pytest_xdist_auto_num_workers() -> int:
    """One process more than cores: `-n auto` then uses the time that servers and browsers wait."""
    return (os.cpu_count() or 1) + 1


LONG_S = 3600
"""Time limit of a test marked long; pyproject.toml holds that of the others."""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Give long tests their own time limit, and put those that drive a browser last.

    Playwright keeps a running event loop in the main thread from its first test on. A test that
    calls `asyncio.run` after that one fails.
    """
    for item in items:
        if item.get_closest_marker("long"):
            item.add_marker(pytest.mark.timeout(LONG_S))
    items.sort(key=drives_a_browser)


def drives_a_browser(item: pytest.Item) -> bool:
    """Whether a test uses the fixture that starts playwright, through whatever other fixture."""
    return "playwright" in getattr(item, "fixturenames", ())
