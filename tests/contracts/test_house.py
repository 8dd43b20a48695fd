"""The rules of the repository, checked by tools: style, types, import law, places of files."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from places import ROOT

TOP = {"README.md", "DEVELOPERS.md", "pyproject.toml", "server", "dsp", "web", "tests", "demo_audio"}
BIN = Path(sys.executable).parent


def run(*words: str) -> subprocess.CompletedProcess[str]:
    """Run a tool of this environment from the repository's root, with few threads and no cache."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "NO_COLOR": "1"}
    return subprocess.run(
        words, cwd=ROOT, env=environment, capture_output=True, text=True, timeout=300, check=False
    )


@pytest.mark.parametrize(
    "words",
    [
        ("ruff", "check", "--no-cache", "."),
        ("ruff", "format", "--no-cache", "--check", "."),
        pytest.param(("mypy",), marks=pytest.mark.long),
        ("lint-imports", "--no-cache"),
    ],
    ids=" ".join,
)
def test_tool_finds_nothing(words: tuple[str, ...]) -> None:
    done = run(str(BIN / words[0]), *words[1:])
    assert done.returncode == 0, done.stdout[-4000:] + done.stderr[-4000:]


def tracked() -> list[Path]:
    """Return git's files; where git fails, the test fails and does not skip."""
    done = run("git", "-c", f"safe.directory={ROOT}", "ls-files", "-z")
    assert done.returncode == 0, done.stderr
    return [Path(name) for name in done.stdout.split("\0") if name]


def test_the_top_level_is_the_fixed_one() -> None:
    tops = {path.parts[0] for path in tracked()}
    assert {top for top in tops if not top.startswith(".")} <= TOP
    assert {"README.md", "pyproject.toml", "server", "dsp", "tests", "demo_audio"} <= tops


def test_tests_are_not_a_package() -> None:
    assert not [path for path in tracked() if path.parts[0] == "tests" and path.name == "__init__.py"]


def test_no_large_or_forbidden_file_is_kept() -> None:
    """Recordings belong to the demo; nothing else is large."""
    large = {
        str(path) for path in tracked() if (ROOT / path).exists() and (ROOT / path).stat().st_size > 500_000
    }
    assert all(name.startswith("demo_audio/") for name in large)


def test_the_linear_algebra_of_the_tests_has_one_thread() -> None:
    """A library that loaded numpy before conftest.py would make the setting there useless."""
    import numpy  # noqa: F401
    from threadpoolctl import threadpool_info

    assert {pool["num_threads"] for pool in threadpool_info() if pool["user_api"] == "blas"} == {1}
