"""Plain words for a sound. One fixed table maps numbers to words for every wiring.

The limits are our own, set by listening to the demo's positions. They have no published source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

ROUND, FULL, OPEN, BRIGHT = "round", "full", "open", "bright"
BRIGHTNESS: tuple[tuple[float, str], ...] = ((3.2, ROUND), (4.9, FULL), (6.4, OPEN), (float("inf"), BRIGHT))
"""Each limit of the centroid over the open strings' mean pitch, and the word for values below it."""
THIN_BELOW = 0.35
"""A sound is thin when its share of power below twice the mean pitch is under this."""
NASAL_ABOVE = 0.2
"""A sound is nasal when its share of power from 5 to 14 times the mean pitch is above this."""
LEVEL: tuple[tuple[float, str], ...] = (
    (-12.0, "much softer"),
    (-6.0, "softer"),
    (-2.0, "a little softer"),
    (float("inf"), ""),
)
"""Each limit in dB re the loudest of the set, and the word for levels below it."""
HUM = {
    "none": "quiet background",
    "little": "a little hum near lamps and transformers",
    "hums": "some hum near lamps and transformers",
    "silent": "silent",
}


@dataclass(frozen=True)
class WordInputs:
    """The facts that select a sound's words.

    Attributes
    ----------
    brightness : float
        Centroid divided by the open strings' mean pitch.
    low_share, middle_share : float
        Shares of the chord's power; see `PositionFacts`.
    level_db : float
        Level re any reference common to the set.
    hum : str
        A key of `HUM`.
    """

    brightness: float
    low_share: float
    middle_share: float
    level_db: float
    hum: str


def sound_words(sounds: Sequence[WordInputs]) -> tuple[tuple[str, ...], ...]:
    """Return the words for each sound of a set.

    Returns
    -------
    tuple of tuple of str
        Tone first, then level (omitted for the loudest and those near it), then hum.

    Examples
    --------
    >>> warm = WordInputs(brightness=3.0, low_share=0.8, middle_share=0.05, level_db=-2.0, hum="none")
    >>> sharp = WordInputs(brightness=7.0, low_share=0.3, middle_share=0.1, level_db=-9.5, hum="hums")
    >>> for words in sound_words([warm, sharp]):
    ...     print(", ".join(words))
    round, quiet background
    bright and thin, softer, some hum near lamps and transformers
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
    """Return the word of the first limit above a value."""
    return next(word for limit, word in table if value < limit)
