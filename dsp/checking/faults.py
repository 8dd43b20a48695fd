"""Single faults that a soldered guitar may have, each as the wiring that it makes of the right one."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, pairwise
from math import pi
from typing import Any

from dsp.parts.coil import Eddy
from dsp.parts.kind import Terminal
from dsp.parts.kinds import ends_of, kind_of, new_part, switches_of, two_lead_of, variable_of
from dsp.parts.taper import audio, linear
from dsp.units import show
from dsp.wiring.coupling import is_possible
from dsp.wiring.model import Joint, Wiring
from dsp.wiring.union import Merge

PRIORS = {
    "sound": 20.0,
    "open": 1.0,
    "cold": 0.5,
    "short": 0.5,
    "leak": 0.5,
    "swap": 1.5,
    "contact": 0.5,
    "value": 0.4,
    "half": 0.5,
    "magnet": 0.3,
}
"""Weight of each fault of a kind against the others and against none at all: our own choice, to be learnt
from a workshop's record. The values of one cold joint or leak share its weight."""
COLD_OHM = (2e3, 8e3, 30e3)
LEAK_OHM = (10e3, 30e3, 100e3, 300e3, 1e6)
"""A decade and a half apart at most: a fault between two of them is still found."""
WRONG = {"capacitor": (0.1, 0.47, 2.2, 10.0), "resistor": (0.1, 10.0), "pot": (0.5, 2.0)}
"""A part of another value, as factors of the right one."""
ADDED = "added resistor"


@dataclass(frozen=True)
class Fault:
    """One fault.

    Attributes
    ----------
    kind : str
        Of `PRIORS`.
    place : str
        What a person looks at; faults of one kind and place differ in a value alone.
    text : str
        The fault in words.
    terminals : tuple of Terminal
        Where to look.
    prior : float
        Weight, at least 0.
    wiring : Wiring
        With the fault.
    """

    kind: str
    place: str
    text: str
    terminals: tuple[Terminal, ...]
    prior: float
    wiring: Wiring


def find_faults(wiring: Wiring, *, magnets: bool = False) -> tuple[Fault, ...]:
    """Return no fault, then every single one.

    Parameters
    ----------
    magnets : bool
        Whether magnets turned round are among them: a blade alone tells them by reading.
    """
    found = [Fault("sound", "", "no fault", (), PRIORS["sound"], wiring)]
    for make in (_opens, _shorts, _leaks, _swaps, _contacts, _values, _halves):
        found += make(wiring)
    return (*found, *_magnets(wiring)) if magnets else tuple(found)


def _said(terminal: Terminal) -> str:
    return ".".join(terminal)


def _opens(wiring: Wiring) -> Iterator[Fault]:
    """A terminal that came off its joint, or that has resistance to it."""
    for number, joint in enumerate(wiring.joints):
        terminals = joint.terminals[:1] if len(joint.terminals) == 2 else joint.terminals
        for one in terminals:
            rest = tuple(other for other in joint.terminals if other != one)
            where = f"the joint at {_said(one)}"
            if len(rest) == 1:
                where += f" and {_said(rest[0])}"
            lit = joint.terminals if len(rest) == 1 else (one,)
            joints = list(wiring.joints)
            joints[number] = Joint(rest, joint.line)
            yield Fault(
                "open", where, f"{where} is open", lit, PRIORS["open"], replace(wiring, joints=tuple(joints))
            )
            for ohm in COLD_OHM:
                joints[number] = Joint((*rest, (ADDED, "a")), joint.line)
                text = f"{where} is cold, about {show(ohm, 'resistance', 1)}"
                yield Fault(
                    "cold",
                    where,
                    text,
                    lit,
                    PRIORS["cold"] / len(COLD_OHM),
                    _with_resistor(wiring, (*joints, Joint((one, (ADDED, "b")))), ohm),
                )


def _with_resistor(wiring: Wiring, joints: Sequence[Joint], ohm: float) -> Wiring:
    parts = {**wiring.parts, ADDED: new_part("resistor", resistance=ohm)}
    return replace(wiring, parts=parts, joints=tuple(joints))


