"""The page's code by its own tools: its unit tests under node, its types by the TypeScript compiler."""

from __future__ import annotations

import os
import shutil
import subprocess
from pathlib import Path

import pytest

WEB_TESTS = Path(__file__).parents[1] / "web"
COMPILER = WEB_TESTS / "node_modules" / "typescript" / "bin" / "tsc"


def run(*words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(words, cwd=WEB_TESTS, capture_output=True, text=True, check=False, timeout=240)


def missing(what: str) -> None:
    if os.environ.get("CI") == "true":
        pytest.fail(f"{what} is missing; CI must install it")
    pytest.skip(f"{what} is missing")


def test_unit_tests_of_the_page() -> None:
    if shutil.which("node") is None:
        missing("node")
    done = run("node", "--test")
    assert done.returncode == 0, done.stdout[-4000:] + done.stderr[-1000:]
    assert "# fail 0" in done.stdout
    assert "# pass 0" not in done.stdout


def test_types_of_the_page() -> None:
    if shutil.which("node") is None or not COMPILER.exists():
        missing("the TypeScript compiler (npm install in tests/web)")
    done = run("node", str(COMPILER), "--project", "tsconfig.json")
    assert done.returncode == 0, done.stdout[-4000:]
