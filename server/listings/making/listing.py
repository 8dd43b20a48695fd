"""What a listing file says: which clips of which wirings, in which files."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from dsp.sound.movement import Flip, Sweep
from server.files.audio_formats import Encoding

ALL_OPEN = "open"
"""Name of the one group of clips where a listing names none: every knob at 10."""


@dataclass(frozen=True)
class Named:
    """A path or pattern as written, and its line."""

    text: str
    line: int


@dataclass(frozen=True)
class ClipGroup:
    """Clips of one stand of the knobs, or one movement, in some positions.

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
    stands : mapping of str to str
        Knobs and switches other than the selector, as written.
    sweeps, flips : tuple
    line : int
    """

    name: str
    label: str = ""
    positions: tuple[str, ...] = ()
    takes: tuple[str, ...] = ()
    wirings: tuple[str, ...] = ()
    stands: Mapping[str, str] = field(default_factory=dict)
    sweeps: tuple[Sweep, ...] = ()
    flips: tuple[Flip, ...] = ()
    line: int = 0


@dataclass(frozen=True)
class Listing:
    """A listing file, read.

    Attributes
    ----------
    name, file : str
    wirings, takes : tuple of Named
        Paths from the listing's folder; wirings may be patterns.
    groups : tuple of ClipGroup
    encodings : tuple of Encoding
    loudness_lufs : float or None
        None for as wired.
    names : str
        Pattern of the clips' file names.
    out : str
        Folder, from the listing's own.
    rate_hz : int
    """

    name: str
    file: str
    wirings: tuple[Named, ...]
    takes: tuple[Named, ...]
    groups: tuple[ClipGroup, ...]
    encodings: tuple[Encoding, ...]
    loudness_lufs: float | None
    names: str
    out: str
    rate_hz: int

    @property
    def folder(self) -> Path:
        """Where its paths start from."""
        return Path(self.file).parent
