"""What finished guitars need computed, in a helper process: bands, and reports as pages."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from dsp.checking.bands import Band
from server.built.excited import ExcitedSound, find_sound
from server.documents.built_report import report_pdf
from server.files.recent import Recent
from server.files.yaml_text import parse_tree
from server.measurements.finished import plan_bands
from server.processes.helper import Helper

LONGEST_S = 60.0
MOST_KEPT = 16
FILE = "wiring"
"""What problems of a version call the file."""


class BuiltWork:
    """Finds the bands of wirings and sets reports.

    Bands used last are kept by their wiring's text.
    """

    def __init__(self) -> None:
        self._helper = Helper("the finished guitar", niceness=0)
        self._kept: Recent[tuple[Band, ...]] = Recent(MOST_KEPT)
        self._excited: Recent[ExcitedSound] = Recent(MOST_KEPT)

    def bands(self, text: str) -> tuple[Band, ...]:
        """Return what to read of a wiring's text, each with its band.

        Raises
        ------
        InputError
            If the text is not a wiring.
        TooSlow, Unavailable
            As `Helper.call`.
        """
        return self._kept.get_or_make(text, lambda: self._make(text))

    def excited(self, text: str) -> ExcitedSound:
        """Return what sound instruments of a wiring's text read under an exciter.

        Raises
        ------
        InputError
            If the text is not a wiring.
        TooSlow, Unavailable
            As `Helper.call`.
        """
        return self._excited.get_or_make(text, lambda: self._find_excited(text))

    def report(
        self, instrument: Mapping[str, Any], workshop: Mapping[str, str], cautions: Sequence[str], paper: str
    ) -> bytes:
        """Return the report of an instrument; see `report_pdf`.

        Raises
        ------
        TooSlow, Unavailable
            As `Helper.call`.
        """
        made: bytes = self._helper.call(
            report_pdf, instrument, workshop, cautions, paper, longest_s=LONGEST_S
        )
        return made

    def close(self) -> None:
        """End the process."""
        self._helper.close()

    def _make(self, text: str) -> tuple[Band, ...]:
        made: tuple[Band, ...] = self._helper.call(make_bands, text, longest_s=LONGEST_S)
        return made

    def _find_excited(self, text: str) -> ExcitedSound:
        made: ExcitedSound = self._helper.call(make_excited, text, longest_s=LONGEST_S)
        return made


def make_excited(text: str) -> ExcitedSound:
    """Draw what a wiring's text reads under an exciter; see `find_sound`."""
    from dsp.wiring.reading.wiring import read_wiring

    return find_sound(read_wiring(parse_tree(text, FILE), FILE))


def make_bands(text: str) -> tuple[Band, ...]:
    """Find the bands of a wiring's text; see `plan_bands`."""
    from dsp.wiring.reading.wiring import read_wiring

    return plan_bands(read_wiring(parse_tree(text, FILE), FILE))
