"""The build sheet: what a wiring is soldered and measured by, as data and as text."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from dsp.drawing.wiring_record import wiring_record
from dsp.errors import InputError
from dsp.sheet.record import sheet_record
from dsp.sheet.steps import Wire, whole_joints
from dsp.wiring.model import Wiring
from server.documents.lug_chart import cautions_of
from server.documents.page_modules import call_module
from server.documents.wiring_drawing import print_style

MODULE = "js/drawing/sheet.js"


@dataclass(frozen=True)
class BuildSheet:
    """A build sheet.

    Attributes
    ----------
    record : dict
        Of `sheet_record`, with ``cautions`` and the ``broken`` wires of the drawing.
    svg : str
        The drawing in black, its wires with the numbers of their steps.
    key : tuple of dict
        ``label`` of a joint, the ``steps`` of its wires, and its line as ``svg``.
    """

    record: dict[str, Any]
    svg: str
    key: tuple[dict[str, Any], ...]


def build_sheet(wiring: Wiring) -> BuildSheet:
    """Make the build sheet of a wiring.

    Raises
    ------
    InputError
        If part of the wiring is still a sketch: it has no lugs to solder.
    """
    if wiring.sketches:
        names = ", ".join(wiring.sketches)
        raise InputError(
            wiring.file,
            f"a sketch: {names}",
            "a wiring with real switches; make the chart first: presolder lugs FILE --switch NAME --out DIR",
        )
    wiring = whole_joints(wiring)
    facts = wiring_record(wiring)
    found = call_module(MODULE, "sheetWires", facts)
    wires = [Wire(_terminal(one["from"]), _terminal(one["to"]), one["run"]) for one in found["wires"]]
    record = sheet_record(wiring, wires)
    drawn = call_module(
        MODULE,
        "drawSheet",
        {
            "facts": facts,
            "places": found["places"],
            "steps": record["wires"],
            "style": print_style(),
            "title": f"Drawing of {record['name']}",
        },
    )
    record |= {"cautions": list(cautions_of(wiring)), "broken": drawn["broken"]}
    return BuildSheet(record, drawn["svg"], tuple(_key(one, facts, record["wires"]) for one in drawn["key"]))


def _terminal(text: str) -> tuple[str, str]:
    part, _, lead = text.partition(".")
    return part, lead


def _key(one: dict[str, Any], facts: dict[str, Any], wires: list[dict[str, Any]]) -> dict[str, Any]:
    joint = facts["joints"][one["joint"]]
    steps = [wire["step"] for wire in wires if wire["from"] in joint]
    label = "ground" if one["joint"] == facts["ground"] else f"joint {one['label']}"
    return {"label": label, "steps": number_ranges(steps), "svg": one["svg"]}


def number_ranges(numbers: list[int]) -> str:
    """Return numbers in words, runs of three and more shortened.

    Examples
    --------
    >>> number_ranges([1, 2, 3, 5, 8, 9])
    '1–3, 5, 8, 9'
    """
    runs: list[list[int]] = []
    for number in sorted(numbers):
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    texts = (f"{run[0]}–{run[-1]}" if len(run) > 2 else ", ".join(map(str, run)) for run in runs)
    return ", ".join(texts)
