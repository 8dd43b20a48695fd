"""Generic sets of strings for a new instrument: notes, gauges, and which are wound.

The tunings and gauges are common practice. The choice among them is our own, and no set is a
product's. The gauge of the highest string distinguishes sets of six strings.
"""

from __future__ import annotations

from dataclasses import dataclass

from dsp.errors import InputError, nearest


@dataclass(frozen=True)
class StringSet:
    """A set of strings.

    Attributes
    ----------
    name : str
        The set's key.
    title : str
        A description for people.
    strings : tuple of tuple of str
        Note and gauge of each string in the form of a wiring file, lowest first. A wound string
        has a third text, ``wound``.
    scale : str
        Nut to bridge of a usual instrument with such strings (common practice).
    """

    name: str
    title: str
    strings: tuple[tuple[str, ...], ...]
    scale: str = "648 mm"

    def written(self) -> tuple[str, ...]:
        """Return each string in the form of a wiring file, lowest first."""
        return tuple(_written(*string) for string in self.strings)


def _written(note: str, gauge: str, wound: str = "") -> str:
    return f"{{note: {note}, gauge: {gauge}{', wound: true' if wound else ''}}}"


_W = "wound"
_UPPER = (("G3", "0.017 in"), ("B3", "0.013 in"), ("E4", "0.010 in"))
_LOWER = (("E2", "0.046 in", _W), ("A2", "0.036 in", _W), ("D3", "0.026 in", _W))

STRING_SETS: dict[str, StringSet] = {
    one.name: one
    for one in (
        StringSet("six_light", "Six strings E2 to E4, light (0.010 to 0.046 in)", _LOWER + _UPPER),
        StringSet(
            "six_medium",
            "Six strings E2 to E4, medium (0.011 to 0.049 in)",
            (
                ("E2", "0.049 in", _W),
                ("A2", "0.038 in", _W),
                ("D3", "0.028 in", _W),
                ("G3", "0.018 in"),
                ("B3", "0.014 in"),
                ("E4", "0.011 in"),
            ),
        ),
        StringSet(
            "six_heavy_wound_third",
            "Six strings E2 to E4, heavy with a wound third (0.012 to 0.052 in)",
            (
                ("E2", "0.052 in", _W),
                ("A2", "0.042 in", _W),
                ("D3", "0.032 in", _W),
                ("G3", "0.024 in", _W),
                ("B3", "0.016 in"),
                ("E4", "0.012 in"),
            ),
        ),
        StringSet(
            "seven",
            "Seven strings B1 to E4 (0.010 to 0.059 in)",
            (("B1", "0.059 in", _W), *_LOWER, *_UPPER),
        ),
        StringSet(
            "baritone",
            "Baritone, six strings B1 to B3 (0.014 to 0.062 in)",
            (
                ("B1", "0.062 in", _W),
                ("E2", "0.045 in", _W),
                ("A2", "0.034 in", _W),
                ("D3", "0.024 in", _W),
                ("F#3", "0.018 in"),
                ("B3", "0.014 in"),
            ),
            "686 mm",
        ),
        StringSet(
            "twelve",
            "Twelve strings, six courses E to E (0.009 to 0.046 in)",
            (
                ("E2", "0.046 in", _W),
                ("E3", "0.026 in", _W),
                ("A2", "0.036 in", _W),
                ("A3", "0.018 in"),
                ("D3", "0.026 in", _W),
                ("D4", "0.012 in"),
                ("G3", "0.017 in"),
                ("G4", "0.009 in"),
                ("B3", "0.013 in"),
                ("B3", "0.013 in"),
                ("E4", "0.010 in"),
                ("E4", "0.010 in"),
            ),
        ),
    )
}
"""Every set by name, in the order shown."""


def string_set(name: str, where: str) -> StringSet:
    """Return a set of strings by name.

    Parameters
    ----------
    where : str
        The place, for the error message.

    Raises
    ------
    InputError
        If no set has that name.

    Examples
    --------
    >>> string_set("six_light", "strings").written()[0]
    '{note: E2, gauge: 0.046 in, wound: true}'
    """
    if name not in STRING_SETS:
        raise InputError(where, f"'{name}'", ", ".join(STRING_SETS), nearest(name, STRING_SETS))
    return STRING_SETS[name]