def _joined(wiring: Wiring) -> Merge[Terminal]:
    merge: Merge[Terminal] = Merge(terminal for joint in wiring.joints for terminal in joint.terminals)
    for joint in wiring.joints:
        merge.join(joint.terminals)
    return merge


def _neighbours(wiring: Wiring) -> Iterator[tuple[Terminal, Terminal]]:
    """Pairs of leads and lugs that a drop of solder or a bent lug joins."""
    for name, part in wiring.parts.items():
        if two_lead_of(part) is not None:
            first, last = ends_of(part)
            yield (name, first), (name, last)
        elif variable_of(part) is not None:
            yield (name, "1"), (name, "2")
            yield (name, "2"), (name, "3")
    for name, switch in switches_of(wiring.parts).items():
        yield from (((name, one), (name, other)) for one, other in pairwise(switch.lugs))


def _shorts(wiring: Wiring) -> Iterator[Fault]:
    merge = _joined(wiring)
    ground, known = wiring.jack, {t for joint in wiring.joints for t in joint.terminals}
    pairs = list(_neighbours(wiring))
    sleeve = (ground, "sleeve")
    for joint in wiring.joints:
        lead = next((t for t in joint.terminals if t[0] in wiring.coils or t == wiring.hot), None)
        if lead is not None and sleeve in known and not merge.same(lead, sleeve):
            pairs.append((lead, sleeve))
    for one, other in pairs:
        if one in known and other in known and not merge.same(one, other):
            text = f"{_said(one)} touches {'ground' if other == sleeve else _said(other)}"
            joints = (*wiring.joints, Joint((one, other)))
            yield Fault("short", text, text, (one, other), PRIORS["short"], replace(wiring, joints=joints))


def _leaks(wiring: Wiring) -> Iterator[Fault]:
    """A resistance across a capacitor, a coil or the jack: flux, damp, a strand of wire."""
    pairs = [(wiring.hot, (wiring.jack, "sleeve"))]
    for name, part in wiring.parts.items():
        if kind_of(part).name in ("capacitor", "coil"):
            first, last = ends_of(part)
            pairs.append(((name, first), (name, last)))
    for one, other in pairs:
        where = f"between {_said(one)} and {_said(other)}"
        for ohm in LEAK_OHM:
            text = f"a leak {where}, about {show(ohm, 'resistance', 1)}"
            joints = (*wiring.joints, Joint((one, (ADDED, "a"))), Joint((other, (ADDED, "b"))))
            made = _with_resistor(wiring, joints, ohm)
            yield Fault("leak", where, text, (one, other), PRIORS["leak"] / len(LEAK_OHM), made)


def _exchanged(wiring: Wiring, pairs: Sequence[tuple[Terminal, Terminal]]) -> Wiring:
    to = {one: other for pair in pairs for one, other in (pair, pair[::-1])}
    joints = tuple(Joint(tuple(to.get(t, t) for t in joint.terminals), joint.line) for joint in wiring.joints)
    return replace(wiring, joints=joints)


def _swaps(wiring: Wiring) -> Iterator[Fault]:
    def swap(text: str, *pairs: tuple[Terminal, Terminal]) -> Fault:
        terminals = tuple(t for pair in pairs for t in pair)
        return Fault("swap", text, text, terminals, PRIORS["swap"], _exchanged(wiring, pairs))

    for name, part in wiring.coils.items():
        first, last = ends_of(part)
        yield swap(f"{first} and {last} of {name} are exchanged", ((name, first), (name, last)))
    for name in wiring.pots:
        for one, other in (("1", "3"), ("1", "2"), ("2", "3")):
            yield swap(f"lugs {one} and {other} of {name} are exchanged", ((name, one), (name, other)))
    for a, b in combinations(wiring.coils, 2):
        leads = zip(ends_of(wiring.parts[a]), ends_of(wiring.parts[b]), strict=True)
        yield swap(f"{a} and {b} are exchanged", *(((a, one), (b, other)) for one, other in leads))
    for name, switch in switches_of(wiring.parts).items():
        for one, other in pairwise(switch.lugs):
            yield swap(
                f"the wires at {name}.{one} and {name}.{other} are exchanged", ((name, one), (name, other))
            )
    yield swap("tip and sleeve of the jack are exchanged", (wiring.hot, (wiring.jack, "sleeve")))


