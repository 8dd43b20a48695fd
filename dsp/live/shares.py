"""Responses as ratios of polynomials in the shares of the pots' tracks.

Nodal analysis with a current of its own for every piece of a track has a determinant that is a
polynomial in each share, of one degree per piece. The response of a coil is the ratio of two such
determinants (Cramer's rule). So a few numbers per frequency hold every knob value exactly.

Coefficients are of the Bernstein form: the first and the last are the values at both ends of a
track, which then keep all their digits in single precision. Numerators and denominator of a
frequency may be multiplied by any one number. Here that number makes the denominator of one setting
the product of (1 - s/p) over the circuit's modes p, apart from a positive factor without detail. All
are then smooth over frequency, resonances and notches too, and a page may interpolate them.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product
from math import comb, inf

import numpy as np

from dsp.circuit.pots import Key, PotTerms, fold_pots
from dsp.circuit.reduction import Complex, Floats, Reduction, laplace, reduce_position
from dsp.circuit.response import SILENT
from dsp.circuit.state import natural_modes, state_of
from dsp.parts.kind import Stretch
from dsp.parts.kinds import variable_of
from dsp.parts.pot import JOINT_OHM, KNOB_TOP
from dsp.parts.taper import Taper
from dsp.wiring.model import Setting, Wiring
from dsp.wiring.network import Network, build_network, open_segments, resistances, set_pots
from dsp.wiring.reach import leave_reaching

R_SCALE = 1e5
"""Ohm; the order of the impedances in a guitar."""
NOTHING = 1e-10
"""A leading coefficient below this part of the largest is rounding."""
MIDDLE = 0.5
"""Where on its stretch a track stands that changes nothing."""
NEAREST = 1e-9
"""A share nearer to an end of its stretch is moved there. Two tracks at their ends may be joints side by
side; then both polynomials are zero, and their ratio is known beside that point alone."""
STEPS = 400
"""Knob values that are tried to find one within a stretch."""


@dataclass(frozen=True)
class Variable:
    """Tracks on one knob that have the same share.

    Attributes
    ----------
    first, last : float
        The polynomial counts from 0 to 1 along this stretch of the share.
    at_top : bool
        Whether it holds with the knob at its very top alone.
    degree : int
        0 where the share does not matter, as long as it lies within the stretch.
    """

    knob: str
    taper: Taper
    first: float
    last: float
    at_top: bool
    degree: int

    def holds(self, knob: float) -> bool:
        """Return whether a knob value, 0 to 10, lies on the stretch."""
        if self.at_top:
            return knob == KNOB_TOP
        share = self.taper.share(knob / KNOB_TOP)
        return self.first <= share and (share < self.last or self.last == 1.0)

    def way(self, knob: float) -> float:
        """Return where along the stretch a knob value lies, inside 0 to 1."""
        if self.at_top:
            return MIDDLE
        way = (self.taper.share(knob / KNOB_TOP) - self.first) / (self.last - self.first)
        return min(max(way, NEAREST), 1.0 - NEAREST)


@dataclass(frozen=True)
class Piece:
    """The polynomials of one combination of stretches.

    Attributes
    ----------
    heard : tuple of int
        Indexes of the coils that are not silent.
    table : ndarray, shape (1 + n_heard, n_terms, n_freqs)
        Coefficients: the denominator, then each numerator. The terms are the products of the
        variables' own, the last variable's first.
    """

    variables: tuple[Variable, ...]
    heard: tuple[int, ...]
    table: Complex

    def respond(self, knobs: Mapping[str, float], n_coils: int) -> Complex:
        """Compute the responses at knob values, shape (n_coils, n_freqs)."""
        found = np.zeros((n_coils, self.table.shape[-1]), complex)
        values = np.einsum("t,rtf->rf", self.weights(knobs), self.table)
        if self.heard:
            found[list(self.heard)] = values[1:] / values[0]
        return found

    def weights(self, knobs: Mapping[str, float]) -> Floats:
        """Return the factor of each term, shape (n_terms,)."""
        weights = np.ones(1)
        for variable in self.variables:
            own = _bernstein(variable.degree, variable.way(knobs[variable.knob]))
            weights = np.multiply.outer(weights, own).ravel()
        return weights


def _bernstein(degree: int, way: float) -> Floats:
    """Terms of the Bernstein form, shape (degree + 1,)."""
    return np.array([comb(degree, i) * way**i * (1.0 - way) ** (degree - i) for i in range(degree + 1)])


def fit_pieces(
    wiring: Wiring, setting: Setting, knobs: Sequence[str], frequencies_hz: Floats
) -> tuple[Piece, ...]:
    """Fit the polynomials of a position.

    Parameters
    ----------
    setting : Setting
        Position, switches and the knobs that stand still.
    knobs : sequence of str
        Knobs that are turned.
    frequencies_hz : ndarray, shape (n_freqs,)

    Returns
    -------
    tuple of Piece
        The first that holds at the values of the knobs is the one.
    """
    network = build_network(wiring, setting)
    still = {
        key: ohm
        for key, ohm in resistances(network, setting).items()
        if not any(key[0] in network.knobs[knob] for knob in knobs)
    }
    reductions: dict[frozenset[Key], Reduction] = {}
    found = []
    for tracks in _combinations(network, knobs):
        ohms = {key: (ohm, ohm) for key, ohm in still.items()}
        for (_, pot), (_, stretch) in tracks.items():
            ohms |= {(pot, i): ends for i, ends in enumerate(stretch.ohms)}
        opened = frozenset(key for key, ends in ohms.items() if ends[0] == inf)
        if opened not in reductions:
            reductions[opened] = reduce_position(open_segments(network, opened), frequencies_hz)
        at = _values_within(wiring, setting, tracks)
        found.append(_fit(network, setting, reductions[opened], ohms, tracks, at))
    return tuple(sorted(found, key=lambda piece: -sum(one.at_top for one in piece.variables)))


Tracks = Mapping[tuple[str, str], tuple[Taper, Stretch]]
"""Of each knob and pot: its taper, and the stretch that its wiper is on."""


def _combinations(network: Network, knobs: Sequence[str]) -> Iterator[Tracks]:
    """Combinations of stretches that some knob values reach."""
    pots = [(knob, pot) for knob in knobs for pot in network.knobs[knob]]
    kinds = [variable_of(network.pots[pot]) for _, pot in pots]
    tapers = [kind.taper(network.pots[pot]) for kind, (_, pot) in zip(kinds, pots, strict=True) if kind]
    choices = [kind.stretches(network.pots[pot]) for kind, (_, pot) in zip(kinds, pots, strict=True) if kind]
    for stretches in product(*choices):
        tracks = dict(zip(pots, zip(tapers, stretches, strict=True), strict=True))
        if all(_value_within(tracks, knob) is not None for knob in knobs):
            yield tracks


def _value_within(tracks: Tracks, knob: str) -> float | None:
    """A knob value at which each of its pots is on its stretch, well inside if possible."""
    mine = [
        Variable(knob, taper, one.first, one.last, one.at_top, 0)
        for (name, _), (taper, one) in tracks.items()
        if name == knob
    ]
    values = np.linspace(0.0, KNOB_TOP, STEPS + 1)
    inside = [float(value) for value in values if all(one.holds(float(value)) for one in mine)]
    if not inside:
        return None
    return min(inside, key=lambda value: max((abs(one.way(value) - MIDDLE) for one in mine), default=0.0))


def _values_within(wiring: Wiring, setting: Setting, tracks: Tracks) -> Setting:
    knobs = dict(setting.knobs)
    for knob, _ in tracks:
        value = _value_within(tracks, knob)
        assert value is not None  # the combination was chosen for it
        knobs[knob] = value
    return wiring.setting(setting.position, knobs, setting.switches)


@dataclass(frozen=True)
class _Pieces:
    """Tracks of a reduced position: those that change, each with its variable, and all others."""

    terms: PotTerms
    variables: tuple[Variable, ...]
    turned: Mapping[Key, int]
    ohms: Mapping[Key, tuple[float, float]]
    n_coils: int

    def sample(self, ways: Sequence[float]) -> Complex:
        """Both determinants' values, shape (1 + n_coils, n_freqs)."""
        size, extra = len(self.terms.admittance), len(self.turned)
        n_freqs = next(len(cell) for row in self.terms.admittance for cell in row if cell is not None)
        matrix = np.zeros((n_freqs, size + extra + 1, size + extra + 1), complex)
        for i, row in enumerate(self.terms.admittance):
            for j, cell in enumerate(row):
                if cell is not None:
                    matrix[:, i, j] = R_SCALE * cell
        at = size
        for key, factors in self.terms.segments.items():
            first, last = self.ohms[key]
            if key in self.turned:
                ohm = first + (last - first) * ways[self.turned[key]]
                for i, factor in factors:
                    matrix[:, i, at] = matrix[:, at, i] = factor
                matrix[:, at, at] = -ohm / R_SCALE
                at += 1
            else:
                for i, factor in factors:
                    for j, other in factors:
                        matrix[:, i, j] += R_SCALE * factor * other / first
        found = np.zeros((1 + self.n_coils, n_freqs), complex)
        found[0] = np.linalg.det(matrix[:, :-1, :-1])
        assert self.terms.output is not None
        matrix[:, self.terms.output, -1] = 1.0
        for k, current in enumerate(self.terms.current):
            if any(cell is not None for cell in current):
                for i, cell in enumerate(current):
                    matrix[:, -1, i] = 0.0 if cell is None else R_SCALE * cell
                found[1 + k] = -np.linalg.det(matrix)
        return found


