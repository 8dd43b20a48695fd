"""The build sheet on paper: three pages at most, black on white."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass

from server.documents.build_sheet import BuildSheet
from server.documents.build_sheet_words import printed_record
from server.files.packaged import web_text

PAPERS: Mapping[str, str] = {"a4": "a4", "letter": "us-letter"}
MOST_PAGES = 3
FEWER_PAGES = 2
EASY_PT = 8.0
SIZES_PT = (9.0, 8.5, 8.0, 7.5, 7.0, 6.5, 6.0, 5.5)
"""Sizes of the text: the first of `FEWER_PAGES` down to `EASY_PT`, else the first of `MOST_PAGES`."""
LARGE = ". Too large for {} pages that can be read: {} pages"


@dataclass(frozen=True)
class Fit:
    """How a sheet fits on paper.

    Attributes
    ----------
    size_pt : float
        Size of the text. The smallest that can be read, if more than `MOST_PAGES` are needed.
    """

    size_pt: float
    pages: int

    @property
    def is_large(self) -> bool:
        """Whether more pages are needed than a sheet should have."""
        return self.pages > MOST_PAGES


def sheet_pdf(sheet: BuildSheet, paper: str) -> bytes:
    """Return a build sheet as a PDF document; one that is too large says so.

    Parameters
    ----------
    paper : str
        Key of `PAPERS`.
    """
    import typst  # large, and few commands print

    template, inputs = _template(sheet, paper)
    made = typst.compile(template, format="pdf", sys_inputs=inputs | _as_inputs(fit_sheet(sheet, paper)))
    assert isinstance(made, bytes)  # one document, not a list of pages
    return made


def fit_sheet(sheet: BuildSheet, paper: str) -> Fit:
    """Return the largest text with which a sheet has few pages.

    Parameters
    ----------
    paper : str
        Key of `PAPERS`.
    """
    import typst

    template, inputs = _template(sheet, paper)
    fits: list[Fit] = []
    for size_pt in SIZES_PT:
        as_tried = inputs | _as_inputs(Fit(size_pt, MOST_PAGES))
        found = typst.query(template, "<pages>", field="value", one=True, sys_inputs=as_tried)
        fits.append(Fit(size_pt, json.loads(found)))
        if fits[-1].pages <= (FEWER_PAGES if size_pt > EASY_PT else MOST_PAGES):
            break
    return next((fit for fit in fits if fit.pages <= FEWER_PAGES), None) or next(
        (fit for fit in fits if not fit.is_large), fits[-1]
    )


def _template(sheet: BuildSheet, paper: str) -> tuple[bytes, dict[str, str]]:
    said = {**printed_record(sheet), "fonts": fonts()}
    return web_text("sheet/sheet.typ").encode(), {"sheet": json.dumps(said), "paper": PAPERS[paper]}


def _as_inputs(fit: Fit) -> dict[str, str]:
    large = LARGE.format(MOST_PAGES, fit.pages) if fit.is_large else ""
    return {"size": str(fit.size_pt), "large": large}


def fonts() -> list[str]:
    """Return the families of the page's text that a document can name."""
    found = re.search(r"--text:\s*([^;]+);", web_text("css/tokens.css"))
    assert found is not None  # the page's own tokens
    names = [name.strip().strip('"') for name in found[1].split(",")]
    return [name for name in names if " " in name]
