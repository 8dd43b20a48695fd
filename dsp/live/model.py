"""A position for every knob value, as bytes that a page reads.

Four bytes of length (little endian), a head in JSON of so many bytes, then 32-bit floats (little
endian). `HEAD`, `KNOB`, `PIECE` and `VARIABLE` say what the head holds.

The floats of a piece are its rows: the denominator, then the numerator of each coil that is heard. A row
holds its terms; a term the real parts at all frequencies, then the imaginary ones. At knob values the
first piece counts whose variables all hold. A variable holds if the share of its taper lies from
``first`` up to, without, ``last`` (with it where that is 1), or, at the top, if the knob stands at 10.
With y = (share - first) / (last - first), moved to 1e-9 from the ends, and 0.5 at the top, the weight of
a term is the product over the variables of C(degree, i) y^i (1 - y)^(degree - i), i of the last variable
running first. The response is the weighted numerator over the weighted denominator.
"""

from __future__ import annotations

import json
import struct
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from dsp.circuit.reduction import Complex, Floats
from dsp.circuit.response import respond
from dsp.live.shares import Piece, Variable, fit_pieces
from dsp.parts.pot import KNOB_TOP
from dsp.parts.taper import Taper
from dsp.wiring.model import Setting, Wiring

FORMAT = 1
LOWEST_HZ, HIGHEST_HZ, FREQUENCIES = 4.0, 22_500.0, 140
"""Evenly spread over the logarithm, 6 % apart. Between them a page interpolates the polynomials' values."""
MOST_BYTES = 600_000
"""Of a model. Where more knobs would need more, those that change least stand still."""
TRAVEL = 6
"""Values of a knob at which its effect is judged."""
DEEPEST = 1e-3
"""Of the peak; what a knob changes below this counts no more."""

HEAD = {
    "format": "1",
    "coils": "names of all coils, in the order of the stems",
    "hz": "lowest and highest frequency, and how many lie evenly over the logarithm",
    "knobs": "the knobs of the wiring, see KNOB",
    "still": "names of knobs that stand as offered, since a model with them would be too large",
    "tapers": "each a list of points [knob/10, share], joined by straight lines",
    "pieces": "see PIECE; at any knob values the first that holds counts",
}
KNOB = {
    "name": "as the wiring calls it",
    "value": "0 to 10, as offered",
    "clicks": "whether it clicks at 5",
}
PIECE = {
    "at": "number of the float at which it begins",
    "heard": "indexes of the coils that are not silent",
    "variables": "see VARIABLE",
}
VARIABLE = {
    "knob": "index of the knob",
    "taper": "index of the taper",
    "first": "share at which it begins to hold",
    "last": "share up to which it holds",
    "top": "whether it holds with the knob at 10 alone",
    "degree": "of the polynomial; 0 where the share changes nothing",
}


@dataclass(frozen=True)
class LiveModel:
    """The responses of a position at every knob value.

    Attributes
    ----------
    setting : Setting
        As offered.
    still : tuple of str
        Knobs that stand as offered, for size.
    pieces : tuple of Piece
        Their tables have the digits that the bytes hold.
    """

    coils: tuple[str, ...]
    setting: Setting
    clicks: Mapping[str, bool]
    still: tuple[str, ...]
    pieces: tuple[Piece, ...]

    @property
    def frequencies_hz(self) -> Floats:
        """The frequencies, shape (n_freqs,)."""
        return model_frequencies()

    def respond(self, knobs: Mapping[str, float]) -> Complex:
        """Return the responses at knob values, shape (n_coils, n_freqs)."""
        values = {**self.setting.knobs, **knobs}
        piece = next(one for one in self.pieces if all(v.holds(values[v.knob]) for v in one.variables))
        return piece.respond(values, len(self.coils))


def model_frequencies() -> Floats:
    """Return the frequencies of every model, shape (n_freqs,)."""
    return np.geomspace(LOWEST_HZ, HIGHEST_HZ, FREQUENCIES)


def make_model(wiring: Wiring, setting: Setting, *, most_bytes: int = MOST_BYTES) -> LiveModel:
    """Fit a position for every knob value.

    Parameters
    ----------
    setting : Setting
        As offered; position and switches stay.
    most_bytes : int
        If the model would be larger, the knob that changes the responses least stands still, then the
        next.
    """
    turned, still = list(wiring.knobs), []
    ranked = None
    while True:
        pieces = fit_pieces(wiring, setting, turned, model_frequencies())
        if sum(2 * 4 * piece.table.size for piece in pieces) <= most_bytes or not turned:
            break
        ranked = _by_effect(wiring, setting) if ranked is None else ranked
        still.append(next(knob for knob in ranked if knob in turned))
        turned.remove(still[-1])
    clicks = {knob: wiring.clicks(knob) for knob in wiring.knobs}
    knobs = {knob: setting.knob(knob) for knob in wiring.knobs}
    whole = wiring.setting(setting.position, knobs, setting.switches)
    single = tuple(Piece(one.variables, one.heard, one.table.astype(np.complex64)) for one in pieces)
    return LiveModel(tuple(wiring.coils), whole, clicks, tuple(still), single)


def _by_effect(wiring: Wiring, setting: Setting) -> list[str]:
    """Knobs by how much their whole travel changes the responses at this setting, the least first."""
    effect = {}
    for knob in wiring.knobs:
        settings = [
            wiring.setting(setting.position, {**setting.knobs, knob: float(value)}, setting.switches)
            for value in np.linspace(0.0, KNOB_TOP, TRAVEL)
        ]
        level = np.abs(respond(wiring, settings, model_frequencies()).coil)
        floor = max(DEEPEST * float(level.max(initial=0.0)), 1e-12)
        effect[knob] = float(np.mean(np.ptp(np.log10(np.maximum(level, floor)), axis=0)))
    return sorted(effect, key=lambda knob: effect[knob])


def pack_model(model: LiveModel) -> bytes:
    """Write a model; the head of this module tells the format."""
    tapers: list[Taper] = []
    knobs = list(model.setting.knobs)
    rows, parts, at = [], [], 0
    for piece in model.pieces:
        variables = [_variable_row(one, knobs, tapers) for one in piece.variables]
        rows.append({"at": at, "heard": list(piece.heard), "variables": variables})
        both = np.stack([piece.table.real, piece.table.imag], axis=2)
        parts.append(np.ascontiguousarray(both, "<f4").tobytes())
        at += both.size
    head = {
        "format": FORMAT,
        "coils": list(model.coils),
        "hz": [LOWEST_HZ, HIGHEST_HZ, FREQUENCIES],
        "knobs": [
            {"name": name, "value": value, "clicks": model.clicks[name]}
            for name, value in model.setting.knobs.items()
        ],
        "still": list(model.still),
        "tapers": [[list(point) for point in taper.points] for taper in tapers],
        "pieces": rows,
    }
    text = json.dumps(head, ensure_ascii=False, separators=(",", ":")).encode()
    text += b" " * (-len(text) % 4)
    return struct.pack("<I", len(text)) + text + b"".join(parts)


def _variable_row(variable: Variable, knobs: Sequence[str], tapers: list[Taper]) -> dict[str, Any]:
    if variable.taper not in tapers:
        tapers.append(variable.taper)
    return {
        "knob": knobs.index(variable.knob),
        "taper": tapers.index(variable.taper),
        "first": variable.first,
        "last": variable.last,
        "top": variable.at_top,
        "degree": variable.degree,
    }
