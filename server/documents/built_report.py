"""The report of a finished guitar: one page, black on white."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any

from server.documents.build_sheet_pdf import PAPERS, fonts
from server.files.packaged import web_text

SIZES_PT = (10.0, 9.0, 8.0, 7.0, 6.0)
MOST_ROWS = 100
"""Readings on the page; of more, those beyond their bands come first."""
FEWER_ROWS = (40, 20, 10)
"""Readings on the page where long names leave no room for more in the smallest letters."""
ONE_COLUMN = 50
"""Readings that stand in one column."""
LONGEST_NOTES = 500
"""Characters of notes on the page."""
MOST_LINES = 12
"""Lines of notes on the page, as they were written."""
HEAD = ("Setting, reading", "Band", "Read", "Judged")
FOOT = "Of instruments whose parts keep their tolerances, 97.5 % keep all of these bands."
FOOT_EXCITED = (
    "Of instruments whose parts keep their tolerances, 97.5 % keep all bands in ohms, and 97.5 % all those "
    "under the exciter: about 95 % keep both."
)
SIDES_FREE = "either side of it faced the coils: signs say nothing from coil to coil"


def report_pdf(
    instrument: Mapping[str, Any], workshop: Mapping[str, str], cautions: Sequence[str], paper: str
) -> bytes:
    """Return the report of a built instrument as a PDF of one page.

    Parameters
    ----------
    instrument : mapping of str to Any
        As the workshop's record keeps it.
    workshop : mapping of str to str
        ``name`` and ``contact``; either may be empty.
    paper : str
        Key of `PAPERS`.
    """
    import typst  # large, and few requests print

    template = web_text("sheet/report.typ").encode()
    ways = [(MOST_ROWS, size_pt) for size_pt in SIZES_PT] + [(rows, SIZES_PT[-1]) for rows in FEWER_ROWS]
    for rows, size_pt in ways:
        record = report_record(instrument, workshop, cautions, most_rows=rows)
        said = json.dumps({**record, "fonts": fonts()})
        sized = {"report": said, "paper": PAPERS[paper], "size": str(size_pt)}
        if json.loads(typst.query(template, "<pages>", field="value", one=True, sys_inputs=sized)) == 1:
            break
    made = typst.compile(template, format="pdf", sys_inputs=sized)
    assert isinstance(made, bytes)  # one document, not a list of pages
    return made


def report_record(
    instrument: Mapping[str, Any],
    workshop: Mapping[str, str],
    cautions: Sequence[str],
    *,
    most_rows: int = MOST_ROWS,
) -> dict[str, Any]:
    """Return all that the report says, as `report_pdf` takes it."""
    readings = instrument["readings"]
    shown = readings if len(readings) <= most_rows else _outside_first(readings)[:most_rows]
    version = f"version {instrument['version_number']}"
    signed = f", signed for on {instrument['signed']}" if instrument["signed"] else ", not signed for"
    verdict = str(instrument["verdict"]["text"])
    hidden = len(readings) - len(shown)
    excited = any(one["what"].startswith("exciter ") for one in readings)
    facts = (
        ("Serial number", instrument["serial"]),
        ("Read on", instrument["day"]),
        ("Wiring", f"{instrument['wiring']}, {version}{signed}"),
        ("Commission", ", ".join(filter(None, (instrument["title"], instrument["client"])))),
        *([("Exciter", SIDES_FREE)] if excited and not instrument["verdict"].get("sides_kept", True) else []),
    )
    return {
        "title": f"Guitar {instrument['serial']}: what it reads at its jack",
        "workshop": dict(workshop),
        "facts": [{"name": name, "text": text} for name, text in facts],
        "verdict": f"{verdict[:1].upper()}{verdict[1:]}.",
        "notes": _shortened(str(instrument["notes"])),
        "head": HEAD,
        "tables": _columns([_row(one) for one in shown]),
        "more": f"{hidden} more readings are in the workshop's record." if hidden else "",
        "heed": "Heed when it is read again:",
        "cautions": list(cautions),
        "foot": FOOT_EXCITED if excited else FOOT,
    }


def _shortened(notes: str) -> str:
    """Return as much of notes as the page has room for."""
    lines = notes.splitlines()
    shown = "\n".join(lines[:MOST_LINES])[:LONGEST_NOTES]
    return shown if shown == "\n".join(lines) else f"{shown}…"


def _outside_first(readings: Sequence[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    return sorted(readings, key=lambda one: one["side"] == "within")


def _columns(rows: list[tuple[str, ...]]) -> list[list[tuple[str, ...]]]:
    """Return rows as one table, or as two of the same height."""
    half = (len(rows) + 1) // 2
    return [rows] if len(rows) <= ONE_COLUMN else [rows[:half], rows[half:]]


def _row(one: Mapping[str, Any]) -> tuple[str, ...]:
    what = f"|Z| {one['what']}" if one["what"][:1].isdigit() else one["what"]
    return f"{one['setting']}, {what}", one["band"], one["read"], one["side"]
