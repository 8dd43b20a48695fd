"""Conditions of a set of positions: the profiles, the orders along the selector, shares in words."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass

from dsp.errors import InputError

ALL = "all"
ANY_DB = math.inf
DARK, NEAR, NECK, THICK = "dark", "near", "neck", "thick"
ORDERS: Mapping[str, str] = {
    NECK: "neck to bridge",
    DARK: "dark to bright",
    THICK: "thick to thin",
    NEAR: "neighbours alike",
}
"""Orders along the selector, in words."""
WIRED, CLEAN = "wired", "clean"
LEVELS: Mapping[str, str] = {WIRED: "as wired", CLEAN: "through clean"}
"""Where the levels of sounds are compared, in words: at the amplifier's input, or as heard behind it."""


@dataclass(frozen=True)
class Profile:
    """Conditions that hold where none are given.

    Attributes
    ----------
    about : str
        For people.
    in_phase : str
        Positions in phase, at least: a number, a share or all.
    window_db : float
        Largest drop below the loudest of all sounds.
    spread_db, step_db : float
        As for `SetRules`.
    usual : bool
        Keep to usual connections.
    plain : bool
        Keep the plain sounds.
    """

    about: str
    in_phase: str = "0"
    window_db: float = 18.0
    spread_db: float = ANY_DB
    step_db: float = ANY_DB
    usual: bool = False
    plain: bool = False
    order: str = DARK


WIDEST, USEFUL = "widest", "useful"
PROFILES: Mapping[str, Profile] = {
    WIDEST: Profile("The sounds that differ most, whatever a builder thinks of them."),
    USEFUL: Profile(
        "Each pickup alone and neighbours together, in phase; usual connections, like levels.",
        in_phase=ALL,
        window_db=ANY_DB,
        spread_db=12.0,
        step_db=6.0,
        usual=True,
        plain=True,
        order=NECK,
    ),
}
"""Levels are our own lines: 6 dB between neighbours is where `presolder check` reports a jump."""


def least_of(text: str, count: int, where: str) -> int:
    """Return how many of some positions a number, a share or ``all`` means.

    Raises
    ------
    InputError
        For another text.

    Examples
    --------
    >>> [least_of(text, 5, "quiet") for text in ("2", "60 %", "50%", "all")]
    [2, 3, 3, 5]
    """
    if text == ALL:
        return count
    found = re.fullmatch(r"(\d{1,3})( ?%)?", text.strip())
    if found is None or (found[2] and int(found[1]) > 100):
        raise InputError(where, f"'{text}'", "a whole number, a share such as 60 %, or all")
    return math.ceil(count * int(found[1]) / 100) if found[2] else int(found[1])
