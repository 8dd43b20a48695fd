"""Labels of a sketch's positions, which go with their sounds."""

from __future__ import annotations

from collections.abc import Sequence

from dsp.lugs.targets import sound_key
from dsp.parts.expression import Expression, parse_expression
from dsp.parts.kinds import is_sensing
from dsp.wiring.model import Wiring


def key_of(wiring: Wiring, expression: Expression | str) -> str:
    """Return a text that all expressions of one sound of a wiring share."""
    parsed = parse_expression(expression) if isinstance(expression, str) else expression
    return sound_key(parsed, {name: is_sensing(part) for name, part in wiring.parts.items()})


def sound_keys(wiring: Wiring) -> dict[str, str]:
    """Return the key of each position's sound; empty without a sketch."""
    if wiring.sketch is None:
        return {}
    return {position: key_of(wiring, sound) for position, sound in wiring.sketch.positions.items()}


def labels_of(wiring: Wiring, expressions: Sequence[str]) -> dict[str, str]:
    """Return the labels that a sketch has for expressions, by number from 1."""
    known = {
        key: wiring.labels[position]
        for position, key in sound_keys(wiring).items()
        if wiring.labels.get(position)
    }
    keys = [key_of(wiring, expression) for expression in expressions]
    return {str(n): known[key] for n, key in enumerate(keys, 1) if key in known}
