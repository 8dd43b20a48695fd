"""Bands of finished guitars, in a helper process: thousands of drawn instruments are computed for them."""

from __future__ import annotations

from dsp.checking.bands import Band
from server.files.recent import Recent
from server.files.yaml_text import parse_tree
from server.measurements.finished import plan_bands
from server.processes.helper import Helper

LONGEST_S = 60.0
MOST_KEPT = 16
FILE = "wiring"
"""What problems of a version call the file."""


class Bands:
    """Finds the bands of wirings; keeps those used last, by their text."""

    def __init__(self) -> None:
        self._helper = Helper("the bands", niceness=0)
        self._kept: Recent[tuple[Band, ...]] = Recent(MOST_KEPT)

    def find(self, text: str) -> tuple[Band, ...]:
        """Return what to read of a wiring's text, each with its band.

        Raises
        ------
        InputError
            If the text is not a wiring.
        TooSlow, Unavailable
            As `Helper.call`.
        """
        return self._kept.get_or_make(text, lambda: self._make(text))

    def close(self) -> None:
        """End the process."""
        self._helper.close()

    def _make(self, text: str) -> tuple[Band, ...]:
        made: tuple[Band, ...] = self._helper.call(make_bands, text, longest_s=LONGEST_S)
        return made


def make_bands(text: str) -> tuple[Band, ...]:
    """Find the bands of a wiring's text; see `plan_bands`."""
    from dsp.wiring.reading.wiring import read_wiring

    return plan_bands(read_wiring(parse_tree(text, FILE), FILE))
