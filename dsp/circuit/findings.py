"""Findings: what a technician should know of a wiring before it is soldered.

A rule looks at the states of a wiring (selector and other switches) and tells in which of
them it holds; one table lists the rules, their severity and their words, and drives the
command, the page and the documents.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import product
from math import prod

import numpy as np

from dsp.circuit.finding import SEVERITIES, Finding
from dsp.circuit.hum import CANCELLING_DB, HUM_HZ, hum_residual_db
from dsp.circuit.reduction import Complex, Floats
from dsp.circuit.response import hum_weights, respond
from dsp.wiring.check import Structure, structure_of
from dsp.wiring.model import Setting, Wiring, terminals_of
from dsp.wiring.network import build_network

MOST_STATES = 256
"""States looked at; with more, the other switches are moved one at a time."""
LOOK_HZ = np.concatenate([HUM_HZ, np.geomspace(400.0, 18_000.0, 24)])
SAME = 1e-6
"""Responses nearer than this, relative to the largest, are the same sound."""
NO_EFFECT = 1e-4
"""A knob that changes no response by more than this, relatively (0.001 dB), does nothing."""
TRIED_AT = (0.0, 2.5, 5.0, 7.5, 10.0)


@dataclass(frozen=True)
class _State:
    """One state of the switches, every knob at 10."""

    setting: Setting
    structure: Structure
    coil: Complex

    @property
    def silent(self) -> bool:
        return not np.any(self.coil)


def check(wiring: Wiring) -> tuple[Finding, ...]:
    """Everything worth telling about a wiring, the gravest first.

    Parameters
    ----------
    wiring : Wiring

    Returns
    -------
    tuple of Finding
    """
    states = _states(wiring)
    found = [
        *_silence(wiring, states),
        *_loose(wiring, states),
        *_knobs(wiring, states),
        *_identical(wiring, _plain(wiring, states)),
        *_hum(wiring, _plain(wiring, states)),
    ]
    if "load" not in wiring.lines:
        found.append(Finding("no load given"))
    found.append(Finding("strings not grounded"))
    return tuple(sorted(found, key=lambda one: SEVERITIES.index(one.severity)))


def _states(wiring: Wiring) -> list[_State]:
    """Every selector position with every stand of the other switches."""
    names = list(wiring.switches)
    stands = [tuple(wiring.switches[name].contacts) for name in names]
    if len(wiring.positions) * prod(map(len, stands)) <= MOST_STATES:
        combined = list(product(*stands))
    else:
        first = tuple(stand[0] for stand in stands)
        combined = [first]
        for i, stand in enumerate(stands):
            combined += [(*first[:i], other, *first[i + 1 :]) for other in stand[1:]]
    settings = [
        wiring.setting(position, {}, dict(zip(names, stand, strict=True)))
        for position in wiring.positions
        for stand in combined
    ]
    coil = respond(wiring, settings, LOOK_HZ).coil
    return [
        _State(setting, structure_of(build_network(wiring, setting)), coil[i])
        for i, setting in enumerate(settings)
    ]


def _plain(wiring: Wiring, states: Iterable[_State]) -> list[_State]:
    """The state of each selector position with the other switches in their first position."""
    first = {name: next(iter(switch.contacts)) for name, switch in wiring.switches.items()}
    return [state for state in states if state.setting.switches == first]


def _positions(states: Iterable[_State]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(state.setting.position for state in states))


def _line(wiring: Wiring, part: str | None) -> int:
    return wiring.lines.get(part or "", 0)


def _silence(wiring: Wiring, states: list[_State]) -> Iterator[Finding]:
    """Positions without sound; with a second switch that gives sound, perhaps on purpose."""
    for name in ("jack shorted", "no coil reaches the jack"):
        shorted = name == "jack shorted"
        hit = _positions(s for s in states if s.silent and s.structure.jack_shorted == shorted)
        always = tuple(p for p in hit if all(s.silent for s in states if s.setting.position == p))
        turned = () if shorted else _heard_at_five(wiring, states, always)
        if turned:
            yield Finding("silent at 10", tuple(wiring.pots), turned, _line(wiring, next(iter(wiring.pots))))
            always = tuple(p for p in always if p not in turned)
            hit = tuple(p for p in hit if p not in turned)
        at = wiring.jack if shorted else wiring.selector or wiring.jack
        lugs: tuple[str, ...] = (f"{wiring.jack}.tip", f"{wiring.jack}.sleeve") if shorted else ()
        if always:
            yield Finding(name, lugs, always, _line(wiring, at))
        some = tuple(p for p in hit if p not in always)
        if some:
            lugs = tuple(sorted(_killers(states, some)))
            yield Finding("silent with a switch", lugs, some, _line(wiring, at), name)


def _heard_at_five(wiring: Wiring, states: list[_State], positions: tuple[str, ...]) -> tuple[str, ...]:
    """Positions, silent with every knob at 10, that are heard with every knob at 5."""
    knobs = dict.fromkeys(wiring.pots, 5.0)
    among = [state.setting for state in states if state.setting.position in positions]
    half = [wiring.setting(setting.position, knobs, setting.switches) for setting in among]
    coil = respond(wiring, half, LOOK_HZ).coil
    heard = (setting for i, setting in enumerate(among) if np.any(coil[i]))
    return tuple(dict.fromkeys(setting.position for setting in heard))


def _killers(states: list[_State], positions: tuple[str, ...]) -> set[str]:
    """Switch stands in which the positions are silent whatever else is set."""
    among = [state for state in states if state.setting.position in positions]
    stands = {stand for state in among if state.silent for stand in state.setting.switches.items()}
    return {
        f"{switch}={stand}"
        for switch, stand in stands
        if all(state.silent for state in among if state.setting.switches[switch] == stand)
    }


def _loose(wiring: Wiring, states: list[_State]) -> Iterator[Finding]:
    """Leads that hang, coils that are shorted."""
    coils = wiring.coils
    hanging: dict[str, list[_State]] = {}
    unused: dict[str, int] = {}
    for state in states:
        for part, lead in state.structure.hanging:
            hanging.setdefault(f"{part}.{lead}", []).append(state)
        for part in state.structure.unused:  # a coil that a position leaves out is no fault
            for lead in terminals_of(wiring.parts[part]):
                unused[f"{part}.{lead}"] = unused.get(f"{part}.{lead}", 0) + 1
    for lead in dict.fromkeys((*hanging, *unused)):
        part, where = lead.split(".")[0], hanging.get(lead, [])
        if len(where) + unused.get(lead, 0) == len(states):
            kind = "coil" if part in coils else "part"
            yield Finding(f"{kind} lead never joined", (lead,), (), _line(wiring, part))
        elif where and part in coils:
            line, detail = _line(wiring, part), _when(where, states)
            yield Finding("coil lead hanging", (lead,), _positions(where), line, detail)
    for name in coils:
        shorted = [s for s in states if name in s.structure.shorted]
        if shorted:
            lugs = (f"{name}.start", f"{name}.finish")
            detail = _when(shorted, states)
            yield Finding("coil shorted", lugs, _positions(shorted), _line(wiring, name), detail)
        for lead in ("start", "finish"):
            aerial = [s for s in states if (name, lead) in s.structure.aerials]
            if aerial:
                held = (f"{name}.{lead}",)
                line, detail = _line(wiring, name), _when(aerial, states)
                yield Finding("hot end left as aerial", held, _positions(aerial), line, detail)


def _when(hit: list[_State], states: list[_State]) -> str:
    """In which stands of the other switches something holds, where it is not in all of them."""
    among = [state for state in states if state.setting.position in _positions(hit)]
    found = []
    for switch in hit[0].setting.switches:
        stands = dict.fromkeys(state.setting.switches[switch] for state in hit)
        if len(stands) < len({state.setting.switches[switch] for state in among}):
            found.append(f"{switch}={' or '.join(stands)}")
    return f"with {', '.join(found)}" if found else ""


def _knobs(wiring: Wiring, states: list[_State]) -> Iterator[Finding]:
    """Knobs that change nothing in a position, the other knobs at 10 or in the middle."""
    for knob in wiring.pots:
        moved: set[str] = set()
        for rest in (10.0, 5.0):
            for state in states:
                if state.setting.position in moved:
                    continue
                others = dict.fromkeys(wiring.pots, rest)
                tried = [
                    wiring.setting(state.setting.position, {**others, knob: value}, state.setting.switches)
                    for value in TRIED_AT
                ]
                coil = respond(wiring, tried, LOOK_HZ).coil
                scale = np.max(np.abs(coil), initial=0.0)
                if np.max(np.abs(coil - coil[:1]), initial=0.0) > NO_EFFECT * scale:
                    moved.add(state.setting.position)
        heard = _positions(s for s in states if not s.silent)
        idle = tuple(position for position in heard if position not in moved)
        if idle:
            lugs = tuple(f"{knob}.{lug}" for lug in ("1", "2", "3"))
            yield Finding("knob without effect", lugs, idle, _line(wiring, knob))


def _identical(wiring: Wiring, states: list[_State]) -> Iterator[Finding]:
    """Positions whose every coil response agrees, or agrees but for one common sign."""
    left = [state for state in states if not state.silent]
    while left:
        first, *rest = left
        twins = [state for state in rest if _same(first.coil, state.coil)]
        turned = [state for state in rest if _same(first.coil, -state.coil)]
        line = _line(wiring, wiring.selector)
        if twins:
            yield Finding("positions identical", (), _positions([first, *twins]), line)
        if turned:
            detail = "but for the polarity of the whole, which is not heard"
            yield Finding("positions identical", (), _positions([first, *turned]), line, detail)
        left = [state for state in rest if state not in twins and state not in turned]


def _same(one: Complex, other: Complex) -> bool:
    scale = max(np.max(np.abs(one)), np.max(np.abs(other)))
    return bool(np.max(np.abs(one - other)) <= SAME * scale)


def _hum(wiring: Wiring, states: list[_State]) -> Iterator[Finding]:
    """Per position, whether hum cancels and how much is left."""
    weights: Floats = hum_weights(wiring)
    for state in states:
        if state.silent:
            continue
        residual = hum_residual_db(state.coil[:, : len(HUM_HZ)], weights)
        name = "hum-cancelling" if residual <= CANCELLING_DB else "not hum-cancelling"
        detail = f"{residual:.1f} dB left of the coils' hum" if residual > -200.0 else "nothing left"
        line = _line(wiring, wiring.selector)
        yield Finding(name, (), (state.setting.position,), line, detail)
