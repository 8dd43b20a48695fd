"""The words of a build sheet, ready for paper, page and terminal."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby
from typing import Any

from server.documents.build_sheet import BuildSheet

HEADS = (
    "Pickups from the front, controls from behind. A number on a wire is its step",
    "Tick each step. Measure before you close the cavity",
)
FOOT = "Lug names are by pole and throw: a meter shows which lug sits where on the part in hand"
WORDS = {
    "steps": "Solder in this order",
    "contacts": "{}: lugs joined",
    "readings": "Meter at the jack",
    "parts": "Parts",
    "unknown": "Not in the file",
    "checks": "Check",
    "between": "Between positions",
    "care": "Care",
}
"""Headings, on paper and on the page."""
BROKEN = "The drawing marks two ends instead of a line for the wire from {}"
CHECKS = ("unplugged", "polarity", "hum")
"""Notes of the record that are done, not only read."""


def printed_record(sheet: BuildSheet) -> dict[str, Any]:
    """Return what the printed sheet says, each place's words ready.

    What one ticks has a ``key`` that stays and a ``text`` that changes with what is to be done.
    """
    record = sheet.record
    notes = record["notes"]
    stages = [
        {"title": record["stages"][stage], "steps": [{**one, "length": length_text(one)} for one in steps]}
        for stage, steps in groupby(record["steps"], key=lambda step: step["stage"])
    ]
    return {
        "title": f"Build sheet of {record['name']}",
        "name": record["name"],
        "head": HEADS,
        "foot": FOOT,
        "words": WORDS,
        "said": [BROKEN.format(text) for text in record["broken"]],
        "svg": sheet.svg,
        "key": sheet.key,
        "stages": stages,
        "contacts": [
            {
                "title": WORDS["contacts"].format(name),
                "rows": [
                    {"key": f"contacts {name} {position}", "place": position, "text": groups_text(groups)}
                    for position, groups in positions.items()
                ],
            }
            for name, positions in record["contacts"].items()
        ],
        "readings": [
            {
                "key": f"meter {place_text(row)}",
                "place": place_text(row),
                "text": reading_text(row),
                "sound": f"{sound_text(row)}; {row['hum_text']}",
                "meter": row["meter"],
                "band": row["band"],
            }
            for row in record["readings"]
        ],
        "parts": [
            [part["name"], ", ".join(filter(None, [part["kind"], part["value"], *part["about"]]))]
            for part in record["parts"]
        ],
        "unknown": record["unknown"],
        "checks": [{"key": f"check {one}", "text": notes[one]} for one in CHECKS],
        "between": [event["text"] for event in record["between"]],
        "cautions": record["cautions"],
        "notes": notes,
    }


def to_tick(said: dict[str, Any]) -> dict[str, str]:
    """Return what is to be done on a printed sheet, by key."""
    rows = [
        *(step for stage in said["stages"] for step in stage["steps"]),
        *(row for one in said["contacts"] for row in one["rows"]),
        *said["readings"],
        *said["checks"],
    ]
    return {row["key"]: row["text"] for row in rows}


def sheet_words(record: dict[str, Any]) -> Iterator[str]:
    """Yield the sheet as plain text, line by line."""
    notes = record["notes"]
    yield f"BUILD SHEET  {record['name']}"
    yield "\nIN SOLDERING ORDER"
    stage = ""
    for step in record["steps"]:
        if step["stage"] != stage:
            stage = step["stage"]
            yield f"  {record['stages'][stage]}"
        yield f"    {step['step']:>3}  {step['text']}, {length_text(step)}"
    yield f"  {notes['lengths']}"
    yield "\nCONTINUITY OF THE SWITCHES"
    for name, positions in record["contacts"].items():
        yield f"  {name}"
        for position, groups in positions.items():
            yield f"    {position}: {groups_text(groups)}"
    yield f"  {notes['continuity']}"
    yield "\nMETER AT THE JACK"
    for row in record["readings"]:
        yield f"  {place_text(row)}: {reading_text(row)}; {row['sound'] or 'silent'}; {row['hum_text']}"
    yield f"  {notes['meter']}"
    yield "\nPARTS"
    for part in record["parts"]:
        yield f"  {part['name']}: {', '.join(filter(None, [part['kind'], part['value'], *part['about']]))}"
    if record["unknown"]:
        yield "\nNOT IN THE FILE"
        yield from (f"  {text}." for text in record["unknown"])
    yield "\nCHECK"
    yield from (f"  {notes[one]}" for one in CHECKS)
    if record["between"]:
        yield "\nBETWEEN POSITIONS"
        yield from (f"  {one['text']}" for one in record["between"])
    yield "\nCARE"
    yield from (f"  {line}" for line in record["cautions"])


def length_text(step: dict[str, Any]) -> str:
    """Return a step's length, with a star if it follows from a place."""
    return f"{step['length_mm']} mm{'*' if step['length_from'] == 'place' else ''}"


def groups_text(groups: list[list[str]]) -> str:
    """Return lugs that a switch joins in words."""
    return ", ".join("–".join(group) for group in groups) or "none"


def reading_text(row: dict[str, Any]) -> str:
    """Return a reading with its band."""
    return f"{row['meter']} ({row['band']})" if row["band"] else str(row["meter"])


def place_text(row: dict[str, Any]) -> str:
    """Return the position of a reading, with those of other switches."""
    others = [f"{name} {place}" for name, place in row["switches"].items()]
    return ", ".join([row["position"], *others])


def sound_text(row: dict[str, Any]) -> str:
    """Return what sounds: the label of a position, else its coils."""
    sound = str(row["label"] or row["sound"] or "silent")
    return f"{sound}, {' and '.join(row['against'])} against the others" if row["against"] else sound
