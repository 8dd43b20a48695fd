"""Forms of requests about listings."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field, StringConstraints

from server.listings.making import file_fields as fields
from server.web.fields import Body, Id, Line, Name, Paragraphs, WayName

LONGEST_PICTURE = 1_000_000
"""Letters of base 64: the page makes a picture smaller before it sends it."""
MOST_WIRINGS, MOST_TAKES, MOST_SETTINGS, MOST_STANDS = 500, 32, 32, 64
Knob = Annotated[float, Field(ge=0.0, le=10.0)]
Seconds = Annotated[float, Field(ge=0.0, le=fields.LONGEST_S)]
Short = Annotated[Name, StringConstraints(max_length=60)]
Lufs = Annotated[float, Field(ge=fields.LOUDNESS_LUFS[0], le=fields.LOUDNESS_LUFS[1])]


class ChosenWiring(Body):
    """A version of a wiring, positions (none for all), and words for buyers."""

    version: Id
    positions: list[Line] = Field(default_factory=list, max_length=MOST_STANDS)
    sale: dict[Line, Paragraphs] = Field(default_factory=dict, max_length=len(fields.FOR_BUYERS))
    """What its page says to buyers, by the fields of `FOR_BUYERS`; a picture by its name."""


class NewSweep(Body):
    """A moving knob; without times it moves from the clip's start to its end."""

    knob: Line
    start: Knob
    end: Knob
    from_s: Seconds | None = None
    to_s: Seconds | None = None


class NewSetting(Body):
    """Values of knobs and switches, movements, and a name for them."""

    name: Short
    label: Line = ""
    knobs: dict[Line, Knob] = Field(default_factory=dict, max_length=MOST_STANDS)
    switches: dict[Line, Line] = Field(default_factory=dict, max_length=MOST_STANDS)
    sweeps: list[NewSweep] = Field(default_factory=list, max_length=MOST_STANDS)


class NewFormat(Body):
    """A file format."""

    format: Literal["wav", "flac", "ogg", "opus", "mp3"]
    depth: Literal["16", "24", "float"] | None = None
    quality: Annotated[float, Field(ge=0.0, le=1.0)] = 0.8


def _usual() -> list[NewFormat]:
    """Return the usual formats: a master, and a file for the web."""
    return [NewFormat(format="flac"), NewFormat(format="mp3")]


class NewListing(Body):
    """A listing to be made: wirings, takes, settings and files."""

    title: Name
    wirings: Annotated[list[ChosenWiring], Field(min_length=1, max_length=MOST_WIRINGS)]
    takes: Annotated[list[Id], Field(min_length=1, max_length=MOST_TAKES)]
    settings: list[NewSetting] = Field(default_factory=list, max_length=MOST_SETTINGS)
    formats: list[NewFormat] = Field(default_factory=_usual, min_length=1, max_length=5)
    loudness_lufs: Lufs | None = None
    rate_hz: Literal[44100, 48000, 96000] = 48000
    names: Name = fields.NAMES
    through: WayName = "direct"
    limit: bool = False
    hum: Line = ""
    """A room as a listing file names it; empty for none."""
    artist: Line = ""
    address: Line = ""

    def chosen(self) -> list[tuple[str, list[str]]]:
        """Return the versions, each with its positions."""
        return [(one.version, one.positions) for one in self.wirings]

    def options(self) -> dict[str, Any]:
        """Return all other fields, as JSON."""
        plain = self.model_dump(exclude={"title", "wirings", "takes"})
        return plain | {"sales": {one.version: one.sale for one in self.wirings}}


class NewPicture(Body):
    """A picture file in base 64."""

    content: Annotated[str, StringConstraints(max_length=LONGEST_PICTURE)]


class ListingChange(Body):
    """Whether a listing is archived."""

    archived: bool
