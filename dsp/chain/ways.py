"""The four ways to hear a guitar, in words: direct, clean, edge, driven."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

CAUTION = (
    "Start quiet. Never lead an amplifier's loudspeaker output into an interface: it carries many volts. "
    "Use earthed mains gear with a residual-current device. "
    "Never work inside an amplifier: that is for a licensed technician."
)
"""For whoever takes a guitar, an amplifier and an interface to try what a way promises: usual practice."""


@dataclass(frozen=True)
class Way:
    """One way to hear a guitar.

    Attributes
    ----------
    name : str
        As written in a command.
    about : str
        One line for people.
    amplified : bool
        Whether stack and loudspeaker are in it.
    drive_db : float
        Gain before the soft stage.
    oversampling : int
        Of the soft stage; 0 without one.
    """

    name: str
    about: str
    amplified: bool = True
    drive_db: float = 0.0
    oversampling: int = 0


DIRECT = Way("direct", "as the input gets it, without amplifier and loudspeaker", amplified=False)
WAYS: Mapping[str, Way] = {
    way.name: way
    for way in (
        DIRECT,
        Way("clean", "through tone controls and a loudspeaker, undistorted"),
        Way("edge", "through an amplifier that breaks up when played hard", drive_db=-7.0, oversampling=4),
        Way("driven", "through an amplifier that distorts", drive_db=5.0, oversampling=8),
    )
}
"""Every way by name, the plainest first. The drives are our own choice: the loudest position of the demo
reaches k x = 1.4 in edge and 5.7 in driven."""