def _contacts(wiring: Wiring) -> Iterator[Fault]:
    """A contact of a switch that never closes."""
    for name, switch in switches_of(wiring.parts).items():
        for position, groups in switch.contacts.items():
            for group in groups:
                for lug in group if len(group) > 2 else group[:1]:
                    rest = tuple(one for one in group if one != lug)
                    kept = [one for one in groups if one != group] + ([rest] if len(rest) > 1 else [])
                    contacts = {**switch.contacts, position: tuple(kept)}
                    parts = {**wiring.parts, name: replace(switch, contacts=contacts)}
                    other = "" if len(rest) > 1 else f" to {name}.{rest[0]}"
                    text = f"the contact of {name}.{lug}{other} does not close in position {position}"
                    lit = tuple((name, one) for one in ((lug,) if len(rest) > 1 else group))
                    yield Fault("contact", text, text, lit, PRIORS["contact"], replace(wiring, parts=parts))


def _values(wiring: Wiring) -> Iterator[Fault]:
    """A part of another value or taper in its place."""
    for name, part in wiring.parts.items():
        kind = kind_of(part).name
        attribute, dimension = {
            "capacitor": ("capacitance_f", "capacitance"),
            "resistor": ("resistance_ohm", "resistance"),
            "pot": ("resistance_ohm", "resistance"),
        }.get(kind, ("", ""))
        made: list[tuple[str, Any]] = []
        for factor in WRONG.get(kind, ()):
            value = factor * getattr(part, attribute)
            made.append((show(value, dimension, 2), replace(part, **{attribute: value})))  # type: ignore[type-var]
        if variable_of(part) is not None:
            taper = audio() if part == replace(part, taper=linear()) else linear()  # type: ignore[type-var]
            words = "an audio taper" if taper == audio() else "a linear taper"
            made.append((words, replace(part, taper=taper)))  # type: ignore[type-var]
        for text, other in made:
            said = f"{name} has {text}" if "taper" in text else f"{name} is {text}"
            lit = tuple((name, lead) for lead in kind_of(part).leads(part))
            yield Fault(
                "value",
                said,
                said,
                lit,
                PRIORS["value"],
                replace(wiring, parts={**wiring.parts, name: other}),
            )


def _halves(wiring: Wiring) -> Iterator[Fault]:
    """Half of a coil's turns shorted: what is left sees them as a loss that shares most of its flux.

    Of the whole: R/2, L/4, 2 C; a section of share k^2 with k^2 = 0.75, its corner R / (2 pi L) of
    the shorted half. Exact for halves of one core.
    """
    share = 0.75
    for name, coil in wiring.coils.items():
        if coil.tapped:
            continue
        ohm, henry = coil.resistance_ohm / 2, coil.inductance_h / 4
        own = tuple(replace(one, share=one.share * (1 - share)) for one in coil.eddy)
        part = replace(
            coil,
            resistance_ohm=ohm,
            inductance_h=henry,
            capacitance_f=2 * coil.capacitance_f,
            eddy=(*own, Eddy(share, ohm / (2 * pi * henry))),
            sensitivity=coil.sensitivity / 2,
            turns_area=coil.turns_area / 2,
            hum_area_m2=None if coil.hum_area_m2 is None else coil.hum_area_m2 / 2,
        )
        parts = {**wiring.parts, name: part}
        if is_possible(wiring.couplings, parts):
            text = f"half of {name} is shorted inside"
            lit = tuple((name, lead) for lead in ("start", "finish"))
            yield Fault("half", text, text, lit, PRIORS["half"], replace(wiring, parts=parts))


def _magnets(wiring: Wiring) -> Iterator[Fault]:
    """A coil whose magnet shows the strings its other pole."""
    for name, coil in wiring.coils.items():
        if coil.sensitivity:
            parts = {**wiring.parts, name: replace(coil, magnet=-coil.magnet)}
            text = f"the magnet of {name} is turned round"
            lit = tuple((name, lead) for lead in ends_of(coil))
            yield Fault("magnet", text, text, lit, PRIORS["magnet"], replace(wiring, parts=parts))
