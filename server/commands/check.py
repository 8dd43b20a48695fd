"""`presolder check`: findings of wiring files."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import click

from dsp.errors import InputError, Problem
from dsp.facts.findings.check import check
from dsp.facts.findings.table import Finding
from server.commands.common import EXISTING
from server.wirings.text import load_wiring


@click.command(epilog="\b\nExample:\n  presolder check baritone.yaml twelve.yaml")
@click.argument("files", nargs=-1, required=True, type=EXISTING, metavar="FILE...")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def command(files: tuple[Path, ...], as_json: bool) -> None:
    """Print findings of wiring files: errors, warnings, notes, reminders.

    Exit status 1 if any file has an error, else 0.
    """
    reports = [_check(path) for path in files]
    if as_json:
        click.echo(json.dumps({"files": reports}, indent=1, ensure_ascii=False))
    else:
        for report in reports:
            _print(report)
    if any(one["severity"] == "error" for report in reports for one in report["findings"]):
        raise SystemExit(1)


def _check(path: Path) -> dict[str, Any]:
    """Findings of a file; problems that keep it from being read count as errors."""
    try:
        found = [_finding_json(one) for one in check(load_wiring(path))]
    except InputError as error:
        found = [_problem_json(problem) for problem in error.problems]
    return {"file": str(path), "findings": found}


def _finding_json(one: Finding) -> dict[str, Any]:
    return {
        "severity": one.severity,
        "finding": one.finding,
        "positions": list(one.positions),
        "lugs": list(one.lugs),
        "line": one.line,
        "detail": one.detail,
        "text": one.text(),
    }


def _problem_json(problem: Problem) -> dict[str, Any]:
    line = next((int(part) for part in problem.where.split(":") if part.strip().isdigit()), 0)
    return {
        "severity": "error",
        "finding": "cannot be read",
        "positions": [],
        "lugs": [],
        "line": line,
        "detail": problem.hint,
        "text": str(problem),
    }


def _print(report: dict[str, Any]) -> None:
    colours = {"error": "red", "warning": "yellow"}
    for one in report["findings"]:
        place = f"{report['file']}:{one['line']}: " if one["line"] else f"{report['file']}: "
        if one["finding"] == "cannot be read":
            place = ""
        word = click.style(one["severity"], fg=colours.get(one["severity"]))
        click.echo(f"{word}: {place}{one['text']}")
