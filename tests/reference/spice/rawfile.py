"""Binary raw files of ngspice: plots of complex vectors, one after another."""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Complexes = NDArray[np.complex128]

_HEADER = re.compile(
    rb"Title:.*?Flags: (?P<flags>\w+)[^\n]*\nNo\. Variables: *(?P<variables>\d+)\s*\n"
    rb"No\. Points: *(?P<points>\d+)\s*\n(?P<names>.*?)Binary:\n",
    re.DOTALL,
)


@dataclass(frozen=True)
class Plot:
    """The vectors of one analysis, by lower-case name; `frequency` is among them."""

    vectors: dict[str, Complexes]

    @property
    def freqs_hz(self) -> NDArray[np.float64]:
        """Frequencies of the sweep, Hz."""
        return self.vectors["frequency"].real


def parse(data: bytes) -> list[Plot]:
    """Every plot of a raw file, full double precision.

    Raises
    ------
    ValueError
        If bytes are left that are no plot, or a plot is not complex.
    """
    plots, start = [], 0
    while start < len(data):
        header = _HEADER.match(data, start)
        if header is None:
            raise ValueError(f"raw file: no plot at byte {start}: {data[start : start + 60]!r}")
        if header["flags"] != b"complex":
            raise ValueError(f"raw file: flags {header['flags']!r}, expected complex")
        plot, start = _plot(data, header)
        plots.append(plot)
    return plots


def _plot(data: bytes, header: re.Match[bytes]) -> tuple[Plot, int]:
    n_variables, n_points = int(header["variables"]), int(header["points"])
    names = [line.split()[1] for line in header["names"].decode().splitlines() if line.startswith("\t")]
    end = header.end() + 16 * n_variables * n_points
    table = np.frombuffer(data[header.end() : end], dtype="<c16").reshape(n_points, n_variables)
    return Plot({name.lower(): table[:, i].copy() for i, name in enumerate(names)}), end
