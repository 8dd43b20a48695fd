"""`presolder listing`: a whole catalogue of clips and pages, unattended."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from dsp.units import count_words
from server.commands import common

EPILOG = """\b
Examples:
  presolder listing listing.yaml --out site
  presolder listing --fields                    the fields of a listing file

Run it again after an interruption or a change: files that are still right are not made again.
If one instrument fails, the others are still made; the exit status is 1 and report.json says why.
To use more machines, pip install 'presolder[dask]' on each and pass --cluster tcp://192.0.2.1:8786.
"""
BAR = 24


@click.command(epilog=EPILOG)
@click.argument("file", required=False, type=common.EXISTING)
@click.option(
    "--jobs", type=click.IntRange(1, 1024), metavar="N", help="Processes; one per core unless given."
)
@click.option(
    "--cluster", metavar="ADDRESS", help="A Dask scheduler, tcp://…, or 'local' to start workers here."
)
@click.option("--out", type=common.EXISTING, metavar="DIR", help="Folder to use instead of the file's out.")
@click.option("--json", "as_json", is_flag=True, help="Print one line of JSON per event.")
@click.option("--fields", is_flag=True, help="Print the fields of a listing file.")
def command(
    file: Path | None, jobs: int | None, cluster: str | None, out: Path | None, as_json: bool, fields: bool
) -> None:
    """Make clips, covers and pages of every instrument in FILE."""
    if fields:
        click.echo(_fields(as_json), nl=False)
        return
    if file is None:
        raise click.UsageError("FILE: got none; allowed: a listing file (--fields prints its fields)")
    report: Callable[[dict[str, Any]], None] = _print_json if as_json else EventPrinter()
    with common.report_errors():
        failed = _run(file, out, jobs or _cores(), cluster, report)
    if failed:
        raise SystemExit(1)


def _run(
    file: Path, out: Path | None, jobs: int, cluster: str | None, report: Callable[[dict[str, Any]], None]
) -> bool:
    """Run a listing; True if an instrument failed."""
    from server.listings.making.plan import plan_listing
    from server.listings.making.run import run_listing
    from server.takes.load import load_take

    plan = plan_listing(file, load_take, out)
    engine = _engine(jobs, cluster)
    try:
        return bool(run_listing(plan, engine, on_event=report).failed)
    except KeyboardInterrupt:
        click.echo("\nstopped: finished files stay; the same command goes on from there", err=True)
        return True
    finally:
        engine.close()


def _engine(jobs: int, cluster: str | None) -> Any:
    if cluster is not None:
        from server.listings.making.cluster import Cluster

        return Cluster(cluster, jobs)
    from server.listings.making.engines import InProcess, Pool

    return InProcess() if jobs == 1 else Pool(jobs)


def _cores() -> int:
    """Number of cores that this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def _print_json(event: dict[str, Any]) -> None:
    click.echo(json.dumps(event, ensure_ascii=False))
    sys.stdout.flush()


class EventPrinter:
    """Print events for people: lines, and on a terminal a moving bar."""

    def __init__(self) -> None:
        self._moves = sys.stderr.isatty()
        self._width = 0

    def __call__(self, event: dict[str, Any]) -> None:
        getattr(self, f"_{event['event']}")(event)

    def _line(self, text: str, *, err: bool = False) -> None:
        self._wipe()
        click.echo(text, err=err)

    def _wipe(self) -> None:
        if self._width:
            click.echo("\r" + " " * self._width + "\r", nl=False, err=True)
            self._width = 0

    def _start(self, event: dict[str, Any]) -> None:
        minutes = event["seconds"] / 60.0
        counts = [count_words(event[f"{one}s"], one) for one in ("instrument", "clip")]
        text = f"{', '.join(counts)}, {minutes:.1f} min of sound"
        self._line(f"{text} into {event['out']}", err=True)

    def _progress(self, event: dict[str, Any]) -> None:
        if not self._moves:
            return
        from server.listings.making.report import clock

        filled = round(BAR * event["share"])
        words = [
            f"{'█' * filled}{'░' * (BAR - filled)} {100 * event['share']:.0f} %",
            f"{event['instruments_done']}/{event['instruments']} instruments",
        ]
        if event["times_real_time"] is not None:
            words.append(f"{event['times_real_time']:.0f} x real time")
            words.append(f"{clock(event['remaining_s'])} left")
        words.append(f"{event['instrument']} {event['files_done']}/{event['files']}")
        text = ", ".join(words)[: max(common.terminal_columns() - 1, 20)]
        self._wipe()
        click.echo(text, nl=False, err=True)
        self._width = len(text)

    def _instrument(self, event: dict[str, Any]) -> None:
        if event["state"] == "failed":
            self._line(f"{event['name']}: failed", err=True)
            for problem in event["problems"]:
                click.echo(f"  {problem}", err=True)
            return
        kept = f", {event['reused']} unchanged" if event["reused"] else ""
        self._line(f"{event['name']}: {event['files']} files{kept}")
        for text in event["warnings"]:
            click.echo(f"  note: {text}", err=True)

    def _end(self, event: dict[str, Any]) -> None:
        from server.listings.making.report import clock

        elapsed_s, seconds = event["elapsed_s"], event["seconds"]
        rate = f", {seconds / elapsed_s:.0f} x real time" if seconds and elapsed_s else ""
        self._line(f"{event['summary']} in {clock(elapsed_s)}{rate}: {event['index']}")


def _fields(as_json: bool) -> str:
    """The fields of a listing file, as a table or JSON."""
    from server.listings.making.file_fields import TABLES

    if as_json:
        tables = {
            name: [
                {
                    "name": field.name, "about": field.about, "required": field.required,
                    "default": field.default, "choices": list(field.choices),
                }
                for field in table
            ]
            for name, table in TABLES.items()
        }  # fmt: skip
        return json.dumps(tables, indent=1, ensure_ascii=False) + "\n"
    lines = []
    for name, table in TABLES.items():
        lines.append(f"{name}" if name == "listing" else f"{name}: a list of maps, each with")
        for field in table:
            rest = "required" if field.required else f"default {field.default}" if field.default else ""
            choices = f" ({', '.join(field.choices)})" if field.choices else ""
            lines.append(f"  {field.name:<10} {field.about}{choices}{f'; {rest}' if rest else ''}")
        lines.append("")
    return "\n".join(lines)
