"""Analyses of ngspice whose results are real: operating points and noise.

As in `runner`, one process for many decks; results come back in full double precision through text raw files.
"""

from __future__ import annotations

import re
import subprocess
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from reference.spice import runner

Floats = NDArray[np.float64]

_TROUBLE = re.compile(r"error|singular|fatal|no such|unknown|can't", re.IGNORECASE)


@dataclass(frozen=True)
class RealJob:
    """A deck, what to do with it, and the vectors to bring back.

    Attributes
    ----------
    deck : str
        The netlist, title line first.
    commands : tuple of str
        Of ngspice, run in order; the last plot they leave is read.
    vectors : tuple of str
    params : dict
        New values of the deck's `.param` names.
    """

    deck: str
    commands: tuple[str, ...]
    vectors: tuple[str, ...]
    params: dict[str, float] = field(default_factory=dict)


def with_lines(deck: str, *lines: str) -> str:
    """The deck with lines put in before its `.end`."""
    body = deck.rstrip()
    assert body.endswith(".end")
    return "\n".join([body.removesuffix(".end").rstrip(), *lines, ".end", ""])


def run(jobs: Sequence[RealJob]) -> list[dict[str, Floats]]:
    """Vectors by name for every job, in order.

    Raises
    ------
    RuntimeError
        If ngspice says anything that sounds like trouble, or results are missing.
    """
    with tempfile.TemporaryDirectory(prefix="spice-") as folder:
        home = Path(folder)
        for i, job in enumerate(jobs):
            (home / f"deck{i}.cir").write_text(job.deck, encoding="utf-8")
        (home / "control.cir").write_text("\n".join(_control(jobs)), encoding="utf-8")
        done = subprocess.run(
            [runner.program(), "-b", "control.cir"],
            cwd=home, capture_output=True, text=True, timeout=runner.TIMEOUT_S, check=False,
        )  # fmt: skip
        said = done.stdout + done.stderr
        if done.returncode or any(_TROUBLE.search(line) for line in said.splitlines()):
            raise RuntimeError(f"ngspice (exit {done.returncode}):\n{said[-3000:]}")
        return [_read(home / f"out{i}.raw", job.vectors) for i, job in enumerate(jobs)]


def _control(jobs: Sequence[RealJob]) -> Iterator[str]:
    yield from ("* all jobs, one process", ".control", "set filetype=ascii")
    for i, job in enumerate(jobs):
        yield f"source deck{i}.cir"
        yield from (f"alterparam {name} = {float(value)!r}" for name, value in job.params.items())
        yield from ["reset"] if job.params else []
        yield from job.commands
        yield f"write out{i}.raw {' '.join(job.vectors)}"
        yield from ("destroy all", "remcirc")
    yield from ("quit", ".endc", ".end", "")


def _read(path: Path, vectors: Sequence[str]) -> dict[str, Floats]:
    """The named vectors of a text raw file."""
    head, _, values = path.read_text(encoding="ascii").partition("Values:\n")
    count = int(re.search(r"No\. Points: (\d+)", head)[1])  # type: ignore[index]
    names = [line.split()[1].lower() for line in head.splitlines() if re.match(r"\t\d+\t", line)]
    numbers = [float(word.split(",")[0]) for word in re.sub(r"(?m)^\s*\d+\t", "", values).split()]
    table = np.array(numbers).reshape(count, len(names))
    return {name: table[:, names.index(name.lower())] for name in vectors}
