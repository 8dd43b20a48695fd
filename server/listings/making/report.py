"""The report of a run: its progress, its result per instrument, and a summary."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from dsp.errors import Problem
from dsp.units import count_words

DONE, FAILED = "done", "failed"
NAME = "report.json"


@dataclass(frozen=True)
class InstrumentReport:
    """The result of one instrument.

    Attributes
    ----------
    state : {"done", "failed"}
    reused : int
        Files that were there already.
    problems : tuple of Problem
        Why there are no clips.
    warnings : tuple of str
        What a listener should know of the clips.
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
    """The result of a run.

    Attributes
    ----------
    instruments : tuple of InstrumentReport
        In the listing's order.
    seconds : float
        Of sound made in this run, each clip once.
    """

    instruments: tuple[InstrumentReport, ...]
    seconds: float
    elapsed_s: float

    @property
    def failed(self) -> tuple[InstrumentReport, ...]:
        """Instruments without clips."""
        return tuple(one for one in self.instruments if one.state == FAILED)

    def summary(self) -> str:
        """Describe the run in a sentence."""
        done = [one for one in self.instruments if one.state == DONE]
        files, reused = sum(one.files for one in done), sum(one.reused for one in done)
        kept = f", {reused} of them unchanged" if reused else ""
        lost = f"; {count_words(len(self.failed), 'instrument')} failed" if self.failed else ""
        return f"{count_words(len(done), 'instrument')}, {count_words(files, 'file')}{kept}{lost}"


def report_json(name: str, instruments: Sequence[InstrumentReport]) -> bytes:
    """Return the report file, without times: one result, the same bytes.

    Parameters
    ----------
    name : str
        Name of the listing.
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


@dataclass
class Tally:
    """Count the finished sound, and estimate how long the rest will take.

    Attributes
    ----------
    total_s : float
        Sound of all files to be made.
    n_formats : int
        Files of each clip; rates count clips.
    started_s : float
        Time at the start.
    done_s, made_s : float
        Sound of the files that are there; of those, what this run has made.
    files : dict of str to int
        Files done, per instrument.
    """

    total_s: float
    n_formats: int
    started_s: float
    done_s: float = 0.0
    made_s: float = 0.0
    files: dict[str, int] = field(default_factory=dict)

    def add(self, instrument: str, seconds: float, *, made: bool) -> None:
        """Count one file of an instrument, its length in seconds."""
        self.done_s += seconds
        self.made_s += seconds if made else 0.0
        self.files[instrument] = self.files.get(instrument, 0) + 1

    def give_up(self, seconds: float) -> None:
        """Leave out sound, in seconds, that will not be made."""
        self.total_s -= seconds

    @property
    def share(self) -> float:
        """Share of the work that is done, 0 to 1."""
        return 1.0 if self.total_s <= 0.0 else min(self.done_s / self.total_s, 1.0)

    def rate(self, now_s: float) -> float | None:
        """Return seconds of clips made per second; None before the first."""
        elapsed = now_s - self.started_s
        return None if self.made_s <= 0.0 or elapsed <= 0.0 else self.made_s / self.n_formats / elapsed

    def remaining_s(self, now_s: float) -> float | None:
        """Return the time that the rest will take, s; None before the first file."""
        rate = self.rate(now_s)
        return None if rate is None else max(self.total_s - self.done_s, 0.0) / self.n_formats / rate


def clock(seconds: float) -> str:
    """Write seconds for people: 2 h 05 min, 3 min 20 s, 8 s."""
    whole = round(seconds)
    if whole >= 3600:
        return f"{whole // 3600} h {whole % 3600 // 60:02d} min"
    return f"{whole // 60} min {whole % 60:02d} s" if whole >= 60 else f"{whole} s"
