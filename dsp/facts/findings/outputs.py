"""Findings about jacks: what a plug in one of them does to what is heard."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from dsp.facts.findings.states import line_of
from dsp.facts.findings.table import Finding
from dsp.parts.jack import MONO, RING, STEREO
from dsp.wiring.model import Setting, Wiring
from dsp.wiring.network import GROUND, build_network
from dsp.wiring.reach import find_reaching_coils


def find_jack_faults(wiring: Wiring) -> Iterator[Finding]:
    """Yield plugs that silence the output or a ring, switches in their first."""
    rest = [wiring.setting(position) for position in wiring.positions]
    for name in wiring.jacks:
        yield from _silencing(wiring, name, rest)
        if MONO in wiring.plugs(name):
            yield from _lost_ring(wiring, name, rest)


def _silencing(wiring: Wiring, name: str, rest: list[Setting]) -> Iterator[Finding]:
    """Yield a plug in another jack that silences the output in some positions."""
    if name == wiring.jack:
        return
    heard = [setting for setting in rest if _is_heard(wiring, setting)]
    for plug in wiring.plugs(name)[1:]:
        plugged = [replace(one, switches={**one.switches, name: plug}) for one in heard]
        where = tuple(one.position for one in plugged if not _is_heard(wiring, one))
        if where:
            yield Finding("silent with another plug", (f"{name}={plug}",), where, line_of(wiring, name))


def _lost_ring(wiring: Wiring, name: str, rest: list[Setting]) -> Iterator[Finding]:
    """Yield positions in which the ring carries a coil that a mono plug grounds."""
    other = replace(wiring, output=(name, RING))
    where = []
    for setting in rest:
        stereo = replace(setting, switches={**setting.switches, name: STEREO})
        if _is_heard(other, stereo):
            where.append(setting.position)
    if where:
        yield Finding("ring lost with a mono plug", (f"{name}.{RING}",), tuple(where), line_of(wiring, name))


def _is_heard(wiring: Wiring, setting: Setting) -> bool:
    network = build_network(wiring, setting)
    return network.output != GROUND and any(find_reaching_coils(network))
