"""What can be read at the jack of a finished guitar, and what it would read."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import isinf
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from dsp.circuit.copies import Copies, respond_copies
from dsp.circuit.reduction import Complex
from dsp.parts.jack import OUT
from dsp.parts.kinds import plugged_of
from dsp.parts.load import Load
from dsp.parts.pot import KNOB_TOP
from dsp.sheet.readings import settings_of
from dsp.units import show
from dsp.wiring.model import Setting, Wiring

Floats = NDArray[np.float64]
Kind = Literal["meter", "recording", "exciter", "blade"]

FREQUENCIES_HZ = (120.0, 900.0, 4000.0, 8800.0)
"""Where |Z| is read: resistance, inductance, resonance, and what lies above it."""
KNOBS = (0.0, 5.0)
"""Values at which each knob is read."""
METER_HZ = 1e-3
"""A meter's current counts as this slow: a coil has no reactance left, a capacitor nothing but."""
NO_LOAD = Load(cable_length_m=0.0, amplifier_ohm=1e10, amplifier_f=0.0)
"""Calibration takes cable and input off the reading; a meter has neither."""
OPEN_OHM = 20e6
"""A common meter shows nothing above it; an amplifier's input is far below."""
FLOOR_OHM = 5.0
"""Leads, plug and contacts: what is below cannot be told from a short."""
METER_SD, SWEEP_SD = 0.007, 0.006
"""Relative error of a reading, one standard deviation: a meter's range, and the known resistor's 0.3 %
with the noise of a recording."""
CONTACT_SD_OHM = 0.3
"""Of leads and plug, on top of it."""


@dataclass(frozen=True)
class Point:
    """One reading at the jack.

    Attributes
    ----------
    frequency_hz : float
        Of |Z| and of the exciter; 0 for the meter and for the blade.
    coil : str
        Over which the exciter or the blade is held; empty for what reads the impedance.
    """

    setting: Setting
    frequency_hz: float = 0.0
    coil: str = ""

    @property
    def kind(self) -> Kind:
        """By what it is read."""
        if self.coil:
            return "exciter" if self.frequency_hz else "blade"
        return "recording" if self.frequency_hz else "meter"

    def what(self) -> str:
        """Return what is read, in words."""
        at = f" at {show(self.frequency_hz, 'frequency', 3)}" if self.frequency_hz else ""
        return f"{self.kind} {self.coil}{at}" if self.coil else f"|Z|{at}" if at else "meter"


def find_settings(wiring: Wiring) -> tuple[Setting, ...]:
    """Return the settings to read.

    Every position of every switch with the knobs at 10; then each knob at 0 and at 5, where it moves
    the impedance most.
    """
    plain = tuple(settings_of(wiring))
    turned = tuple(_turned(one, {knob: value}) for knob in wiring.knobs for one in plain for value in KNOBS)
    hz = np.array(FREQUENCIES_HZ)
    _, ohm = respond_copies(replace(wiring, load=NO_LOAD), [*plain, *turned], hz, Copies(1))
    level = np.log(np.abs(ohm[:, 0]) + FLOOR_OHM)
    at_ten, moved = level[: len(plain)], level[len(plain) :].reshape(-1, len(plain), len(KNOBS), len(hz))
    found = list(plain)
    for knob, rows in zip(wiring.knobs, moved, strict=True):
        size = np.abs(rows - at_ten[:, None]).sum(axis=(1, 2))
        best = plain[int(np.argmax(size > 0.999 * size.max()))]
        found += [_turned(best, {knob: value}) for value in KNOBS]
    return tuple(found)


def _turned(setting: Setting, knobs: dict[str, float]) -> Setting:
    return replace(setting, knobs={**setting.knobs, **knobs})


def find_points(
    settings: Sequence[Setting], frequencies_hz: Sequence[float] = FREQUENCIES_HZ
) -> tuple[Point, ...]:
    """Return every reading at some settings: the meter's first, then |Z|."""
    return tuple(Point(one, hz) for one in settings for hz in (0.0, *frequencies_hz))


