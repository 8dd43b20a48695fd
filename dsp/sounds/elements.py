"""What a search connects: coils, and groups as sources of the coils inside them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from dsp.circuit.meter import jack_reading_ohm
from dsp.circuit.reduction import laplace
from dsp.circuit.response import respond
from dsp.errors import InputError, nearest
from dsp.parts.coil import Coil
from dsp.parts.kind import Part
from dsp.parts.kinds import as_two_lead, new_part
from dsp.parts.load import Load
from dsp.sounds.sources import GroupSource
from dsp.wiring.groups import coils_inside, groups_of, members_of
from dsp.wiring.model import Joint, Wiring

Floats = NDArray[np.float64]
Complex = NDArray[np.complex128]
PROBE_OHM = 1e9
"""Load of a group while it is measured; then taken out of what was measured."""


@dataclass(frozen=True)
class Elements:
    """The elements of a search, and the coils that sound in them.

    Attributes
    ----------
    names : tuple of str
        Coils, and groups in place of the coils inside them.
    parts : tuple of Part or GroupSource
        What has the impedance of each name, in that order.
    coils : tuple of str
        Every coil that sounds, element by element.
    element : ndarray of int, shape (n_coils,)
        Number of each coil's element.
    share : ndarray, shape (n_coils, n_freqs), or None
        Share of each coil's EMF that drives its element; None where every element is a coil and
        none is screened.
    string_signs : ndarray, shape (n_elements,)
        Sign of the EMF that a string induces in each element.
    """

    names: tuple[str, ...]
    parts: tuple[Part | GroupSource, ...]
    coils: tuple[str, ...]
    element: NDArray[np.intp]
    share: Complex | None
    string_signs: Floats

    def gains(self, weight: Complex) -> Complex:
        """Return coils' gains from those of elements, shape (n_coils, n, n_freqs).

        Parameters
        ----------
        weight : ndarray, shape (n_elements or more, n, n_freqs)
        """
        if self.share is None:
            return weight[: len(self.names)]
        return np.asarray(weight[self.element] * self.share[:, None])

    def coil_signs(self, signs: NDArray[np.int8]) -> Floats:
        """Return coils' signs from those of elements, shape (n, n_coils)."""
        return signs[:, self.element].astype(float)


def elements_of(wiring: Wiring, names: Sequence[str] | None, frequencies_hz: Floats) -> Elements:
    """Return the elements of a search.

    Parameters
    ----------
    names : sequence of str or None
        Coils and groups; a coil inside a group stands for its group. None for all coils.
    frequencies_hz : ndarray, shape (n_freqs,)

    Raises
    ------
    InputError
        For a name that is neither, a group soldered to something outside, or a coil in a group
        coupled to one that is not.
    """
    inside = coils_inside(wiring, groups_of(wiring))
    inside = {group: coils for group, coils in inside.items() if coils}
    owner = {coil: group for group, coils in inside.items() for coil in coils}
    known = {*wiring.coils, *inside}
    for name in names or ():
        if name not in known:
            raise InputError("coils", f"'{name}'", ", ".join(known), nearest(name, known))
    chosen = tuple(dict.fromkeys(owner.get(name, name) for name in names or wiring.coils))
    _refuse_coupled(wiring, owner)
    coils = tuple(coil for name in chosen for coil in inside.get(name, (name,)))
    number = np.array([chosen.index(owner.get(coil, coil)) for coil in coils], np.intp)
    left = {name: _emf_left(wiring.coils[name], frequencies_hz) for name in coils if name not in owner}
    if not owner and all(row is None for row in left.values()):
        signs = np.array([float(wiring.coils[name].string_sign) for name in chosen])
        return Elements(chosen, tuple(wiring.coils[name] for name in chosen), coils, number, None, signs)
    share = np.ones((len(coils), len(frequencies_hz)), complex)
    parts: list[Part | GroupSource] = []
    for name in chosen:
        if name not in inside:
            parts.append(wiring.coils[name])
            if (row := left[name]) is not None:
                share[coils.index(name)] = row
            continue
        source, own = _measure(wiring, name, frequencies_hz)
        parts.append(source)
        for coil, row in own.items():
            share[coils.index(coil)] = row
    sensed = np.array([wiring.coils[name].string_sign * wiring.coils[name].sensitivity for name in coils])
    strength = np.bincount(number, sensed * share[:, 0].real, len(chosen))
    return Elements(chosen, tuple(parts), coils, number, share, np.where(strength < 0.0, -1.0, 1.0))


def _emf_left(coil: Coil, frequencies_hz: Floats) -> Complex | None:
    """What screening leaves of a coil's EMF; in a group the group's own measurement has it."""
    return as_two_lead(coil).emf_left(coil, laplace(frequencies_hz))


def _refuse_coupled(wiring: Wiring, owner: Mapping[str, str]) -> None:
    for pair in wiring.couplings:
        if pair.coefficient and owner.get(pair.first) != owner.get(pair.second):
            got = f"{pair.first} coupled to {pair.second}"
            raise InputError(f"{wiring.file}: couplings", got, "both coils in one group, to be searched")


def _measure(wiring: Wiring, group: str, frequencies_hz: Floats) -> tuple[GroupSource, dict[str, Complex]]:
    """Return a group as a source with its knobs at 10, and each coil's EMF at its leads."""
    kept = {group, *members_of(wiring, group)}
    parts = {name: part for name, part in wiring.parts.items() if name in kept}
    jack = "probe"
    while jack in parts:
        jack += "_"
    parts[jack] = new_part("jack")
    joints = [joint for joint in wiring.joints if joint.terminals[0][0] in kept]
    joints += [Joint(((group, "hot"), (jack, "tip"))), Joint(((group, "cold"), (jack, "sleeve")))]
    bare = replace(
        wiring,
        parts=parts,
        joints=tuple(joints),
        couplings=tuple(one for one in wiring.couplings if one.first in kept and one.second in kept),
        load=Load(0.0, 0.0, PROBE_OHM, 0.0),
        selector=None,
        output=None,
    )
    setting = bare.setting(bare.positions[0])
    found = respond(bare, [setting], frequencies_hz)
    loaded = found.output_impedance_ohm[0]
    if not np.any(found.coil[0]):
        line = wiring.lines.get(group, 0)
        where = f"{wiring.file}:{line}: {group}" if line else f"{wiring.file}: {group}"
        raise InputError(where, "no coil between its leads", "a coil heard between its hot and cold")
    impedance = 1.0 / (1.0 / loaded - 1.0 / PROBE_OHM)
    unloaded = 1.0 + impedance / PROBE_OHM
    source = GroupSource(impedance, jack_reading_ohm(bare, setting))
    return source, {name: row * unloaded for name, row in zip(found.coils, found.coil[0], strict=True)}
