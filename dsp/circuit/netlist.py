"""A setting's network as a plain SPICE netlist, so that anyone can check the computation."""

from __future__ import annotations

import re
from collections.abc import Iterator

from dsp.errors import InputError, nearest
from dsp.parts.coil import Coil
from dsp.parts.two_lead import Capacitor, Inductor
from dsp.wiring.model import Setting, Wiring
from dsp.wiring.network import GROUND, Network, at_knobs, build_network, tied_nodes

ANALYSIS = (".option noopac", ".ac dec 100 20 20k", ".print ac vm(out) vp(out)")
"""No operating point: it is zero everywhere, and nodes behind capacitors have none."""


def netlist(wiring: Wiring, setting: Setting, *, coil: str | None = None) -> str:
    """The netlist of one setting.

    Parameters
    ----------
    wiring : Wiring
    setting : Setting
    coil : str or None
        Coil whose EMF is 1 V, the others being 0 V; the first if not given.

    Returns
    -------
    str
        Node 0 is the jack's sleeve, ``out`` its tip. The EMF of coil X is the source VE_X,
        positive towards the coil's start. V(out) is then that coil's response.

    Raises
    ------
    InputError
        If there is no such coil.
    """
    coils = list(wiring.coils)
    coil = coils[0] if coil is None else coil
    if coil not in coils:
        raise InputError("coil", f"'{coil}'", ", ".join(coils), nearest(coil, coils))
    network = at_knobs(build_network(wiring, setting), setting)
    lines = [
        f"* {_comment(wiring.name or wiring.file)}",
        f"* selector position {_comment(setting.position)}; {_comment(_stands(setting))}",
        f"* EMF of 1 V in coil {coil}; node out = jack tip, node 0 = jack sleeve",
        *_branches(wiring, network, coil),
        *_load(network),
        *ANALYSIS,
        ".end",
    ]
    return "\n".join(lines) + "\n"


def _comment(text: str) -> str:
    """Text that cannot leave its comment line."""
    return " ".join(text.split())


def _stands(setting: Setting) -> str:
    knobs = [f"{name}={value:g}" for name, value in setting.knobs.items()]
    return " ".join([*knobs, *(f"{name}={stand}" for name, stand in setting.switches.items())]) or "no knobs"


class _Nodes:
    """Names of the nodes; a piece with no path to the sleeve is tied to it by one node."""

    def __init__(self, network: Network) -> None:
        self._tied = tied_nodes(network)
        self._output = network.output

    def name(self, node: int) -> str:
        if self._tied[node] == GROUND:
            return "0"
        return "out" if node == self._output else f"n{node}"


def _names(network: Network) -> dict[str, str]:
    """A device name per branch: ASCII, and no two alike to a program that is blind to case."""
    names: dict[str, str] = {}
    taken: set[str] = set()
    for i, branch in enumerate(network.branches):
        name = re.sub(r"\W", "_", branch.name) if branch.name.isascii() else f"part{i}"
        sections = len(branch.part.sections()) if isinstance(branch.part, Coil) else 0
        ends = ("", *(f"_eddy{k}" for k in range(sections)))
        while any(f"{name}{end}".lower() in taken for end in ends):
            name += "_"
        taken.update(f"{name}{end}".lower() for end in ends)
        names[branch.name] = name
    return names


def _branches(wiring: Wiring, network: Network, driven: str) -> Iterator[str]:
    nodes = _Nodes(network)
    names = _names(network)
    for branch in network.branches:
        name, a, b = names[branch.name], nodes.name(branch.a), nodes.name(branch.b)
        if isinstance(branch.part, Coil):
            yield from _coil(branch.part, name, a, b, 1 if branch.name == driven else 0)
        elif a == b:
            yield f"* {_comment(branch.name)} is shorted"
        elif isinstance(branch.part, Inductor):
            yield from _choke(branch.part, name, a, b)
        elif isinstance(branch.part, Capacitor):
            yield f"C_{name} {a} {b} {branch.part.capacitance_f:.17g}"
        else:
            yield f"R_{name} {a} {b} {branch.part.resistance_ohm:.17g}"
    for i, pair in enumerate(network.couplings):
        if all(wiring.coils[name].lossless_h > 0.0 for name in (pair.first, pair.second)):
            first, second = names[pair.first], names[pair.second]
            yield f"K{i}_{first}_{second} L_{first} L_{second} {pair.coefficient:.17g}"


def _coil(coil: Coil, name: str, start: str, finish: str, volt: int) -> Iterator[str]:
    """EMF, resistance, lossless inductance, eddy sections, from start to finish; C across."""
    yield f"VE_{name} {start} {name}_e DC 0 AC {volt}"
    yield f"R_{name} {name}_e {name}_r {coil.resistance_ohm:.17g}"
    at = f"{name}_r"
    sections = coil.sections()
    stops = [f"{name}_s{i}" for i in range(len(sections))] + [finish]
    if coil.lossless_h > 0.0:
        yield f"L_{name} {at} {stops[0]} {coil.lossless_h:.17g}"
        at = stops[0]
    elif sections:
        stops[0] = at
    for i, (share_h, loss_ohm) in enumerate(sections):
        yield f"L_{name}_eddy{i} {at} {stops[i + 1]} {share_h:.17g}"
        yield f"R_{name}_eddy{i} {at} {stops[i + 1]} {loss_ohm:.17g}"
        at = stops[i + 1]
    if start != finish:
        yield f"C_{name} {start} {finish} {coil.capacitance_f:.17g}"


def _choke(choke: Inductor, name: str, a: str, b: str) -> Iterator[str]:
    if choke.resistance_ohm > 0.0:
        yield f"R_{name} {a} {name}_r {choke.resistance_ohm:.17g}"
        a = f"{name}_r"
    yield f"L_{name} {a} {b} {choke.inductance_h:.17g}"


def _load(network: Network) -> Iterator[str]:
    if network.output == GROUND:
        yield "* the output is shorted"
        yield "R_out out 0 1"
        return
    yield f"R_amplifier out 0 {network.load.amplifier_ohm:.17g}"
    if network.load.capacitance_f > 0.0:
        yield f"C_load out 0 {network.load.capacitance_f:.17g}"
