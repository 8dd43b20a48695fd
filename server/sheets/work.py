"""Build sheets made in a helper process: the layout and the pages take seconds of computation."""

from __future__ import annotations

from server.documents.build_sheet import BuildSheet, build_sheet
from server.documents.build_sheet_pdf import Fit, fit_sheet, sheet_pdf
from server.files.recent import Recent
from server.files.yaml_text import parse_tree
from server.processes.helper import Helper

LONGEST_S = 60.0
MOST_KEPT = 16
FILE = "wiring"
"""What problems of a draft call the file."""


class Sheets:
    """Makes build sheets; keeps those used last.

    Sheets are kept by the text of their wiring.
    """

    def __init__(self) -> None:
        self._helper = Helper("the build sheet", niceness=0)
        self._kept: Recent[BuildSheet] = Recent(MOST_KEPT)
        self._fits: Recent[Fit] = Recent(MOST_KEPT)

    def sheet(self, text: str) -> BuildSheet:
        """Return the sheet of a wiring's text.

        Raises
        ------
        InputError
            If the text is not a wiring, or part of it is still a sketch.
        TooSlow, Unavailable
            As `Helper.call`.
        """
        return self._kept.get_or_make(text, lambda: self._make(text))

    def pdf(self, text: str, paper: str) -> bytes:
        """Return the sheet of a wiring's text on paper; see `sheet`.

        Parameters
        ----------
        paper : str
            Key of `build_sheet_pdf.PAPERS`.
        """
        made: bytes = self._helper.call(sheet_pdf, self.sheet(text), paper, longest_s=LONGEST_S)
        return made

    def fit(self, text: str, paper: str) -> Fit:
        """Return how the sheet of a wiring's text fits on paper; see `pdf`."""
        return self._fits.get_or_make((text, paper), lambda: self._fit(text, paper))

    def close(self) -> None:
        """End the process."""
        self._helper.close()

    def _make(self, text: str) -> BuildSheet:
        made: BuildSheet = self._helper.call(make_sheet, text, longest_s=LONGEST_S)
        return made

    def _fit(self, text: str, paper: str) -> Fit:
        made: Fit = self._helper.call(fit_sheet, self.sheet(text), paper, longest_s=LONGEST_S)
        return made


def make_sheet(text: str) -> BuildSheet:
    """Make the sheet of a wiring's text; see `build_sheet`."""
    from dsp.wiring.reading.wiring import read_wiring

    return build_sheet(read_wiring(parse_tree(text, FILE), FILE))
