"""What a take file says, and how its recording becomes the EMF of every coil."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from dsp.errors import InputError, nearest
from dsp.parts.coil import Coil

Floats = NDArray[np.float64]

COIL_PLACES_RECORDED = "as recorded in each coil"
COIL_PLACES_LEFT_OUT = "not modelled: electrical voicing only"


@dataclass(frozen=True)
class Take:
    """One dry performance.

    Attributes
    ----------
    name, file : str
    kind : str
        ``coils``: a channel per coil, its EMF in volts. ``mono``: one recording of a flat
        sensor, put into every coil alike.
    audio : str
        Sound file, relative to the take file.
    channels : tuple of str
        For coils: the coil of each channel.
    line : str
        For mono: ``single`` or ``chords``.
    lines : mapping of str to int
        Line of each key, for errors.
    """

    name: str
    file: str
    kind: str
    audio: str
    channels: tuple[str, ...] = ()
    line: str = "chords"
    lines: Mapping[str, int] = field(default_factory=dict)

    @property
    def coil_places(self) -> str:
        """Whether the coils' places are in the sound; said with every clip."""
        return COIL_PLACES_RECORDED if self.kind == "coils" else COIL_PLACES_LEFT_OUT

    def where(self, key: str) -> str:
        """``file:line`` of a key."""
        return f"{self.file}:{self.lines.get(key, 1)}"


def coil_matrix(take: Take, coils: Mapping[str, Coil], recorded_channels: int) -> Floats:
    """What each recorded channel puts into each coil.

    Parameters
    ----------
    take : Take
    coils : mapping of str to Coil
    recorded_channels : int
        Of the sound file.

    Returns
    -------
    ndarray, shape (n_coils, recorded_channels)
        EMF per sample value, volt. For coils: a one where channel and coil belong together;
        a coil that no channel names stays silent. For mono: the coil's sensitivity with the
        sign that a string's EMF has in it, from the mean of the channels (a stereo file of
        one guitar counts as one recording).

    Raises
    ------
    InputError
        If the file has another number of channels than the take names, or the take names a
        coil the wiring does not have.
    """
    names = list(coils)
    if take.kind == "mono":
        signs = np.array([coil.string_sign * coil.sensitivity for coil in coils.values()])
        return np.repeat(signs[:, None] / recorded_channels, recorded_channels, axis=1)
    where = f"{take.where('channels')}: channels"
    if recorded_channels != len(take.channels):
        got = f"{len(take.channels)} named, {recorded_channels} in {take.audio}"
        raise InputError(where, got, "one coil for each channel of the sound file")
    for name in take.channels:
        if name not in coils:
            raise InputError(
                where, f"'{name}'", f"coils of the wiring: {', '.join(names)}", nearest(name, names)
            )
    matrix = np.zeros((len(names), recorded_channels))
    for channel, name in enumerate(take.channels):
        matrix[names.index(name), channel] = 1.0
    return matrix


def silent_coils(take: Take, coils: Mapping[str, Coil]) -> tuple[str, ...]:
    """Coils of a wiring that a take gives nothing to."""
    return tuple(name for name in coils if take.kind == "coils" and name not in take.channels)
