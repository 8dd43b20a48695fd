"""Reading quantities for the reference only: a few lines that share nothing with the product."""

from __future__ import annotations

import re

_PREFIX = {"p": 1e-12, "n": 1e-9, "u": 1e-6, "µ": 1e-6, "m": 1e-3, "": 1.0, "k": 1e3, "M": 1e6}
_PLAIN = re.compile(
    r"(?P<number>-?\d*\.?\d+(?:e-?\d+)?) *(?P<prefix>[pnuµmkM]?)(?P<unit>Ω|ohm|H|F|Hz|m|F/m|)"
)
_INFIX = re.compile(r"(?P<whole>\d+)(?P<mark>[pnuµmkMRH])(?P<part>\d+)")


def si(value: object) -> float:
    """A quantity in SI units: `4.1 kΩ`, `2H5`, `4k7`, `.022uF`, `18 %`, `0.046 in`, or a number."""
    if isinstance(value, (int, float)):
        return float(value)
    text = str(value).strip()
    if text.endswith("%"):
        return float(text[:-1]) / 100.0
    if text.endswith(" in"):
        return float(text[:-3]) * 0.0254
    if infix := _INFIX.fullmatch(text):
        mark = infix["mark"] if infix["mark"] not in "RH" else ""
        return float(f"{infix['whole']}.{infix['part']}") * _PREFIX[mark]
    plain = _PLAIN.fullmatch(text)
    if plain is None:
        raise ValueError(f"reference files: cannot read the quantity {text!r}")
    if plain["prefix"] == "m" and plain["unit"] == "":  # `5 m` is five metres
        return float(plain["number"])
    return float(plain["number"]) * _PREFIX[plain["prefix"]]
