"""Findings: what a technician should know about a wiring before soldering it.

A rule examines the states of a wiring (selector and other switches) and returns those in which it
holds. One table lists the rules with their severity and text. It drives the command, the page and
the documents.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from dsp.circuit.response import respond
from dsp.facts.findings.audible import find_hum, find_identical_positions, find_out_of_phase
from dsp.facts.findings.grounds import find_ground_faults
from dsp.facts.findings.heavy_input import find_heavy_input
from dsp.facts.findings.knobs import find_knob_faults
from dsp.facts.findings.loudness import find_loudness_jumps
from dsp.facts.findings.outputs import find_jack_faults
from dsp.facts.findings.passage import find_passages
from dsp.facts.findings.states import (
    LOOK_HZ,
    State,
    condition_of,
    line_of,
    positions_of,
    primary_states,
    states_of,
)
from dsp.facts.findings.table import SEVERITIES, Finding
from dsp.parts.kind import LooseRules, Terminal
from dsp.parts.kinds import ends_of, kind_of, terminals_of
from dsp.strings.tuned import tension_warnings
from dsp.wiring.drawn import idle_runs, unknown_places
from dsp.wiring.model import Wiring
from dsp.wiring.union import Merge


def check(wiring: Wiring) -> tuple[Finding, ...]:
    """Return all findings of a wiring, the gravest first.

    Examples
    --------
    >>> from dsp.parts.kinds import new_part
    >>> from dsp.wiring.model import Joint
    >>> coil = new_part("coil", resistance=6e3, inductance=2.4, capacitance=110e-12)
    >>> ends = [(("neck", "start"), ("output", "tip")), (("neck", "finish"), ("output", "sleeve"))]
    >>> parts = {"neck": coil, "output": new_part("jack")}
    >>> wiring = Wiring("one coil", "", parts, tuple(map(Joint, ends)))
    >>> for finding in check(wiring):
    ...     print(f"{finding.severity}: {finding.finding}")
    note: not hum-cancelling
    note: no load given
    reminder: strings not grounded
    """
    states = states_of(wiring)
    found = [
        *_silence(wiring, states),
        *_loose(wiring, states),
        *_unjoined(wiring),
        *find_knob_faults(wiring, states),
        *find_identical_positions(wiring, states),
        *find_out_of_phase(wiring, states),
        *find_hum(wiring, states),
        *find_passages(wiring),
        *find_loudness_jumps(wiring, primary_states(wiring, states)),
        *find_jack_faults(wiring),
    ]
    if wiring.instrument is not None:
        tensions = tension_warnings(wiring.instrument.strings, wiring.instrument.scale_m)
        line = wiring.lines.get("instrument", 0)
        found += [Finding("string tension", line=line, detail=text) for text in tensions]
    found += _couplings(wiring)
    found += _assumptions(wiring)
    if "load" not in wiring.lines:
        found.append(Finding("no load given"))
    found += find_heavy_input(wiring, primary_states(wiring, states))
    found += _drawn(wiring)
    found += find_ground_faults(wiring, states)
    return tuple(sorted(found, key=lambda one: SEVERITIES.index(one.severity)))


def _drawn(wiring: Wiring) -> Iterator[Finding]:
    """Yield what the drawing's part of the file names in vain."""
    lines = wiring.drawn.lines
    for name in unknown_places(wiring):
        yield Finding("place of no part", (name,), line=lines.get(name, 0))
    for number in idle_runs(wiring):
        lugs = tuple(".".join(one) for one in wiring.drawn.runs[number])
        yield Finding("wire of no joint", lugs, line=lines.get(str(number), 0))


def _silence(wiring: Wiring, states: list[State]) -> Iterator[Finding]:
    """Yield silent positions.

    They may be intentional if another switch restores the sound.
    """
    for name in ("jack shorted", "no coil reaches the jack"):
        shorted = name == "jack shorted"
        hit = positions_of(s for s in states if s.silent and s.structure.jack_shorted == shorted)
        always = tuple(p for p in hit if all(s.silent for s in states if s.setting.position == p))
        for knobs, turned in _heard_at_five(wiring, states, () if shorted else always).items():
            yield Finding("silent at 10", knobs, turned, line_of(wiring, knobs[0]))
            always = tuple(p for p in always if p not in turned)
            hit = tuple(p for p in hit if p not in turned)
        at = wiring.jack if shorted else wiring.selector or wiring.jack
        lugs: tuple[str, ...] = (".".join(wiring.hot), f"{wiring.jack}.sleeve") if shorted else ()
        if always:
            yield Finding(name, lugs, always, line_of(wiring, at))
        some = tuple(p for p in hit if p not in always)
        if some:
            lugs = tuple(sorted(_killers(states, some)))
            yield Finding("silent with a switch", lugs, some, line_of(wiring, at), name)


