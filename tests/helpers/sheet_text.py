"""Read a printed build sheet back: joints from the wires that its text lists, and nothing else."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from collections.abc import Iterable
from pathlib import Path

import pytest

from dsp.drawing.wiring_record import wiring_record
from dsp.wiring.model import Wiring
from dsp.wiring.union import Merge


def joints_of(wires: Iterable[tuple[str, str]]) -> set[frozenset[str]]:
    """Return the joints of two terminals and more that wires from end to end make."""
    ends = list(wires)
    merge = Merge({one for wire in ends for one in wire})
    for wire in ends:
        merge.join(wire)
    return set(map(frozenset, merge.classes()))


def soldered_joints(wiring: Wiring) -> set[frozenset[str]]:
    """Return the joints of two terminals and more of a wiring."""
    found = wiring_record(wiring)["joints"]
    merge = Merge({end for joint in found for end in joint})
    for joint in found:
        merge.join(joint)
    return {frozenset(joint) for joint in merge.classes() if len(joint) > 1}


def wires_in(text: str, wiring: Wiring) -> list[tuple[str, str]]:
    """Return the wires that a text lists as "volume 3 to tone 2"."""
    terminals = {f"{name} {lead}" for joint in wiring.joints for name, lead in joint.terminals}
    one = "|".join(sorted(map(re.escape, terminals), key=len, reverse=True))
    found = re.findall(rf"(?<![\w.-])({one}) to ({one})(?![\w.-])", re.sub(r"\s+", " ", text))
    return [(a.replace(" ", "."), b.replace(" ", ".")) for a, b in found]


def text_of_pdf(path: Path) -> str:
    """Return a PDF's text in the order of its columns; skip without the program that reads it."""
    if not shutil.which("pdftotext"):
        if os.environ.get("CI") == "true":
            pytest.fail("pdftotext is missing; CI must install poppler-utils")
        pytest.skip("pdftotext is missing")
    words = ["pdftotext", "-raw", str(path), "-"]
    return subprocess.run(words, check=True, capture_output=True, encoding="utf-8").stdout


def pages_of_pdf(content: bytes) -> int:
    """Return how many pages a PDF has."""
    count = re.search(rb"/Type\s*/Pages\b.*?/Count (\d+)", content, re.DOTALL)
    assert count is not None
    return int(count[1])
