"""The circuit that the selector drives: controls, cable and amplifier."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from dsp.circuit.meter import jack_reading_ohm
from dsp.circuit.response import respond
from dsp.errors import InputError
from dsp.parts.expression import Leaf, names_in
from dsp.parts.kind import Part
from dsp.parts.kinds import is_sensing, new_part
from dsp.wiring.model import Wiring

Floats = NDArray[np.float64]
Complex = NDArray[np.complex128]
PROBES_OHM = (1e4, 1e6)
"""Two known source resistances, whose outputs give the input impedance and the transfer."""
METER_PROBES_OHM = (1e3, 1e4, 1e5)
"""Three known resistances in place of the coils, whose readings at the jack give those of all others."""


@dataclass(frozen=True)
class OutputPort:
    """The circuit between the selector and the amplifier.

    A source of EMF E and impedance Z gives E transfer / (Z + input) at the output.

    Attributes
    ----------
    input_ohm, transfer_ohm : ndarray, shape (n_freqs,)
    """

    input_ohm: Complex
    transfer_ohm: Complex

    def gain(self, impedance_ohm: Complex) -> Complex:
        """Return the output per EMF of sources, shape (..., n_freqs)."""
        return np.asarray(self.transfer_ohm / (impedance_ohm + self.input_ohm))


def output_port(
    wiring: Wiring, frequencies_hz: Floats, *, knobs: Mapping[str, float] | None = None
) -> OutputPort:
    """Return the output port of a wiring whose selector is a sketch.

    Parameters
    ----------
    frequencies_hz : ndarray, shape (n_freqs,)
    knobs : mapping of str to float, optional
        Values of knobs. Those not named are at 10.

    Raises
    ------
    InputError
        If the selector is not a sketch: only a sketch defines hot and cold.
    """
    probed = [_probe(wiring, ohm, frequencies_hz, knobs) for ohm in PROBES_OHM]
    (first, second), (low, high) = probed, PROBES_OHM
    # H = transfer / (R + input) for both probes
    input_ohm = (second * high - first * low) / (first - second)
    return OutputPort(input_ohm, first * (low + input_ohm))


def _probe(wiring: Wiring, ohm: float, frequencies_hz: Floats, knobs: Mapping[str, float] | None) -> Complex:
    """Return the output per EMF with a resistive source as the selector."""
    bare = _with_source(wiring, new_part("coil", resistance=ohm, inductance=1e-12, capacitance=1e-24))
    return np.asarray(respond(bare, [bare.setting("1", knobs)], frequencies_hz).coil[0, 0])


def jack_readings(wiring: Wiring, source_ohm: Floats, *, knobs: Mapping[str, float] | None = None) -> Floats:
    """Return what a meter reads at the jack for each source's resistance.

    Between two ports of resistances the reading y of a source x is (a x + b) / (c x + d). Three
    readings by `jack_reading_ohm` give the four numbers but for a common factor.

    Parameters
    ----------
    source_ohm : ndarray, shape (n,), ohm
        Resistances between hot and cold; infinite for one that passes no direct current.
    knobs : mapping of str to float, optional
        Values of knobs. Those not named are at 10.

    Returns
    -------
    ndarray, shape (n,), ohm
        Infinite where no direct current flows.

    Raises
    ------
    InputError
        If the selector is not a sketch.
    """

    def read(source: Part) -> float:
        bare = _with_source(wiring, source)
        return jack_reading_ohm(bare, bare.setting("1", knobs))

    probed = np.array([read(new_part("resistor", resistance=ohm)) for ohm in METER_PROBES_OHM])
    is_open = np.isinf(source_ohm)
    if np.ptp(probed) == 0.0 or not np.isfinite(probed).all():
        found = np.full(len(source_ohm), probed[0])
    else:
        x, y = (values / METER_PROBES_OHM[1] for values in (np.array(METER_PROBES_OHM), probed))
        a, b, c, d = np.linalg.svd(np.array([x, np.ones(3), -x * y, -y]).T)[2][-1]
        at = np.where(is_open, 0.0, source_ohm) / METER_PROBES_OHM[1]
        found = METER_PROBES_OHM[1] * (a * at + b) / (c * at + d)
    if is_open.any():
        found[is_open] = read(new_part("capacitor", capacitance=1e-12))
    return np.asarray(found)


def _with_source(wiring: Wiring, source: Part) -> Wiring:
    """Return the wiring with one part as its selector, and no coils."""
    if wiring.sketch is None or wiring.selector is None:
        got = "a switch" if wiring.selector in wiring.parts else "no selector"
        allowed = "a sketch, {kind: sketch, positions: {1: a + b}}: it has the leads hot and cold"
        raise InputError(f"{wiring.file}: selector", got, allowed)
    probe = "probe"
    while probe in wiring.parts:
        probe += "_"
    parts: dict[str, Part] = {
        name: part for name, part in wiring.parts.items() if not is_sensing(part) and name != wiring.selector
    }
    for name, other in wiring.sketches.items():
        if any(leaf not in parts for one in other.positions.values() for leaf in names_in(one)):
            parts.pop(name, None)  # a sketch whose coils are gone places nothing
    parts[wiring.selector] = new_part("sketch", positions={"1": Leaf(probe)})
    parts[probe] = source
    kept = tuple(
        replace(joint, terminals=tuple(t for t in joint.terminals if t[0] in parts))
        for joint in wiring.joints
    )
    return replace(wiring, parts=parts, joints=kept, couplings=())
