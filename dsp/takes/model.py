"""The content of a take file, and the map from recorded channels to coils."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from dsp.errors import InputError, nearest
from dsp.parts.coil import Coil
from dsp.takes.midi.arrange import Midi
from dsp.takes.score import Score

Floats = NDArray[np.float64]

PLAYED_KINDS = ("score", "midi")
"""Kinds of take that the string model plays."""
COIL_PLACES_RECORDED = "as recorded in each coil"
COIL_PLACES_PLAYED = "modelled: every coil hears the string at its own place"
COIL_PLACES_TRACKED = "computed from the tracked pitch of each string"
COIL_PLACES_ONE_LINE = "computed from the tracked pitch, where it is clear"
COIL_PLACES_LEFT_OUT = "not modelled: electrical voicing only"


@dataclass(frozen=True)
class Source:
    """A mono recording's source: a flat sensor, or a wiring and its setting.

    Attributes
    ----------
    wiring : str
        Wiring file, relative to the take file; empty for a flat sensor.
    position : str
        Position of its selector; empty for the first.
    """

    wiring: str = ""
    position: str = ""
    knobs: Mapping[str, float] = field(default_factory=dict)
    switches: Mapping[str, str] = field(default_factory=dict)

    @property
    def flat(self) -> bool:
        """Whether the recording was made with a flat sensor."""
        return not self.wiring


@dataclass(frozen=True)
class Take:
    """One dry performance as its file describes it.

    Attributes
    ----------
    kind : str
        ``score``: plucks, played by the string model. ``midi``: a MIDI file, played by it.
        ``coils``: a recorded channel per coil, its EMF in volts. ``strings``: a channel per string
        from a flat sensor. ``mono``: one recording of a flat sensor or of a known wiring.
    audio : str
        Sound or MIDI file, relative to the take file; empty for a score.
    channels : tuple of str
        For coils: the coil of each channel. For strings: its string, 1 the highest.
    line : str
        For mono: ``single`` or ``chords``.
    source : Source
        For mono.
    strings : tuple of int
        For a single line: strings it may be on, 1 the highest; empty for any.
    sensor_at_m : float
        For strings: distance of the flat sensor from the bridge.
    score : Score or None
        For a score alone.
    midi : Midi or None
        For a MIDI file alone.
    lines : mapping of str to int
        Line of each key, for errors.
    """

    name: str
    file: str
    kind: str
    audio: str = ""
    channels: tuple[str, ...] = ()
    line: str = "chords"
    source: Source = field(default_factory=Source)
    strings: tuple[int, ...] = ()
    sensor_at_m: float = 0.0
    score: Score | None = None
    midi: Midi | None = None
    lines: Mapping[str, int] = field(default_factory=dict)

    @property
    def coil_places(self) -> str:
        """Whether the sound contains the coils' places; the label of every clip."""
        if self.kind == "mono":
            return COIL_PLACES_ONE_LINE if self.line == "single" else COIL_PLACES_LEFT_OUT
        if self.played:
            return COIL_PLACES_PLAYED
        return COIL_PLACES_TRACKED if self.kind == "strings" else COIL_PLACES_RECORDED

    @property
    def played(self) -> bool:
        """Whether the string model plays it."""
        return self.kind in PLAYED_KINDS

    def where(self, key: str) -> str:
        """Return ``file:line`` of a key."""
        return f"{self.file}:{self.lines.get(key, 1)}"


def coil_matrix(take: Take, coils: Mapping[str, Coil], recorded_channels: int) -> Floats:
    """Compute what each recorded channel contributes to each coil.

    Parameters
    ----------
    recorded_channels : int
        Number of channels in the sound file.

    Returns
    -------
    ndarray, shape (n_coils, recorded_channels)
        EMF per sample value, volt. For coils: 1 where channel and coil belong together; a coil
        that no channel names stays silent. For mono: the coil's sensitivity, with the sign of a
        string's EMF in it, from the mean of the channels (a stereo file of one guitar counts as
        one recording).

    Raises
    ------
    InputError
        If the file has another number of channels than the take names, or the take names a
        coil that the wiring does not have.

    Examples
    --------
    >>> coil = Coil(resistance_ohm=6e3, inductance_h=2.5, capacitance_f=120e-12)
    >>> take = Take("Stems", "stems.yaml", "coils", "stems.wav", channels=("bridge",))
    >>> coil_matrix(take, {"neck": coil, "bridge": coil}, 1).tolist()
    [[0.0], [1.0]]
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
    """Name the coils of a wiring that receive no signal from a take."""
    return tuple(name for name in coils if take.kind == "coils" and name not in take.channels)
