"""A chart as numbers, as the search finds it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Wired:
    """Which lug is soldered to which joint, and each position's sound.

    Attributes
    ----------
    joining : int
        Number of the leads' joining.
    joints : tuple of int or None
        Per lug, the label of its joint; from the number of ends on, a joint of lugs alone. None for
        a lug that is left free.
    sounds : tuple of int
        Sound of each position.
    turned : tuple of bool
        Whether it is turned round.
    distance_db : float
        Smallest distance between two different sounds.
    """

    joining: int
    joints: tuple[int | None, ...]
    sounds: tuple[int, ...]
    turned: tuple[bool, ...]
    distance_db: float
