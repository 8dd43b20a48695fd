"""The circuit that the selector drives: controls, cable and amplifier."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from dsp.circuit.response import respond
from dsp.errors import InputError
from dsp.parts.expression import Leaf
from dsp.parts.kind import Part
from dsp.parts.kinds import is_sensing, new_part
from dsp.wiring.model import Wiring

Floats = NDArray[np.float64]
Complex = NDArray[np.complex128]
PROBES_OHM = (1e4, 1e6)
"""Two known source resistances, whose outputs give the input impedance and the transfer."""


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
    if wiring.sketch is None or wiring.selector is None:
        got = "a switch" if wiring.selector in wiring.parts else "no selector"
        allowed = "a sketch, {kind: sketch, positions: {1: a + b}}: it has the leads hot and cold"
        raise InputError(f"{wiring.file}: selector", got, allowed)
    probed = [_probe(wiring, wiring.selector, ohm, frequencies_hz, knobs) for ohm in PROBES_OHM]
    (first, second), (low, high) = probed, PROBES_OHM
    # H = transfer / (R + input) for both probes
    input_ohm = (second * high - first * low) / (first - second)
    return OutputPort(input_ohm, first * (low + input_ohm))


def _probe(
    wiring: Wiring, selector: str, ohm: float, frequencies_hz: Floats, knobs: Mapping[str, float] | None
) -> Complex:
    """Return the output per EMF with a resistive source as the selector."""
    probe = "probe"
    while probe in wiring.parts:
        probe += "_"
    parts: dict[str, Part] = {
        name: part for name, part in wiring.parts.items() if not is_sensing(part) and name != selector
    }
    parts[selector] = new_part("sketch", positions={"1": Leaf(probe)})
    parts[probe] = new_part("coil", resistance=ohm, inductance=1e-12, capacitance=1e-24)
    kept = tuple(
        replace(joint, terminals=tuple(t for t in joint.terminals if t[0] in parts))
        for joint in wiring.joints
    )
    bare = replace(wiring, parts=parts, joints=kept, couplings=())
    return np.asarray(respond(bare, [bare.setting("1", knobs)], frequencies_hz).coil[0, 0])
