"""Random wirings that the file format allows: seeded, as objects and as the text of a file.

Two kinds. `structured` draws what a technician might solder, with parts far beyond what one would
buy: coils of 0.3 to 15 H, pots from 1 kΩ to 10 MΩ, 0 to 3 nF of cable. `chaotic` solders every lead
to a random point or leaves it hanging: shorts, loops, loose pieces and dead coils all occur.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np
from hypothesis import strategies as st

from dsp.parts import taper
from dsp.parts.capacitor import Capacitor
from dsp.parts.choke import Inductor
from dsp.parts.coil import COVER_EDDY, Coil, Eddy, Screening
from dsp.parts.expression import Expression, Group, Leaf
from dsp.parts.jack import Jack
from dsp.parts.kind import Part, Terminal
from dsp.parts.kinds import terminals_of
from dsp.parts.load import Load
from dsp.parts.pot import Pot
from dsp.parts.resistor import Resistor
from dsp.parts.sketch import Sketch
from dsp.parts.switch import Switch
from dsp.wiring.coupling import is_possible, lossless_share
from dsp.wiring.model import Coupling, Joint, Setting, Wiring

Rng = np.random.Generator
TAPERS = (taper.linear(), taper.audio(), taper.reverse_audio(), taper.measured_audio(), taper.audio(0.08))


def _log(rng: Rng, low: float, high: float) -> float:
    return float(f"{np.exp(rng.uniform(np.log(low), np.log(high))):.6g}")


def _chance(rng: Rng, share: float) -> bool:
    return bool(rng.random() < share)


def coil(rng: Rng) -> Coil:
    """Draw a coil of any construction, even unlikely ones."""
    count = int(rng.choice([0, 1, 1, 2, 3]))
    shares = [float(f"{share:.4g}") for share in rng.dirichlet(np.ones(count + 1))[:count] * 0.98]
    made = Coil(
        _log(rng, 500.0, 25e3),
        _log(rng, 0.3, 15.0),
        _log(rng, 30e-12, 400e-12),
        eddy=tuple(Eddy(max(share, 1e-4), _log(rng, 300.0, 30e3)) for share in shares),
        winding=int(rng.choice([1, -1])),
        magnet=int(rng.choice([1, -1])),
        turns_area=float(rng.choice([1.0, 0.8])),
    )
    metal = np.random.default_rng(round(made.resistance_ohm))  # its own, so that all else is drawn as before
    shelf = Screening(float(f"{metal.uniform(0.0, 0.99):.3g}"), _log(metal, 100.0, 10e3))
    covered = _chance(metal, 0.3) and sum(one.share for one in made.eddy) + COVER_EDDY.share < 0.98
    return replace(made, screening=shelf if _chance(metal, 0.3) else None, covered=covered)


def pot(rng: Rng) -> Pot:
    ends = _log(rng, 0.5, 500.0) if _chance(rng, 0.2) else 0.0
    ohm = _log(rng, 25e3, 1e6) if _chance(rng, 0.7) else _log(rng, 1e3, 10e6)
    return Pot(ohm, TAPERS[rng.integers(len(TAPERS))], ends)


def load(rng: Rng) -> Load:
    amplifier = _log(rng, 2e5, 2e6) if _chance(rng, 0.6) else _log(rng, 1e4, 1e7)
    metres = 0.0 if _chance(rng, 0.15) else _log(rng, 0.5, 30.0)
    return Load(metres, 100e-12, amplifier, float(rng.choice([0.0, 20e-12])))


def couplings(rng: Rng, coils: dict[str, Any]) -> tuple[Coupling, ...]:
    """Couplings that coils can have, among neighbours: up to 0.6 of what their lossless shares allow."""

    def limit(a: str, b: str) -> float:
        return float(np.sqrt(lossless_share(coils[a]) * lossless_share(coils[b])))

    names = list(coils)
    found = tuple(
        Coupling(a, b, float(f"{rng.uniform(-0.6, 0.6) * limit(a, b):.3g}"))
        for a, b in pairwise(names)
        if _chance(rng, 0.4)
    )
    return found if not found or is_possible(found, coils) else found[:1]


def expression(rng: Rng, names: list[str]) -> Expression:
    """Nest every name once, at random."""
    if len(names) == 1:
        return Leaf(names[0], _chance(rng, 0.3))
    cut = int(rng.integers(1, len(names)))
    series = _chance(rng, 0.5)
    sides = [expression(rng, names[:cut]), expression(rng, names[cut:])]
    # The reader flattens a + (b + c) only without brackets: alternate the kinds.
    return Group(tuple(sides), series, _chance(rng, 0.2))


def _sketch(rng: Rng, coils: list[str], positions: int) -> Sketch:
    table = {}
    for n in range(positions):
        used = [name for name in coils if _chance(rng, 0.7)] or coils[:1]
        order = [str(name) for name in rng.permutation(used)]
        table[str(n + 1)] = expression(rng, order)
    return Sketch(table)


def _contacts(rng: Rng, lugs: tuple[str, ...], positions: int) -> Switch:
    """Draw a random partition of some lugs per position."""
    table = {}
    for n in range(positions):
        order = [str(lug) for lug in rng.permutation(lugs)]
        groups = []
        while len(order) >= 2 and _chance(rng, 0.75):
            size = int(rng.integers(2, min(4, len(order)) + 1))
            groups.append(tuple(order[:size]))
            order = order[size:]
        table[str(n + 1)] = tuple(groups)
    return Switch(lugs, table)


class _Bench:
    """Parts, and the points they are soldered to."""

    def __init__(self) -> None:
        self.parts: dict[str, Part] = {"output": Jack()}
        self.points: dict[str, list[Terminal]] = {}
        self.solder("output", {"tip": "tip", "sleeve": "sleeve"})

    def solder(self, name: str, leads: dict[str, str]) -> None:
        for lead, point in leads.items():
            self.points.setdefault(point, []).append((name, lead))

    def add(self, name: str, part: Part, **leads: str) -> None:
        self.parts[name] = part
        self.solder(name, {lead.removeprefix("lug"): point for lead, point in leads.items()})

    def wiring(self, rng: Rng, coils: list[str], name: str) -> Wiring:
        joints = tuple(Joint(tuple(group)) for group in self.points.values() if len(group) > 1)
        selector = "selector" if "selector" in self.parts else None
        pairs = couplings(rng, {name: self.parts[name] for name in coils})
        return Wiring(name, "random.yaml", self.parts, joints, pairs, load(rng), selector)


def structured(rng: Rng) -> Wiring:
    """Draw coils, a selector and the usual controls, with unusual values."""
    bench = _Bench()
    coils = [f"coil_{n}" for n in range(1, int(rng.integers(1, 5)) + 1)]
    for name in coils:
        bench.parts[name] = coil(rng)
    _select(rng, bench, coils)
    _volume(rng, bench)
    _extras(rng, bench)
    return bench.wiring(rng, coils, "structured")


def _select(rng: Rng, bench: _Bench, coils: list[str]) -> None:
    kind = rng.choice(["sketch", "switch", "none"], p=[0.6, 0.25, 0.15])
    if kind == "sketch":
        bench.add("selector", _sketch(rng, coils, int(rng.integers(1, 4))), hot="in", cold="sleeve")
        return
    for n, name in enumerate(coils):
        start = "in" if kind == "none" else f"hot_{n}"
        bench.solder(name, {"start": start, "finish": "sleeve" if kind == "none" else f"cold_{n}"})
    if kind == "switch":
        lugs = ("A0", "S0", *(f"{row}{n + 1}" for n in range(len(coils)) for row in "AS"))
        bench.add("selector", _contacts(rng, lugs, 3))
        bench.solder("selector", {"A0": "in", "S0": "sleeve"})
        bench.solder("selector", {f"A{n + 1}": f"hot_{n}" for n in range(len(coils))})
        bench.solder("selector", {f"S{n + 1}": f"cold_{n}" for n in range(len(coils))})


def _volume(rng: Rng, bench: _Bench) -> None:
    kind = rng.choice(["usual", "backwards", "none"], p=[0.7, 0.15, 0.15])
    if kind == "none":
        bench.points.setdefault("in", []).extend(bench.points.pop("tip"))
        bench.points["tip"] = []
        return
    lugs = {"lug3": "in", "lug2": "tip"} if kind == "usual" else {"lug2": "in", "lug3": "tip"}
    bench.add("volume", pot(rng), lug1="sleeve", **lugs)
    if _chance(rng, 0.3):
        bench.add("bypass", Capacitor(_log(rng, 50e-12, 5e-9)), a="in", b="bypass_end")
        bench.add("bypass_r", Resistor(_log(rng, 10e3, 1e6)), a="bypass_end", b="tip")
        if _chance(rng, 0.5):  # the capacitor alone
            bench.solder("bypass", {"b": "tip"})


def _extras(rng: Rng, bench: _Bench) -> None:
    hot = "in" if _chance(rng, 0.7) or not bench.points["tip"] else "tip"
    if _chance(rng, 0.7):
        bench.add("tone", pot(rng), lug3=hot, lug2="tone_end")
        bench.add("tone_cap", Capacitor(_log(rng, 500e-12, 200e-9)), a="tone_end", b="sleeve")
    if _chance(rng, 0.2):
        bench.add("choke", Inductor(_log(rng, 0.2, 10.0), _log(rng, 10.0, 3e3)), a=hot, b="choke_end")
        bench.add("choke_cap", Capacitor(_log(rng, 1e-9, 200e-9)), a="choke_end", b="choke_pot")
        bench.add("depth", pot(rng), lug3="choke_pot", lug2="sleeve", lug1="sleeve")
    if _chance(rng, 0.2):
        bench.add("drain", Resistor(_log(rng, 10e3, 10e6)), a=hot, b="sleeve")


def chaotic(rng: Rng) -> Wiring:
    """Solder every lead to a random point, or to none."""
    bench = _Bench()
    coils = [f"coil_{n}" for n in range(1, int(rng.integers(1, 5)) + 1)]
    parts: dict[str, Part] = {name: coil(rng) for name in coils}
    for n in range(int(rng.integers(0, 3))):
        parts[f"pot_{n}"] = pot(rng)
        parts[f"cap_{n}"] = Capacitor(_log(rng, 100e-12, 100e-9))
    if _chance(rng, 0.4):
        parts["choke"] = Inductor(_log(rng, 0.2, 10.0), _log(rng, 10.0, 3e3))
    if _chance(rng, 0.4):
        parts["drain"] = Resistor(_log(rng, 1e3, 10e6))
    if _chance(rng, 0.6):
        parts["selector"] = _contacts(rng, ("A0", "A1", "A2", "B0", "B1", "B2"), 3)
    if _chance(rng, 0.4):
        parts["split"] = _contacts(rng, ("A0", "A1", "A2"), 2)
    points = ["tip", "sleeve", *(f"point_{n}" for n in range(max(2, len(parts) - 1)))]
    for name, part in parts.items():
        bench.parts[name] = part
        for lead in terminals_of(part):
            if _chance(rng, 0.93):
                bench.solder(name, {lead: str(rng.choice(points))})
    return bench.wiring(rng, coils, "chaotic")


def random_setting(rng: Rng, wiring: Wiring) -> Setting:
    """Draw any position; knobs often at an end of their travel."""
    position = str(rng.choice(wiring.positions))
    knobs = {
        name: float(rng.choice([0.0, 10.0, round(float(rng.uniform(0.0, 10.0)), 2)], p=[0.15, 0.3, 0.55]))
        for name in wiring.knobs
    }
    switches = {name: str(rng.choice(list(part.contacts))) for name, part in wiring.switches.items()}
    return wiring.setting(position, knobs, switches)


def with_odd_pots(case: tuple[Wiring, Setting]) -> tuple[Wiring, Setting]:
    """Return a case whose pots open at 10 or have a tap, and of which two turn together."""
    wiring, setting = case
    parts, joints = dict(wiring.parts), list(wiring.joints)
    pots = list(wiring.pots)
    for n, name in enumerate(pots):
        pot = wiring.pots[name]
        parts[name] = replace(pot, no_load=n % 2 == 0, tap=(None, 0.3, 0.5)[(len(joints) + n) % 3])
        if parts[name] != pot and len(joints) > n:
            lug = (name, "4")
            taps = terminals_of(parts[name])
            joints[n] = Joint((*joints[n].terminals, lug)) if "4" in taps else joints[n]
    shafts = {pots[1]: pots[0]} if len(pots) > 1 else {}
    odd = replace(wiring, parts=parts, joints=tuple(joints), shafts=shafts)
    knobs = {name: value for name, value in setting.knobs.items() if name not in shafts}
    return odd, odd.setting(setting.position, knobs, setting.switches)


def seeded(seed: int) -> tuple[Wiring, Setting]:
    """Return a wiring and one of its settings; two of three wirings are structured."""
    rng = np.random.default_rng(seed)
    wiring = structured(rng) if seed % 3 else chaotic(rng)
    return replace(wiring, name=f"{wiring.name} {seed}"), random_setting(rng, wiring)


CASES: st.SearchStrategy[tuple[Wiring, Setting]] = st.integers(0, 2**32 - 1).map(seeded)
"""Wirings with a setting, for property tests."""
ODD_POTS: st.SearchStrategy[tuple[Wiring, Setting]] = CASES.map(with_odd_pots)
"""The same with pots that open at 10, have a tap or share a shaft."""
WIRINGS: st.SearchStrategy[Wiring] = CASES.map(lambda case: case[0])