def _fit(
    network: Network,
    setting: Setting,
    reduction: Reduction,
    ohms: Mapping[Key, tuple[float, float]],
    tracks: Tracks,
    at: Setting,
) -> Piece:
    joined = frozenset(key for key, ends in ohms.items() if max(ends) < JOINT_OHM)
    terms = fold_pots(reduction, joined)
    keys_of = _variables(tracks)
    still = tuple(keys_of)
    n_freqs = len(reduction.frequencies_hz)
    if terms.output is None:
        return Piece(still, (), np.ones((1, 1, n_freqs), complex))
    turned = {
        key: i
        for i, keys in enumerate(keys_of.values())
        for key in keys
        if key in terms.segments and ohms[key][0] != ohms[key][1] and key not in joined
    }
    pieces = _Pieces(terms, still, turned, ohms, len(network.coils))
    degrees = [sum(1 for one in turned.values() if one == i) for i in range(len(still))]
    table, degrees = _lowest(pieces, degrees)
    heard = tuple(np.flatnonzero(_is_heard(table)).tolist())
    kept = table[[0, *(1 + k for k in heard)]]
    variables = tuple(replace(one, degree=degree) for one, degree in zip(still, degrees, strict=True))
    piece = Piece(variables, heard, kept.reshape(len(kept), -1, n_freqs))
    return _made_smooth(piece, network, at, reduction.frequencies_hz)


