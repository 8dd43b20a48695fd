"""The build sheet on paper: three pages at most, black on white."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping

from server.documents.build_sheet import BuildSheet
from server.documents.build_sheet_words import printed_record
from server.files.packaged import web_text

PAPERS: Mapping[str, str] = {"a4": "a4", "letter": "us-letter"}
MOST_PAGES = 3
FEWER_PAGES = 2
EASY_PT = 8.0
SIZES_PT = (9.0, 8.5, 8.0, 7.5, 7.0, 6.5, 6.0, 5.5, 5.0)
"""Sizes of the text: the first of `FEWER_PAGES` down to `EASY_PT`, else the first of `MOST_PAGES`."""


def sheet_pdf(sheet: BuildSheet, paper: str) -> bytes:
    """Return a build sheet as a PDF document.

    Parameters
    ----------
    paper : str
        Key of `PAPERS`.
    """
    import typst  # large, and few commands print

    template = web_text("sheet/sheet.typ").encode()
    inputs = {"sheet": json.dumps({**printed_record(sheet), "fonts": fonts()}), "paper": PAPERS[paper]}
    counts: dict[float, int] = {}
    for size_pt in SIZES_PT:
        inputs["size"] = str(size_pt)
        found = typst.query(template, "<pages>", field="value", one=True, sys_inputs=inputs)
        counts[size_pt] = json.loads(found)
        if counts[size_pt] <= (FEWER_PAGES if size_pt > EASY_PT else MOST_PAGES):
            break
    inputs["size"] = str(
        next((pt for pt, pages in counts.items() if pages <= FEWER_PAGES), None)
        or next((pt for pt, pages in counts.items() if pages <= MOST_PAGES), SIZES_PT[-1])
    )
    made = typst.compile(template, format="pdf", sys_inputs=inputs)
    assert isinstance(made, bytes)  # one document, not a list of pages
    return made


def fonts() -> list[str]:
    """Return the families of the page's text that a document can name."""
    found = re.search(r"--text:\s*([^;]+);", web_text("css/tokens.css"))
    assert found is not None  # the page's own tokens
    names = [name.strip().strip('"') for name in found[1].split(",")]
    return [name for name in names if " " in name]
