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
@click.option("--json", "as_json", is_flag=True, help="Findings as JSON.")
def command(files: tuple[Path, ...], as_json: bool) -> None:
    """Findings of wiring files: errors, warnings, notes, reminders.

    Exit status 1 if any file has an error, else 0.
    """
    reports = [_report(path) for path in files]
    if as_json:
        click.echo(json.dumps({"files": reports}, indent=1, ensure_ascii=False))
    else:
        for report in reports:
            _print(report)
    if any(one["severity"] == "error" for report in reports for one in report["findings"]):
        raise SystemExit(1)


def _report(path: Path) -> dict[str, Any]:
    """One file's findings; what keeps it from being read counts as errors."""
    try:
        found = [_of_finding(one) for one in check(load_wiring(path))]
    except InputError as error:
        found = [_of_problem(problem) for problem in error.problems]
    return {"file": str(path), "findings": found}


def _of_finding(one: Finding) -> dict[str, Any]:
    return {
        "severity": one.severity,
        "finding": one.finding,
        "positions": list(one.positions),
        "lugs": list(one.lugs),
        "line": one.line,
        "detail": one.detail,
        "text": one.text(),
    }


def _of_problem(problem: Problem) -> dict[str, Any]:
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
