"""What came of a run: per instrument, and in a sentence."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from dsp.errors import Problem

DONE, FAILED = "done", "failed"
NAME = "report.json"


@dataclass(frozen=True)
class InstrumentReport:
    """What came of one instrument.

    Attributes
    ----------
    folder, name, wiring_file : str
    state : {"done", "failed"}
    clips, files : int
    reused : int
        Files that were there already.
    problems : tuple of Problem
        Why there are no clips.
    warnings : tuple of str
        What a listener should know of them.
    cover : str
        Picture of the first clip, within the listing's folder.
    about : str
        Positions and takes in a few words.
    """

    folder: str
    name: str
    wiring_file: str
    state: str
    clips: int = 0
    files: int = 0
    reused: int = 0
    problems: tuple[Problem, ...] = ()
    warnings: tuple[str, ...] = ()
    cover: str = ""
    about: str = ""


@dataclass(frozen=True)
class Report:
    """What came of a run.

    Attributes
    ----------
    instruments : tuple of InstrumentReport
        In the listing's order.
    seconds : float
        Of sound made in this run, each clip once.
    elapsed_s : float
    """

    instruments: tuple[InstrumentReport, ...]
    seconds: float
    elapsed_s: float

    @property
    def failed(self) -> tuple[InstrumentReport, ...]:
        """Instruments without clips."""
        return tuple(one for one in self.instruments if one.state == FAILED)

    def summary(self) -> str:
        """The run in a sentence."""
        done = [one for one in self.instruments if one.state == DONE]
        files, reused = sum(one.files for one in done), sum(one.reused for one in done)
        kept = f", {reused} of them unchanged" if reused else ""
        lost = f"; {_many(len(self.failed), 'instrument')} failed" if self.failed else ""
        return f"{_many(len(done), 'instrument')}, {_many(files, 'file')}{kept}{lost}"


def _many(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"


def report_json(name: str, instruments: Sequence[InstrumentReport]) -> bytes:
    """The report file: what is there, why something is not, nothing of when.

    Parameters
    ----------
    name : str
        Of the listing.
    instruments : sequence of InstrumentReport
    """
    rows = [_row(one) for one in instruments]
    text = json.dumps({"listing": name, "instruments": rows}, indent=1, ensure_ascii=False) + "\n"
    return text.encode(errors="backslashreplace")


def _row(one: InstrumentReport) -> dict[str, Any]:
    return {
        "instrument": one.name,
        "folder": one.folder,
        "wiring_file": Path(one.wiring_file).name,
        "state": one.state,
        "clips": one.clips,
        "files": one.files,
        "problems": [str(problem) for problem in one.problems],
        "warnings": list(one.warnings),
    }
