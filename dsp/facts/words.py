"""Plain words for a sound, by a fixed table: numbers in, the same words for every wiring.

The limits are our own, set by listening to the demo's positions; no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

ROUND, FULL, OPEN, BRIGHT = "round", "full", "open", "bright"
BRIGHTNESS: tuple[tuple[float, str], ...] = ((3.2, ROUND), (4.9, FULL), (6.4, OPEN), (float("inf"), BRIGHT))
"""Centroid of the amplitude spectrum over the mean pitch of the open strings: below the limit, the word."""
THIN_BELOW = 0.35
"""Share of the power below twice the mean pitch under which a sound is called thin."""
NASAL_ABOVE = 0.2
"""Share of the power from 5 to 14 times the mean pitch above which it is called nasal."""
LEVEL: tuple[tuple[float, str], ...] = (
    (-12.0, "much softer"),
    (-6.0, "softer"),
    (-2.0, "a little softer"),
    (float("inf"), ""),
)
"""dB re the loudest of the set: below the limit, the word."""
HUM = {
    "none": "quiet background",
    "little": "a little hum near lamps and transformers",
    "hums": "some hum near lamps and transformers",
    "silent": "silent",
}


@dataclass(frozen=True)
class WordInputs:
    """What words are chosen by.

    Attributes
    ----------
    brightness : float
        Centroid over mean pitch.
    low_share, middle_share : float
        Of the power.
    level_db : float
        Re any common reference.
    hum : str
        A key of `HUM`.
    """

    brightness: float
    low_share: float
    middle_share: float
    level_db: float
    hum: str


def sound_words(sounds: Sequence[WordInputs]) -> tuple[tuple[str, ...], ...]:
    """Words for each of a set of sounds.

    Returns
    -------
    tuple of tuple of str
        Tone first, then level (nothing for the loudest and those near it), then hum.
    """
    loudest_db = max((sound.level_db for sound in sounds if sound.hum != "silent"), default=0.0)
    return tuple(_words(sound, loudest_db) for sound in sounds)


def _words(sound: WordInputs, loudest_db: float) -> tuple[str, ...]:
    if sound.hum == "silent":
        return (HUM["silent"],)
    tone = [_below(BRIGHTNESS, sound.brightness)]
    if sound.low_share < THIN_BELOW:
        tone.append("thin")
    if sound.middle_share > NASAL_ABOVE:
        tone.append("nasal")
    level = _below(LEVEL, sound.level_db - loudest_db)
    return (
        " and ".join(tone[-2:]) if len(tone) > 1 else tone[0],
        *([level] if level else []),
        HUM[sound.hum],
    )


def _below(table: Sequence[tuple[float, str]], value: float) -> str:
    """The word of the first limit that a value is below."""
    return next(word for limit, word in table if value < limit)
