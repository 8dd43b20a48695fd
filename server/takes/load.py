"""Takes on disk: the take file, and the performance it stands for."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from dsp.takes.model import Take
from dsp.takes.performance import Performance
from dsp.takes.played import load_played
from dsp.takes.reading.take import read_take
from dsp.takes.recorded import load_recorded
from dsp.tracking.revoiced import load_mono, load_strings
from server.files.yaml_text import TAKE_FILES, load_tree

LOADERS: dict[str, Callable[[Take, Path], Performance]] = {
    "score": load_played,
    "coils": load_recorded,
    "strings": load_strings,
    "mono": load_mono,
}
"""Per kind of take, who finds its files; called with the take and its folder."""


def load_take(path: Path) -> Performance:
    """A take file, with what it needs found and looked at.

    Parameters
    ----------
    path : Path
        A take file, or a sound file: then it is taken as one recording of a flat sensor.

    Raises
    ------
    InputError
        With every problem of the take file, or the one that keeps its recording from use.
    """
    if path.suffix.lower() in TAKE_FILES:
        take = read_take(load_tree(path), str(path))
    else:
        take = Take(path.stem, str(path), "mono", path.name)  # said with every clip
    return LOADERS[take.kind](take, path.parent)
