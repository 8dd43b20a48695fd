"""Running netlists through ngspice, many analyses in one process.

A deck names its sources and leaves their amplitude at `AC 0`; a `Job` says which of them are
raised to one, each in its own analysis, and what the free parameters are. Linear networks need
no operating point (`.option noopac` in the deck): nodes reached only through capacitors are fine.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import tempfile
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from reference.spice import rawfile

TIMEOUT_S = 60.0
STANDARD_SWEEP = "dec 20 20 20000"
"""61 frequencies, 20 Hz to 20 kHz, both ends included."""

_TROUBLE = re.compile(r"error|warning|singular|fatal|no such|unknown", re.IGNORECASE)


@dataclass(frozen=True)
class Job:
    """One circuit and the analyses wanted of it.

    Attributes
    ----------
    deck : str
        The netlist, title line first.
    sources : tuple of str
        Sources raised to 1 (V or A), one per analysis, the others at 0.
    sweeps : tuple of str
        Arguments of the `ac` command, run one after another: ``dec 20 20 20000``, ``lin 9 1 5``.
    params : mapping
        New values of the deck's `.param` names.
    node : str
        The node whose voltage is kept.
    """

    deck: str
    sources: tuple[str, ...]
    sweeps: tuple[str, ...] = (STANDARD_SWEEP,)
    params: Mapping[str, float] = field(default_factory=dict)
    node: str = "out"


@dataclass(frozen=True)
class Answer:
    """Frequencies, Hz, and the node's complex voltage per source, shape (n_freqs,)."""

    freqs_hz: NDArray[np.float64]
    voltage: Mapping[str, NDArray[np.complex128]]


def at(freqs_hz: Iterable[float]) -> tuple[str, ...]:
    """Sweeps of one point each, for an explicit list of frequencies in Hz."""
    return tuple(f"lin 1 {float(f)!r} {float(f)!r}" for f in freqs_hz)


def program() -> str:
    """Path of ngspice; without it the test is skipped, but fails where CI=true."""
    found = shutil.which("ngspice")
    if found is None:
        if os.environ.get("CI") == "true":
            pytest.fail("ngspice is missing; CI must install it")
        pytest.skip("ngspice is missing")
    return found


def run(jobs: Sequence[Job]) -> list[Answer]:
    """The answers to all jobs, in order, from one ngspice process.

    Raises
    ------
    RuntimeError
        If ngspice says anything that sounds like trouble, or plots are missing.
    """
    with tempfile.TemporaryDirectory(prefix="spice-") as folder:
        home = Path(folder)
        for i, job in enumerate(jobs):
            (home / f"deck{i}.cir").write_text(job.deck, encoding="utf-8")
        (home / "control.cir").write_text(_control(jobs), encoding="utf-8")
        said = _call([program(), "-b", "control.cir"], home)
        raw = home / "out.raw"
        plots = rawfile.parse(raw.read_bytes()) if raw.exists() else []
    expected = sum(len(job.sources) * len(job.sweeps) for job in jobs)
    if len(plots) != expected:
        raise RuntimeError(f"ngspice wrote {len(plots)} plots, expected {expected}:\n{said[-3000:]}")
    return _answers(jobs, iter(plots))


def run_as_printed(deck: str, node: str = "out") -> Answer:
    """The answer to a deck with its own `.ac` line, nothing added, under the source name ''."""
    with tempfile.TemporaryDirectory(prefix="spice-") as folder:
        home = Path(folder)
        (home / "deck.cir").write_text(deck, encoding="utf-8")
        _call([program(), "-b", "-r", "out.raw", "deck.cir"], home)
        plots = rawfile.parse((home / "out.raw").read_bytes())
    if len(plots) != 1:
        raise RuntimeError(f"ngspice wrote {len(plots)} plots, expected the one of the .ac line")
    vectors = plots[0].vectors
    return Answer(plots[0].freqs_hz, {"": vectors[node] if node in vectors else vectors[f"v({node})"]})


def _call(command: list[str], folder: Path) -> str:
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, timeout=TIMEOUT_S, check=False)
    said = done.stdout + done.stderr
    trouble = [line for line in said.splitlines() if _TROUBLE.search(line)]
    if trouble or done.returncode:
        raise RuntimeError(f"ngspice (exit {done.returncode}): " + "\n".join(trouble[:20] or [said[-2000:]]))
    return said


def _control(jobs: Sequence[Job]) -> str:
    lines = ["* all jobs, one process", ".control", "set filetype=binary", "set appendwrite"]
    for i, job in enumerate(jobs):
        lines.append(f"source deck{i}.cir")
        lines += [f"alterparam {name} = {float(value)!r}" for name, value in job.params.items()]
        lines += ["reset"] if job.params else []
        for source in job.sources:
            lines.append(f"alter @{source.lower()}[acmag] = 1")
            for sweep in job.sweeps:
                lines += [f"ac {sweep}", f"write out.raw v({job.node})"]
            lines.append(f"alter @{source.lower()}[acmag] = 0")
        lines += ["destroy all", "remcirc"]
    return "\n".join([*lines, "quit", ".endc", ".end", ""])


def _answers(jobs: Sequence[Job], plots: Iterable[rawfile.Plot]) -> list[Answer]:
    left = iter(plots)
    answers = []
    for job in jobs:
        voltage: dict[str, NDArray[np.complex128]] = {}
        freqs = np.empty(0)
        for source in job.sources:
            parts = [next(left) for _ in job.sweeps]
            freqs = np.concatenate([part.freqs_hz for part in parts])
            voltage[source] = np.concatenate([part.vectors[f"v({job.node})"] for part in parts])
        answers.append(Answer(freqs, voltage))
    return answers
