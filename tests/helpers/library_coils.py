"""The numbers of the library's coils, for netlists drawn by hand."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from reference.spice.quantities import si

from dsp.parts.library.index import LIBRARY


def coil_params(entry: str, mark: str) -> dict[str, float]:
    """Return the numbers of a coil of the library under the netlist's names."""
    fields: Mapping[str, Any] = LIBRARY[entry].fields
    (eddy,) = fields["eddy"]
    screening = fields.get("screening", {"share": "0.0001 %", "corner": "1 kHz"})
    found = {
        "r": fields["resistance"], "l": fields["inductance"], "c": fields["capacitance"],
        "share": eddy["share"], "eddy": eddy["corner"],
        "lost": screening["share"], "slow": screening["corner"],
    }  # fmt: skip
    return {f"{name}{mark}": si(value) for name, value in found.items()}
