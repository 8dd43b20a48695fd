"""The matrices G and C of one setting, G x + s C x = B e, and its natural modes.

x holds the node voltages, then the currents of coils, eddy sections and chokes, then the slow parts
of screened EMFs. Currents are in units of 1 V / R_SCALE and current laws are multiplied by R_SCALE, so
that all entries are of the order of one. The matrices are symmetric but for screened EMFs: these drive
a winding, and no winding drives them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from dsp.circuit.reduction import Complex, Floats
from dsp.parts.kind import Ends
from dsp.parts.kinds import as_two_lead
from dsp.wiring.network import GROUND, Network, reference_of

R_SCALE = 1e5
"""Ohm; the order of the impedances in a guitar."""
SHIFT = 2.0 * np.pi * 3000.0
"""1/s; the real point, at the middle of the band, about which the modes are computed."""
SLOWEST = 1e-3
"""1/s, that is 0.16 mHz. Slower modes get this rate: at audible frequencies the two agree to six digits,
and the pole stays clear of the unit circle."""
UNDECIDED = 1e-13
"""Singular values below this part of the largest are rounding."""
NO_MODE = 1e-9
"""Inverse rates smaller than this part of 1/SHIFT are rounding: modes at infinity."""


@dataclass(frozen=True)
class State:
    """State matrices of a setting.

    Attributes
    ----------
    conductance, storage : ndarray, shape (n, n)
        G and C.
    sources : mapping of str to ndarray, shape (n,)
        B for 1 V of EMF in each coil; none for coils that cannot matter.
    tied : bool
        Whether transformers tie voltages. Their laws may repeat one another or leave a node undecided.
    """

    conductance: Floats
    storage: Floats
    sources: dict[str, Floats]
    tied: bool = False


class _Builder:
    """Collects stamps. Rows are nodes first, then currents."""

    def __init__(self, network: Network) -> None:
        self.reference = reference_of(network)
        kept = [n for n, ref in enumerate(self.reference) if ref == n and n != GROUND]
        self.row_of_node = {node: i for i, node in enumerate(kept)}
        self.size = len(kept)
        self.stamps: list[tuple[bool, int, int, float]] = []

    def row(self, node: int) -> int | None:
        kept = self.reference[node]
        return None if kept is None else self.row_of_node.get(kept)

    def new(self) -> int:
        self.size += 1
        return self.size - 1

    def add(self, storage: bool, i: int | None, j: int | None, value: float) -> None:
        if i is not None and j is not None:
            self.stamps.append((storage, i, j, value))

    def admittance(self, storage: bool, a: int | None, b: int | None, siemens: float) -> None:
        for i, j, sign in ((a, a, 1.0), (b, b, 1.0), (a, b, -1.0), (b, a, -1.0)):
            self.add(storage, i, j, sign * siemens * R_SCALE)

    def current(self, branch: Ends) -> int:
        """Add a row for the current that leaves the branch at its start."""
        at = self.new()
        self.tie(at, branch, 1.0)
        return at

    def tie(self, row: int, branch: Ends, factor: float) -> None:
        """Add factor times a branch's voltage to a current's law, and its current to the branch."""
        for node, sign in ((self.row(branch.a), -1.0), (self.row(branch.b), 1.0)):
            self.add(False, node, row, sign * factor)
            self.add(False, row, node, sign * factor)

    def link(self, i: int, j: int, factor: float) -> None:
        """Add a factor times each row's unknown to the other row's law."""
        self.add(False, i, j, factor)
        self.add(False, j, i, factor)

    def term(self, storage: bool, row: int, column: int, value: float) -> None:
        self.add(storage, row, column, value)

    def impedance(self, i: int, j: int, ohm: float, henry: float) -> None:
        for storage, value in ((False, ohm), (True, henry)):
            self.add(storage, i, j, -value / R_SCALE)
            if i != j:
                self.add(storage, j, i, -value / R_SCALE)

    def matrices(self) -> tuple[Floats, Floats]:
        both = np.zeros((2, self.size, self.size))
        for storage, i, j, value in self.stamps:
            both[int(storage), i, j] += value
        return both[0], both[1]


def state_of(network: Network) -> State:
    """Build the state matrices of a network whose pots are set.

    Parameters
    ----------
    network : Network
        From `set_pots`.
    """
    build = _Builder(network)
    row_of: dict[str, int] = {}
    coupled_h: dict[str, float] = {}
    for kind, branches in network.elements:
        part = branches[0].part
        if build.reference[branches[0].a] is None:
            continue
        row = kind.stamps(part, branches, build)
        if row is not None:
            row_of[branches[0].name], coupled_h[branches[0].name] = row, kind.coupled_h(part)
    for coupling in network.couplings:
        first, second = coupling.first, coupling.second
        if first in row_of and second in row_of:
            mutual_h = coupling.coefficient * float(np.sqrt(coupled_h[first] * coupled_h[second]))
            build.impedance(row_of[first], row_of[second], 0.0, mutual_h)
    output = build.row(network.output)
    build.admittance(False, output, None, 1.0 / network.load.amplifier_ohm)
    build.admittance(True, output, None, network.load.capacitance_f)
    driven = {
        coil.name: as_two_lead(coil.part).stamp_emf(coil.part, row_of[coil.name], build)
        for coil in network.coils
        if coil.name in row_of
    }
    conductance, storage = build.matrices()
    sources = {name: _right_side(rows, len(storage)) for name, rows in driven.items()}
    return State(conductance, storage, sources, bool(network.ties))


def _right_side(rows: Sequence[tuple[int, float]], size: int) -> Floats:
    side = np.zeros(size)
    for row, value in rows:
        side[row] += value
    return side


def natural_modes(state: State) -> Complex:
    """Compute the natural frequencies, the poles of all responses.

    Returns
    -------
    ndarray, shape (n_modes,), 1/s
        Real part below 0. Modes at infinity and at rest (s = 0: a charge that no signal reaches) are
        left out.

    Notes
    -----
    An eigenvalue mu of (G + s0 C)^-1 C gives p = s0 - 1/mu. The pencil itself is singular wherever a
    node has no capacitor, so the plain generalised eigenproblem fails.
    """
    shifted = state.conductance + SHIFT * state.storage
    if state.tied:  # the least solution leaves what no law decides at rest
        whole = np.linalg.lstsq(shifted, state.storage, rcond=UNDECIDED)[0]
    else:
        whole = np.linalg.solve(shifted, state.storage)
    mu = np.linalg.eigvals(whole)
    mu = mu[np.abs(mu) * SHIFT > NO_MODE]
    poles = SHIFT - 1.0 / mu
    poles = poles[np.abs(poles) > NO_MODE * SHIFT]
    slowest = np.maximum(1e-9 * np.abs(poles), SLOWEST)
    found: Complex = np.minimum(poles.real, -slowest) + 1j * poles.imag
    return found
