"""The networks to search: of coils, of pickups with permanent links, and of an extra part."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

from dsp.sounds.sources import networks_with_extra
from dsp.sounds.topology import COIL, PARALLEL, SERIES, Topology, topologies
from dsp.wiring.linked_coils import Unit


@dataclass(frozen=True)
class NetworkSet:
    """Networks and their phases.

    Attributes
    ----------
    networks : tuple of Topology
        Members of a network come before it.
    wanted : tuple of int
        Indexes of the networks that are candidates.
    units : tuple of (int, tuple of int)
        For each element reversed as a whole: the mask of its coils, and a sign for each of all
        elements, 0 for those not in it.
    """

    networks: tuple[Topology, ...]
    wanted: tuple[int, ...]
    units: tuple[tuple[int, tuple[int, ...]], ...]
    n_elements: int

    def phases(self, mask: int) -> list[tuple[int, ...]]:
        """Return the relative phases of a network's coils; 1 for other parts.

        Parameters
        ----------
        mask : int
            Bit k is set if element k is in the network.
        """
        inside = [signs for own, signs in self.units if own & mask]
        coils = sum(own for own, _ in self.units)
        others = [mask & ~coils & 1 << k and 1 for k in range(self.n_elements)]
        found = []
        for turned in product((1, -1), repeat=len(inside) - 1):
            rows = [
                tuple(turn * sign for sign in signs) for turn, signs in zip((1, *turned), inside, strict=True)
            ]
            whole = [sum(column) for column in zip(*rows, strict=True)]
            first = next(sign for sign in whole if sign)
            found.append(tuple(sign * first or other for sign, other in zip(whole, others, strict=True)))
        return found


def networks_of(units: Sequence[Unit], names: Sequence[str], n_coils: int) -> NetworkSet:
    """Return all networks of some elements.

    Parameters
    ----------
    units : sequence of Unit
        Units of the coils.
    names : sequence of str
        Names of all elements: the coils, then an extra part to include in every network.

    Raises
    ------
    InputError
        If there are too many elements.
    """
    place = {name: k for k, name in enumerate(names)}
    plain = all(len(unit.coils) == 1 for unit in units)
    n_units = len(units) + len(names) - n_coils
    everything = topologies(n_units)
    extra = n_units - 1 if len(names) > n_coils else None
    wanted = (
        tuple(networks_with_extra(everything, extra)) if extra is not None else tuple(range(len(everything)))
    )
    turned = tuple(_turned(unit, place, len(names)) for unit in units)
    if plain:
        return NetworkSet(everything, wanted, turned, len(names))
    leaves = [Topology(COIL, 1 << k) for k in range(len(names))]
    made = [_made(unit, leaves, place) for unit in units] + leaves[n_coils:]
    grown: dict[int, Topology] = {}
    for one in everything:
        grown[id(one)] = made[one.coils[0]] if one.kind == COIL else _flat(one, grown)
    networks = [*leaves, *(one for one in made if one.kind != COIL)]
    networks += [grown[id(one)] for one in everything if one.kind != COIL]
    at = {id(one): i for i, one in enumerate(networks)}
    return NetworkSet(
        tuple(networks), tuple(at[id(grown[id(everything[i])])] for i in wanted), turned, len(names)
    )


def _turned(unit: Unit, place: dict[str, int], n: int) -> tuple[int, tuple[int, ...]]:
    signs = [0] * n
    for name, sign in zip(unit.coils, unit.signs, strict=True):
        signs[place[name]] = sign
    return sum(1 << place[name] for name in unit.coils), tuple(signs)


def _made(unit: Unit, leaves: Sequence[Topology], place: dict[str, int]) -> Topology:
    if len(unit.coils) == 1:
        return leaves[place[unit.coils[0]]]
    members = tuple(leaves[place[name]] for name in unit.coils)
    return Topology(SERIES if unit.series else PARALLEL, sum(one.mask for one in members), members)


def _flat(one: Topology, grown: dict[int, Topology]) -> Topology:
    """Return a network of pickups as one of coils, with nested chains merged."""
    members: list[Topology] = []
    for member in one.members:
        inner = grown[id(member)]
        members += inner.members if inner.kind == one.kind else (inner,)
    return Topology(one.kind, sum(member.mask for member in members), tuple(members))
