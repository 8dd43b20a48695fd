"""A score: plucks in beats, independent of any player and instrument."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from dsp.strings.curvature import Curvature
from dsp.strings.pluck import HANDS as _HANDS

HANDS = tuple(_HANDS)


@dataclass(frozen=True)
class Glide:
    """A pitch that moves during a note.

    Attributes
    ----------
    semitones : float
        From the note's own pitch; tension makes a bend, the sounding length a slide.
    after, over : float
        Beats from the pluck to the start of the movement, and its length.
    """

    semitones: float
    after: float = 0.0
    over: float = 0.5


@dataclass(frozen=True)
class Vibrato:
    """A repeated bend up and back, from some time after the pluck."""

    semitones: float
    rate_hz: float = 5.5
    after: float = 0.25


@dataclass(frozen=True)
class Event:
    """One pluck of one string.

    Attributes
    ----------
    beat : float
        From 0.
    string : int
        1 is the highest, as players count; with ``courses`` the number of the course.
    fret : int
        0 is the open string.
    force : float
        0 to 1; 1 is a hard stroke.
    pluck_at_m : float or None
        From the bridge; None for the usual place.
    mute : float
        Pressure of the palm at the bridge, 0 to 1.
    up : bool
        An up-stroke.
    length : float or None
        Beats until the left hand stops it; None rings until the next pluck of the string.
    hand : str
        What plucks: a key of `HANDS`.
    harmonic : int
        Partial that a light touch leaves ringing; 1 for none.
    bent : tuple of (float, float)
        Beats after the pluck and semitones by tension, joined by straight lines: a bend of any shape.
    slur : bool
        A hammer-on or, onto a lower fret, a pull-off: the left hand sounds it.
    dead : bool
        The left hand lies on the string: a thud without pitch.
    delay_s : float
        Delay behind the beat: the place in a strum.
    line : int
        Line of the file.
    """

    beat: float
    string: int
    fret: int = 0
    force: float = 0.6
    pluck_at_m: float | None = None
    mute: float = 0.0
    up: bool = False
    length: float | None = None
    hand: str = "pick"
    harmonic: int = 1
    delay_s: float = 0.0
    bend: Glide | None = None
    slide: Glide | None = None
    vibrato: Vibrato | None = None
    bent: tuple[tuple[float, float], ...] = ()
    slur: bool = False
    dead: bool = False
    line: int = 0


@dataclass(frozen=True)
class Score:
    """Events and the spread of their humanising.

    Attributes
    ----------
    events : tuple of Event
        In the order of the file.
    courses : int or None
        Number of strings the score is written for. On an instrument with a multiple of it, each
        number is a course whose strings are struck together. None: single strings.
    seed : int
        The same seed gives the same humanised take.
    timing_s, dynamics_db : float
        Standard deviation of the onsets and of the forces.
    place_m, angle_deg : float
        The same of the pluck's place and of its direction.
    tuning_cents : float
        The same of the strings' tuning.
    tail_s : float
        Sound after the end, or the pluck, of the last note.
    curvature : Curvature or None
        Curvature of the magnets' field; None leaves it out.
    noises : bool
        Whether hands are heard.
    lines : mapping of str to int
        Line of each key, for errors.
    """

    tempo_bpm: float
    events: tuple[Event, ...]
    courses: int | None = None
    seed: int = 0
    timing_s: float = 0.004
    dynamics_db: float = 1.0
    place_m: float = 0.004
    angle_deg: float = 14.0
    tuning_cents: float = 1.0
    tail_s: float = 2.0
    curvature: Curvature | None = field(default_factory=Curvature)
    noises: bool = True
    lines: Mapping[str, int] = field(default_factory=dict, compare=False)

    @property
    def beat_s(self) -> float:
        """Length of a beat, s."""
        return 60.0 / self.tempo_bpm

    def ends_s(self, event: Event) -> float:
        """Time at which an event ends or, if it rings on, is struck, s."""
        return (event.beat + (event.length or 0.0)) * self.beat_s + event.delay_s

    @property
    def seconds(self) -> float:
        """Length of the take, s: the last end and the tail."""
        return max(map(self.ends_s, self.events), default=0.0) + self.tail_s
