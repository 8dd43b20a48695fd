"""The tables of a score's fields. The reader, errors and documents follow them."""

from __future__ import annotations

from dsp.documents.field import Field, quantity
from dsp.takes.score import HANDS

LONGEST_S = 1800.0
"""Longest take, s: as for recordings."""
SHORTEST_S = 0.05
SOONEST_S = 0.02
"""Shortest time between two plucks of one string."""
HIGHEST_FRET = 36
MOST_EVENTS = 5000
"""Most plucks; a strum counts one per string that it strikes."""
MOST_STRINGS = 24
BEATS = (0.0, 1e5)

TOP_FIELDS: tuple[Field, ...] = (
    quantity("tempo", "number", (10.0, 500.0), "beats per minute"),
    Field("events", "events", "the plucks and strums", required=True),
    Field("courses", "count", "strings the score is written for", "", 1, MOST_STRINGS),
    Field("defaults", "defaults", "what events say unless they say otherwise"),
    Field("seed", "count", "of the humanising", "", 0, 999_999_999, default="0"),
    quantity("timing", "time", (0.0, 0.1), "spread of the onsets (standard deviation)", "4 ms"),
    quantity("dynamics", "level", (0.0, 12.0), "spread of the forces (standard deviation)", "1 dB"),
    quantity("place", "length", (0.0, 0.05), "spread of the plucks' places (standard deviation)", "4 mm"),
    quantity("angle", "number", (0.0, 45.0), "spread of the strokes' directions, degrees", "14"),
    quantity("tuning", "number", (0.0, 50.0), "spread of the strings' tuning, cents", "1"),
    quantity("tail", "time", (0.0, 60.0), "sound after the last event", "2 s"),
    Field(
        "curvature",
        "curvature",
        "off, or {distance, power}: the magnets' field falls with distance",
        default="on",
    ),
    Field("noises", "choice", "of hands: the pick's click", choices=("on", "off"), default="on"),
)

STROKE_FIELDS: tuple[Field, ...] = (
    quantity("force", "number", (0.0, 1.0), "0 to 1, 1 is a hard stroke", "0.6"),
    quantity("pluck_at", "length", (1e-3, 3.0), "from the bridge", "0.188 of the scale"),
    quantity("mute", "number", (0.0, 1.0), "palm at the bridge, 0 to 1", "0"),
    Field("up", "choice", "up-stroke", choices=("true", "false"), default="false"),
    quantity(
        "length", "number", (1e-3, BEATS[1]), "beats until the left hand stops it", "until plucked again"
    ),
    Field("hand", "choice", "what plucks", choices=HANDS, default="pick"),
    Field("dead", "choice", "the left hand lies on the strings", choices=("true", "false"), default="false"),
)
"""Fields of any event, and of ``defaults``."""

NOTE_FIELDS: tuple[Field, ...] = (
    quantity("beat", "number", BEATS, "when, in beats from 0"),
    Field("string", "count", "string, 1 is the highest", "", 1, MOST_STRINGS, required=True),
    Field("fret", "count", "0 is the open string", "", 0, HIGHEST_FRET, default="0"),
    *STROKE_FIELDS,
    Field(
        "slur",
        "choice",
        "hammer-on or pull-off from the note before",
        choices=("true", "false"),
        default="false",
    ),
    Field("harmonic", "count", "partial that a light touch leaves ringing", "", 2, 12),
    Field("bend", "glide", "{to: semitones, after: beats, over: beats}: by tension"),
    Field("slide", "glide", "{to: fret, after: beats, over: beats}: along the string"),
    Field("vibrato", "vibrato", "{depth: semitones, rate: Hz, after: beats}"),
)
STRUM_FIELDS: tuple[Field, ...] = (
    quantity("beat", "number", BEATS, "when, in beats from 0"),
    Field(
        "frets",
        "frets",
        "a fret per string, lowest first; x is not struck, m is muted by the left hand",
        required=True,
    ),
    quantity("spread", "time", (0.0, 2.0), "from the first string struck to the last", "30 ms"),
    Field("reach", "count", "strings that the stroke catches, from where it starts", "", 1, MOST_STRINGS),
    *STROKE_FIELDS,
)
BEND_FIELDS: tuple[Field, ...] = (
    quantity("to", "number", (-2.0, 5.0), "semitones from the note"),
    quantity("after", "number", BEATS, "beats after the pluck", "0"),
    quantity("over", "number", (1e-3, BEATS[1]), "length of the movement, beats", "0.5"),
)
SLIDE_FIELDS: tuple[Field, ...] = (
    Field("to", "count", "fret at which it ends", "", 0, HIGHEST_FRET, required=True),
    *BEND_FIELDS[1:],
)
CURVATURE_FIELDS: tuple[Field, ...] = (
    quantity("distance", "length", (1e-3, 0.1), "from the string to the pole of the law", "11.25 mm"),
    quantity("power", "number", (0.0, 16.0), "of the distance", "8"),
)
PLAYER_FIELDS = tuple(field for field in TOP_FIELDS if field.name not in ("tempo", "events"))
"""Fields of the player, which a MIDI file does not hold."""
VIBRATO_FIELDS: tuple[Field, ...] = (
    quantity("depth", "number", (0.0, 2.0), "semitones"),
    quantity("rate", "frequency", (0.5, 15.0), "Hz", "5.5 Hz"),
    quantity("after", "number", BEATS, "beats after the pluck", "0.25"),
)
