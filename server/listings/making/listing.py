"""A listing: which clips of which wirings, and how their files are stored."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from dsp.chain.ways import DIRECT, Way
from dsp.sound.hum import Hum
from dsp.sound.movement import Flip, Sweep
from server.clips.cabinet import CabinetFile
from server.files.audio_formats import Encoding
from server.listings.making.sale import Sale

ALL_OPEN = "open"
"""Name of the one group of clips if a listing names none: every knob at 10."""


@dataclass(frozen=True)
class Named:
    """A path or pattern as written, and its line."""

    text: str
    line: int


@dataclass(frozen=True)
class ClipGroup:
    """Clips of one setting of the knobs, or one movement, in some positions.

    Attributes
    ----------
    name, label : str
        For file names; for people.
    positions : tuple of str
        Of the selector; empty for all.
    takes : tuple of str
        As the listing names them; empty for all.
    wirings : tuple of str
        Patterns of file names; empty for all.
    settings : mapping of str to str
        Knobs, and switches other than the selector, as written.
    """

    name: str
    label: str = ""
    positions: tuple[str, ...] = ()
    takes: tuple[str, ...] = ()
    wirings: tuple[str, ...] = ()
    settings: Mapping[str, str] = field(default_factory=dict)
    sweeps: tuple[Sweep, ...] = ()
    flips: tuple[Flip, ...] = ()
    line: int = 0


@dataclass(frozen=True)
class Listing:
    """What a listing file and an order from the bench have in common.

    Attributes
    ----------
    loudness_lufs : float or None
        None for as wired.
    names : str
        Pattern of the clips' file names.
    where : str
        What errors name: the listing file, or the listing.
    sales : tuple of Sale
        Picture, story, price and link of instruments.
    address : str
        Where the folder will be on the web; empty if nobody said.
    artist : str
        Whom the files name as who made them; empty for nobody.
    way : Way
        In which every clip is heard.
    limited : bool
        Whether a limiter makes room for the loudness.
    hum : Hum or None
        Of a room, added to every clip.
    cabinet : CabinetFile or None
        In the place of the way's own.
    """

    name: str
    groups: tuple[ClipGroup, ...]
    encodings: tuple[Encoding, ...]
    loudness_lufs: float | None
    names: str
    rate_hz: int
    where: str = "the listing"
    sales: tuple[Sale, ...] = ()
    address: str = ""
    artist: str = ""
    way: Way = DIRECT
    limited: bool = False
    hum: Hum | None = None
    cabinet: CabinetFile | None = None


@dataclass(frozen=True)
class ListingFile:
    """A listing file with the files that it names; only the reader makes one.

    Attributes
    ----------
    wirings, takes : tuple of Named
        Paths from the listing file's folder; wirings may be patterns.
    out : str
        Folder of the result, from the listing file's own.
    cabinet : Named or None
        Path of an impulse response; the listing has it once it is loaded.
    """

    listing: Listing
    wirings: tuple[Named, ...]
    takes: tuple[Named, ...]
    out: str
    cabinet: Named | None = None

    @property
    def folder(self) -> Path:
        """Folder that relative paths start from."""
        return Path(self.listing.where).parent
