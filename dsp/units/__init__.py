"""Read and print the trade's quantities: 4k7, 22n, .022uF, 2H5, 500 kΩ, 18 %.

One table, `DIMENSIONS`, drives the reader, the printer and the help pages. This room checks
no ranges: each part states its own.
"""

from __future__ import annotations

from dsp.units.dimension import Dimension, Unit
from dsp.units.printing import count_words, show
from dsp.units.reading import parse
from dsp.units.table import DIMENSIONS

__all__ = ["DIMENSIONS", "Dimension", "Unit", "count_words", "parse", "show"]