def _heard_at_five(
    wiring: Wiring, states: list[State], positions: tuple[str, ...]
) -> dict[tuple[str, ...], tuple[str, ...]]:
    """Return positions silent with all knobs at 10 but not at 5, by the knobs to blame.

    Those are the knobs that are heard alone at 5, or all if none is.
    """
    among = [state.setting for state in states if state.setting.position in positions]
    if not among or not wiring.knobs:
        return {}
    turned = [tuple(wiring.knobs), *((knob,) for knob in wiring.knobs)]
    half = [
        wiring.setting(setting.position, dict.fromkeys(knobs, 5.0), setting.switches)
        for setting in among
        for knobs in turned
    ]
    coil = respond(wiring, half, LOOK_HZ).coil
    heard = np.any(coil.reshape(len(among), len(turned), -1), axis=2)
    found: dict[tuple[str, ...], list[str]] = {}
    for setting, (together, *alone) in zip(among, heard, strict=True):
        if together and not any(setting.position in named for named in found.values()):
            blamed = tuple(knob for knob, one in zip(wiring.knobs, alone, strict=True) if one)
            found.setdefault(blamed or tuple(wiring.knobs), []).append(setting.position)
    return {knobs: tuple(named) for knobs, named in found.items()}


def _killers(states: list[State], positions: tuple[str, ...]) -> set[str]:
    """Return the switch settings that always silence the positions."""
    among = [state for state in states if state.setting.position in positions]
    stands = {stand for state in among if state.silent for stand in state.setting.switches.items()}
    return {
        f"{switch}={stand}"
        for switch, stand in stands
        if all(state.silent for state in among if state.setting.switches[switch] == stand)
    }


def _loose(wiring: Wiring, states: list[State]) -> Iterator[Finding]:
    """Yield loose leads and shorted coils."""
    hanging: dict[str, list[State]] = {}
    unused: dict[str, int] = {}
    for state in states:
        for part, lead in state.structure.hanging:
            hanging.setdefault(f"{part}.{lead}", []).append(state)
        for part, lead in state.structure.unused:  # a coil that a position leaves out is not a fault
            unused[f"{part}.{lead}"] = unused.get(f"{part}.{lead}", 0) + 1
    for lead in dict.fromkeys((*hanging, *unused)):
        part, where = lead.split(".")[0], hanging.get(lead, [])
        if len(where) + unused.get(lead, 0) == len(states):
            yield Finding(_rules(wiring, part).never_joined, (lead,), (), line_of(wiring, part))
        elif where and (rule := _rules(wiring, part).hanging):
            line, detail = line_of(wiring, part), condition_of(where, states)
            yield Finding(rule, (lead,), positions_of(where), line, detail)
    for name, one in wiring.parts.items():
        rules, line = kind_of(one).rules, line_of(wiring, name)
        where = [s for s in states if name in s.structure.shorted]
        if where:
            lugs, detail = tuple(f"{name}.{lead}" for lead in terminals_of(one)), condition_of(where, states)
            yield Finding(rules.shorted, lugs, positions_of(where), line, detail)
        where = [s for s in states if name in s.structure.partly]
        if where:
            detail = condition_of(where, states)
            yield Finding("section of a coil shorted", (name,), positions_of(where), line, detail)
        for lead in terminals_of(one) if rules.aerial else ():
            where = [s for s in states if (name, lead) in s.structure.aerials]
            if where:
                detail = condition_of(where, states)
                yield Finding(rules.aerial, (f"{name}.{lead}",), positions_of(where), line, detail)


def _couplings(wiring: Wiring) -> Iterator[Finding]:
    """Couplings whose sign fits coils stacked on one axis, of coils side by side."""
    coils = wiring.coils
    for pair in wiring.couplings:
        if pair.first not in coils or pair.second not in coils:
            continue
        first, second = coils[pair.first], coils[pair.second]
        apart = first.at_m is not None and second.at_m is not None and first.at_m != second.at_m
        if apart and first.winding != second.winding and pair.coefficient < 0.0:
            detail = f"k = {pair.coefficient:g}"
            line = line_of(wiring, pair.first)
            yield Finding("coupling opposes", (pair.first, pair.second), (), line, detail)


def _assumptions(wiring: Wiring) -> Iterator[Finding]:
    """Defaults that matter, a finding for all parts that leave a field to one."""
    named: dict[str, list[str]] = {}
    for name, left in wiring.assumed.items():
        for field in left:
            named.setdefault(kind_of(wiring.parts[name]).assumptions[field], []).append(name)
    for rule, names in named.items():
        yield Finding(rule, tuple(names), (), line_of(wiring, names[0]))


def _rules(wiring: Wiring, part: str) -> LooseRules:
    return kind_of(wiring.parts[part]).rules


def _unjoined(wiring: Wiring) -> Iterator[Finding]:
    """Yield unconnected lugs of the jack, and wipers and lugs of pots."""
    merge: Merge[Terminal] = Merge(
        (name, lug) for name, part in wiring.parts.items() for lug in terminals_of(part)
    )
    for joint in wiring.joints:
        merge.join(joint.terminals)
    placed = wiring.placed
    company = {terminal: group for group in merge.classes() for terminal in group}

    def loose(part: str) -> list[str]:
        ends = ends_of(wiring.parts[part]) if part in placed else ()
        lugs = [lug for lug in terminals_of(wiring.parts[part]) if lug not in ends]
        return [lug for lug in lugs if all(other == part for other, _ in company[part, lug])]

    for name in dict.fromkeys((wiring.jack, *wiring.parts)):  # faults at the jack are the gravest
        for rule, lugs in kind_of(wiring.parts[name]).find_unjoined(wiring.parts[name], loose(name)):
            yield Finding(rule, tuple(f"{name}.{lug}" for lug in lugs), (), line_of(wiring, name))
