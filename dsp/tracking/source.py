"""The known wiring that a recording was made with, read beside its take file."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from dsp.circuit.response import respond
from dsp.errors import InputError
from dsp.takes.model import Take
from dsp.tracking.sensor import Sensor
from dsp.wiring.model import Setting, Wiring
from server.wirings.text import load_wiring

Floats = NDArray[np.float64]

SILENT = 1e-6
"""Volts per volt; a source that passes less has given nothing but noise."""


@dataclass(frozen=True)
class SourceWiring:
    """A wiring and the setting it stood in."""

    wiring: Wiring
    setting: Setting

    def sensor(self, frequencies_hz: Floats, signal_left: Floats | None = None) -> Sensor:
        """The sensor a recording was made with, at frequencies, shape (n_freqs,)."""
        responses = respond(self.wiring, [self.setting], frequencies_hz).coil[0]
        heard = np.max(np.abs(responses), axis=1) > SILENT
        coils = tuple(coil for coil, one in zip(self.wiring.coils.values(), heard, strict=True) if one)
        return Sensor(frequencies_hz, coils, responses[heard], signal_left=signal_left)


def load_source(take: Take, folder: Path) -> SourceWiring | None:
    """The source wiring of a take; None for a flat sensor.

    Raises
    ------
    InputError
        If its file is missing or broken, it has no such position, knob or switch, or it gives
        no sound in that setting.
    """
    if take.source.flat:
        return None
    where = f"{take.where('source')}: source"
    path = folder / take.source.wiring
    if not path.is_file():
        raise InputError(where, f"no such file as {path}", "a wiring file, relative to the take file")
    wiring = load_wiring(path)
    with _at(where):
        position = take.source.position or wiring.positions[0]
        setting = wiring.setting(position, take.source.knobs, take.source.switches)
    source = SourceWiring(wiring, setting)
    if not source.sensor(np.geomspace(50.0, 5000.0, 40)).coils:
        got = f"{take.source.wiring}, position {position}: no coil reaches the jack"
        raise InputError(where, got, "a setting that gives a sound")
    return source


@contextmanager
def _at(where: str) -> Iterator[None]:
    """Problems with the setting are problems of the take file that states it."""
    try:
        yield
    except InputError as error:
        problem = error.problems[0]
        got = f"{problem.got} ({problem.where})"
        raise InputError(where, got, problem.allowed, problem.hint) from error
