"""The page's code, checked by its tools: unit tests under node, types, layout and lint."""

from __future__ import annotations

import os
import shutil
import subprocess
from pathlib import Path

import pytest

WEB_TESTS = Path(__file__).parents[1] / "web"
ROOT = WEB_TESTS.parents[1]
TOOLS = WEB_TESTS / "node_modules"
COMPILER = TOOLS / "typescript" / "bin" / "tsc"
STYLES = "web/**/*.css"
CONFIG = "tests/web"


def run(*words: str, cwd: Path = WEB_TESTS) -> subprocess.CompletedProcess[str]:
    return subprocess.run(words, cwd=cwd, capture_output=True, text=True, check=False, timeout=240)


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


@pytest.mark.long
def test_types_of_the_page() -> None:
    if shutil.which("node") is None or not COMPILER.exists():
        missing("the TypeScript compiler (npm install in tests/web)")
    done = run("node", str(COMPILER), "--project", "tsconfig.json")
    assert done.returncode == 0, done.stdout[-4000:]


@pytest.mark.parametrize(
    ("tool", "words"),
    [
        (
            "prettier/bin/prettier.cjs",
            (
                "--config", f"{CONFIG}/prettier.json", "--check",
                "web/**/*.js", STYLES, f"{CONFIG}/*.js", f"{CONFIG}/*.json",
            ),
        ),
        ("eslint/bin/eslint.js", ("--config", f"{CONFIG}/eslint.config.js", "web", CONFIG)),
        ("stylelint/bin/stylelint.mjs", ("--config", f"{CONFIG}/stylelint.json", STYLES)),
    ],
    ids=("prettier", "eslint", "stylelint"),
)  # fmt: skip
@pytest.mark.long
def test_layout_and_lint_of_the_page(tool: str, words: tuple[str, ...]) -> None:
    if shutil.which("node") is None or not (TOOLS / tool).exists():
        missing(f"{tool.partition('/')[0]} (npm install in tests/web)")
    done = run("node", str(TOOLS / tool), *words, cwd=ROOT)
    assert done.returncode == 0, done.stdout[-4000:] + done.stderr[-2000:]


def test_the_lock_names_no_registry() -> None:
    """The tools come from the registry of the installer's own settings."""
    assert '"resolved"' not in (WEB_TESTS / "package-lock.json").read_text()