def predict(wiring: Wiring, points: Sequence[Point], copies: Copies) -> Floats:
    """Return what every copy reads as levels, shape (count, n_points).

    An open jack reads as the end of a meter's range, a short as `FLOOR_OHM`.
    """
    bare = replace(wiring, load=NO_LOAD)
    found = np.zeros((copies.count, len(points)))
    same_jack = _jack_without_contacts(wiring)
    settings: dict[tuple[object, ...], Setting] = {}
    wanted: dict[tuple[object, ...], list[int]] = {}
    for i, point in enumerate(points):
        setting = point.setting
        if not point.frequency_hz and not same_jack:
            setting = replace(setting, switches={**setting.switches, wiring.jack: OUT})
        key = _key(setting)
        settings.setdefault(key, setting)
        wanted.setdefault(key, []).append(i)
    frequencies = sorted({point.frequency_hz or METER_HZ for point in points})
    column = {hz: j for j, hz in enumerate(frequencies)}
    _, ohm = respond_copies(bare, list(settings.values()), np.array(frequencies), copies)
    for row, key in zip(ohm, settings, strict=True):
        for i in wanted[key]:
            found[:, i] = _level(row[:, column[points[i].frequency_hz or METER_HZ]])
    return found


def _key(setting: Setting) -> tuple[object, ...]:
    return setting.position, *sorted(setting.switches.items()), *sorted(setting.knobs.items())


def _jack_without_contacts(wiring: Wiring) -> bool:
    """Whether the network is the same with the plug out."""
    part = wiring.parts[wiring.jack]
    kind = plugged_of(part)
    assert kind is not None  # it is a jack
    return (
        not any(tuple(kind.joints(part, wiring.jack, plug)) for plug in {OUT, *wiring.plugs(wiring.jack)})
        and len(wiring.jacks) == 1
    )


def _level(ohm: Complex) -> Floats:
    return level_of(np.abs(ohm))


def level_of(ohm: Floats) -> Floats:
    """Return the logarithms that compare ohms, of any shape."""
    return np.asarray(np.log(np.minimum(ohm, OPEN_OHM) + FLOOR_OHM))


def ohm_of(level: Floats) -> Floats:
    """Return the ohms of logarithms, of any shape."""
    return np.asarray(np.maximum(np.exp(level) - FLOOR_OHM, 0.0))


def noise_of(levels: Floats, points: Sequence[Point]) -> Floats:
    """Return the standard deviation of readings' levels.

    Parameters
    ----------
    levels : ndarray, shape (..., n_points)

    Returns
    -------
    ndarray, shape (..., n_points)
    """
    share = np.array([SWEEP_SD if point.frequency_hz else METER_SD for point in points])
    ohm = ohm_of(levels)
    return np.asarray((share * ohm + CONTACT_SD_OHM) / (ohm + FLOOR_OHM))


def ohm_text(ohm: float) -> str:
    """Return a reading, ``ohm``, in words."""
    if isinf(ohm) or ohm > 0.9 * OPEN_OHM:
        return "open"
    return "0 Ω, shorted" if ohm < FLOOR_OHM / 2 else show(ohm, "resistance", 3)


def setting_text(wiring: Wiring, setting: Setting) -> str:
    """Return a setting as a readings file names it: ``2 tone=5``."""
    return " ".join([setting.position, *_controls(wiring, setting)])


def _controls(wiring: Wiring, setting: Setting) -> Iterator[str]:
    stands = wiring.stands
    for name in wiring.switches:
        if setting.switches.get(name, stands[name][0]) != stands[name][0]:
            yield f"{name}={setting.switches[name]}"
    for name, value in setting.knobs.items():
        if value != KNOB_TOP:
            yield f"{name}={value:g}"