def _variables(tracks: Tracks) -> dict[Variable, list[Key]]:
    """Tracks that share knob, taper and stretch, with their segments."""
    found: dict[Variable, list[Key]] = {}
    for (knob, pot), (taper, one) in tracks.items():
        keys = [(pot, i) for i in range(len(one.ohms))]
        variable = Variable(knob, taper, one.first, one.last, one.at_top, 0)
        found.setdefault(variable, []).extend(keys)
    return found


def _lowest(pieces: _Pieces, degrees: list[int]) -> tuple[Complex, list[int]]:
    """The table at the lowest degrees, shape (1 + n_coils, *degrees + 1, n_freqs)."""
    degrees = [degree if _matters(pieces, i) else 0 for i, degree in enumerate(degrees)]
    while True:
        table = _sampled(pieces, degrees)
        lower = [_without_leading(table, axis, degree) for axis, degree in enumerate(degrees)]
        if lower == degrees:
            break
        degrees = lower
    for axis, degree in enumerate(degrees):
        ways = np.linspace(0.0, 1.0, degree + 1) if degree else np.array([MIDDLE])
        basis = np.array([_bernstein(degree, way) for way in ways])
        table = np.moveaxis(np.tensordot(np.linalg.inv(basis), table, (1, axis + 1)), 0, axis + 1)
    return table, degrees


def _matters(pieces: _Pieces, axis: int) -> bool:
    """Whether any response changes with a variable; a common factor of all is none."""
    rng = np.random.default_rng(axis)
    ways = rng.uniform(0.2, 0.8, len(pieces.variables))
    responses = []
    for way in (0.17, 0.71):
        ways[axis] = way
        values = pieces.sample(ways.tolist())
        responses.append(values[1:] / values[0])
    largest = np.max(np.abs(responses), initial=SILENT)
    return bool(np.max(np.abs(responses[1] - responses[0])) > 1e-9 * largest)


def _sampled(pieces: _Pieces, degrees: Sequence[int]) -> Complex:
    grids = [np.linspace(0.0, 1.0, degree + 1) if degree else np.array([MIDDLE]) for degree in degrees]
    samples = [pieces.sample(ways) for ways in product(*(grid.tolist() for grid in grids))]
    stacked = np.stack(samples, axis=1)
    return stacked.reshape(len(stacked), *(len(grid) for grid in grids), stacked.shape[-1])


def _without_leading(table: Complex, axis: int, degree: int) -> int:
    """The degree, or one less where the power of that degree is missing."""
    if degree == 0:
        return 0
    leading = np.diff(table, degree, axis=axis + 1)
    axes = tuple(range(1, table.ndim - 1))
    largest = np.max(np.abs(table), axis=axes, keepdims=True)
    return degree - 1 if np.all(np.abs(leading) <= NOTHING * largest) else degree


def _is_heard(table: Complex) -> list[bool]:
    """Whether each coil is heard at any share and frequency."""
    largest = np.max(np.abs(table), axis=tuple(range(1, table.ndim - 1)), initial=0.0)
    responses = largest[1:] / np.maximum(largest[0], 1e-300)
    return [bool(row.max(initial=0.0) > SILENT) for row in responses]


def _made_smooth(piece: Piece, network: Network, at: Setting, frequencies_hz: Floats) -> Piece:
    """Multiply each frequency's polynomials by one number; see the head of this module."""
    modes = natural_modes(state_of(leave_reaching(set_pots(network, at))))
    s = laplace(frequencies_hz)
    wanted = np.prod((1.0 - s[:, None] / modes) / (1.0 + np.abs(s[:, None] / modes)), axis=1)
    present = np.einsum("t,tf->f", piece.weights(at.knobs), piece.table[0])
    return Piece(piece.variables, piece.heard, piece.table * (wanted / present))
