"""The network of a setting as a SPICE netlist, to check the computation with."""

from __future__ import annotations

import re
from collections.abc import Iterator
from math import prod, sqrt

from dsp.errors import InputError, nearest
from dsp.wiring.coupling import lossless_share
from dsp.wiring.model import Setting, Wiring
from dsp.wiring.network import GROUND, Network, build_network, reference_of, set_pots, tied_nodes

ANALYSIS = (".option noopac", ".ac dec 100 20 20k", ".print ac vm(out) vp(out)")
"""No operating point: it is zero everywhere, and nodes behind capacitors have none."""


def netlist(wiring: Wiring, setting: Setting, *, coil: str | None = None) -> str:
    """Write the netlist of a setting.

    Parameters
    ----------
    coil : str or None
        Coil whose EMF is 1 V, the first unless given. The other coils have 0 V.

    Returns
    -------
    str
        Node 0 is the jack's sleeve, ``out`` its tip. The EMF of coil X is the source VE_X,
        positive towards the coil's start. V(out) is that coil's response.

    Raises
    ------
    InputError
        If there is no such coil.
    """
    coils = list(wiring.coils)
    coil = coils[0] if coil is None else coil
    if coil not in coils:
        raise InputError("coil", f"'{coil}'", ", ".join(coils), nearest(coil, coils))
    network = set_pots(build_network(wiring, setting), setting)
    lines = [
        f"* {_comment(wiring.name or wiring.file)}",
        f"* selector position {_comment(setting.position)}; {_comment(_setting_text(setting))}",
        f"* EMF of 1 V in coil {coil}; node out = jack tip, node 0 = jack sleeve",
        *_branches(wiring, network, coil),
        *_load(network),
        *ANALYSIS,
        ".end",
    ]
    return "\n".join(lines) + "\n"


def _comment(text: str) -> str:
    """Text on one line, so that it stays a comment."""
    return " ".join(text.split())


def _setting_text(setting: Setting) -> str:
    knobs = [f"{name}={value:g}" for name, value in setting.knobs.items()]
    return " ".join([*knobs, *(f"{name}={place}" for name, place in setting.switches.items())]) or "no knobs"


_LOAD_NAMES = ("amplifier", "load", "out")
"""Devices that stand for the load or for a shorted output."""


class _Nodes:
    """Names of the nodes. A piece with no path to the sleeve is tied to it at one node."""

    def __init__(self, network: Network) -> None:
        self._tied = tied_nodes(network)
        self._output = network.output

    def name(self, node: int) -> str:
        if self._tied[node] == GROUND:
            return "0"
        return "out" if node == self._output else f"n{node}"


def _names(network: Network) -> dict[str, str]:
    """A device name per part: ASCII, and unique where case does not count; not one of the load's."""
    names: dict[str, str] = {}
    taken = set(_LOAD_NAMES)
    for i, (kind, branches) in enumerate(network.elements):
        part = branches[0].name
        name = re.sub(r"\W", "_", part) if part.isascii() else f"part{i}"
        ends = kind.devices(branches[0].part)
        while any(f"{name}{end}".lower() in taken for end in ends):
            name += "_"
        taken.update(f"{name}{end}".lower() for end in ends)
        names[part] = name
    return names


def _branches(wiring: Wiring, network: Network, driven: str) -> Iterator[str]:
    nodes = _Nodes(network)
    names = _names(network)
    reference = reference_of(network)
    for kind, branches in network.elements:
        part, name = branches[0].part, branches[0].name
        ends = [(nodes.name(branch.a), nodes.name(branch.b)) for branch in branches]
        if not kind.windings(part) and all(a == b for a, b in ends):
            yield f"* {_comment(name)} is shorted"
        elif kind.ties(part) and reference[branches[0].a] is None:
            yield f"* {_comment(name)} is joined to nothing that matters"
        else:
            yield from kind.netlist(part, names[name], ends, 1 if name == driven else 0)
    for i, pair in enumerate(network.couplings):
        shares = [lossless_share(wiring.parts[name]) for name in (pair.first, pair.second)]
        if share := prod(shares):  # SPICE's own coefficient refers to the lossless inductances
            first, second = names[pair.first], names[pair.second]
            yield f"K{i}_{first}_{second} L_{first} L_{second} {pair.coefficient / sqrt(share):.17g}"


def _load(network: Network) -> Iterator[str]:
    if network.output == GROUND:
        yield "* the output is shorted"
        yield "R_out out 0 1"
        return
    yield f"R_amplifier out 0 {network.load.amplifier_ohm:.17g}"
    if network.load.capacitance_f > 0.0:
        yield f"C_load out 0 {network.load.capacitance_f:.17g}"
