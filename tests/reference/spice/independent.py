"""A netlist from a wiring file, independent of the product.

Nothing is merged: every lead and lug is a SPICE node of its own. What is soldered together, joined
by a contact or by a pot at the end of its travel is an edge of a graph; the edges of a spanning
forest of that graph (walked depth first) become 0 V sources, the edges that would close a ring are
left out, since they carry nothing but would make the matrix singular.

A part of the network without any path to ground gets ONE resistor to ground. Through the only tie
of an island no current can flow (Kirchhoff), so it fixes the potential and disturbs nothing.
"""

from __future__ import annotations

import itertools
import math
from collections import defaultdict
from collections.abc import Iterable, Mapping
from typing import Any

from reference.spice import sketch
from reference.spice.quantities import si
from reference.spice.wiring_file import Setting, contacts, knob_of, pot_track, selector_name

Edge = tuple[str, str]
TIE_OHM = 1e6
TIGHT = 1.0 - 1e-9
"""Coupling of windings that share all flux; with one, the inductances have no inverse."""
INJECTION = "IOUT"
COVER = {"share": "12 %", "corner": "3 kHz"}
"""What a metal cover adds to the loss of one coil, written out again."""


def emf(coil: str) -> str:
    """Return the name of the source for a coil's EMF."""
    return f"VE_{coil}"


def netlist(wiring: Mapping[str, Any], setting: Setting) -> str:
    """The SPICE deck of one setting: EMF sources, a current source at `out`, the load, `.end`.

    Every source stands at AC 0; the runner raises them in turn.
    """
    building = _Building(wiring, setting)
    building.parts()
    building.load()
    return building.deck()


class _Building:
    def __init__(self, wiring: Mapping[str, Any], setting: Setting) -> None:
        self.wiring, self.setting = wiring, setting
        self.shares = {
            name: _lossless(part)
            for name, part in wiring["parts"].items()
            if part["kind"] in ("coil", "inductor")
        }
        self.joined: list[Edge] = []
        self.elements: list[tuple[str, str, str, str]] = []  # letter+name, node, node, value
        self.tight: list[str] = []

    def parts(self) -> None:
        for joint in self.wiring["joints"]:
            self.joined += itertools.pairwise(joint)
        for name, part in self.wiring["parts"].items():
            getattr(self, f"_{part['kind']}")(name, part)

    def load(self) -> None:
        self._load("", "out", "0")
        self.elements.append((INJECTION, "0", "out", "AC 0"))

    def _load(self, mark: str, hot: str, cold: str) -> None:
        load = self.wiring["load"]
        cable = si(load["cable"]["length"]) * si(load["cable"]["capacitance"])
        self._two(f"C_cable{mark}", hot, cold, cable)
        self._two(f"R_amp{mark}", hot, cold, si(load["amplifier"]["resistance"]))
        self._two(f"C_amp{mark}", hot, cold, si(load["amplifier"]["capacitance"]))

    def deck(self) -> str:
        solder = _forest(self.joined)
        wires = [(f"V_w{i}", a, b, "0") for i, (a, b) in enumerate(solder)]
        lines = self.elements + wires
        ties = [(f"R_tie{i}", node, "0", repr(TIE_OHM)) for i, node in enumerate(_islands(lines))]
        couplings = self.tight + [
            text for text in map(self._coupling, self.wiring.get("couplings", ())) if text
        ]
        body = [f"{n} {_node(a)} {_node(b)} {v}" for n, a, b, v in lines + ties]
        title = f"* {self.wiring['name']}, {self.setting.position}, {dict(self.setting.knobs)}"
        return "\n".join([title, ".option noopac", *body, *couplings, ".end", ""])

    def _two(self, name: str, a: str, b: str, value: float) -> None:
        self.elements.append((name, a, b, repr(value)))

    def _tapped(self, name: str, part: Mapping[str, Any]) -> None:
        """Two windings on one core, and a third on it that the loss loads: tightly coupled inductors.

        A winding of n turns has n squared times the inductance. The losses are seen through a
        winding of all turns, a core for each share.
        """
        whole, first = si(part["resistance"]), si(part.get("tap_resistance", 0.0))
        turns = si(part["tap"]) if "tap" in part else first / whole
        first = first or turns * whole
        shares = [(self.shares[name], math.inf)]
        for section in _losses(part):
            ell = si(section["share"]) * si(part["inductance"])
            shares.append((ell, 2 * math.pi * si(section["corner"]) * ell))
        farad = si(part["capacitance"])
        left = self._left_of_emf(name, part)
        for k, (n, ohm, a, b) in enumerate(
            ((turns, first, "start", "tap"), (1 - turns, whole - first, "tap", "finish"))
        ):
            a, b, at = f"{name}.{a}", f"{name}.{b}", f"{name}.r{k}"
            self._two(f"C_{name}_{k}", a, b, farad / n)
            self._two(f"R_{name}_{k}", a, at, ohm)
            for i, (henry, _) in enumerate(shares):
                self._two(f"L_{name}_{k}_{i}", at, f"{name}.l{k}_{i}", n * n * henry)
                at = f"{name}.l{k}_{i}"
            self.elements.append((f"E_{name}_{k}", at, b, f"{_node(left)} 0 {n!r}"))
        for i, (henry, ohm) in enumerate(shares):
            if ohm < math.inf:
                self._two(f"L_{name}_2_{i}", f"{name}.k{i}", "0", henry)
                self._two(f"R_{name}_2_{i}", f"{name}.k{i}", "0", ohm)
            windings = range(3 if ohm < math.inf else 2)
            for one, other in itertools.combinations(windings, 2):
                pair = f"L_{name}_{one}_{i} L_{name}_{other}_{i}"
                self.tight.append(f"K_{name}_{one}{other}_{i} {pair} {TIGHT!r}")

    def _coil(self, name: str, part: Mapping[str, Any]) -> None:
        if "tap" in part or "tap_resistance" in part:
            self._tapped(name, part)
            return
        start, finish = f"{name}.start", f"{name}.finish"
        if "screening" in part:
            left = self._left_of_emf(name, part)
            self.elements.append((f"E_{name}", f"{name}.e", finish, f"{_node(left)} 0 1"))
        else:
            self.elements.append((emf(name), f"{name}.e", finish, "DC 0 AC 0"))
        chain = [f"{name}.e", f"{name}.w"]
        self._two(f"R_{name}", chain[0], chain[1], si(part["resistance"]))
        for i, section in enumerate(_losses(part)):
            chain.append(f"{name}.x{i}")
            ell = si(section["share"]) * si(part["inductance"])
            self._two(f"L_{name}_x{i}", chain[-1], chain[-2], ell)
            self._two(f"R_{name}_x{i}", chain[-1], chain[-2], 2 * math.pi * si(section["corner"]) * ell)
        if self.shares[name] > 0:
            self._two(f"L_{name}", start, chain[-1], self.shares[name])  # the dot at the start lead
        else:
            self.elements.append((f"V_{name}_l", start, chain[-1], "0"))
        self._two(f"C_{name}", start, finish, si(part["capacitance"]))

    def _left_of_emf(self, name: str, part: Mapping[str, Any]) -> str:
        """The node where what metal leaves of an EMF stands: a divider of two resistors, one on a capacitor.

        At rest no current flows; far above the corner the resistors alone divide.
        """
        source, left = f"{name}.emf", f"{name}.left"
        self.elements.append((emf(name), source, "0", "DC 0 AC 0"))
        self._two(f"R_{name}_emf", source, "0", TIE_OHM)
        if "screening" not in part:
            return source
        lost, corner = (si(part["screening"][key]) for key in ("share", "corner"))
        self._two(f"R_{name}_upper", source, left, lost * TIE_OHM)
        self._two(f"R_{name}_lower", left, f"{name}.slow", (1 - lost) * TIE_OHM)
        self._two(f"C_{name}_slow", f"{name}.slow", "0", 1 / (2 * math.pi * corner * TIE_OHM))
        return left

    def _coupling(self, entry: Mapping[str, Any]) -> str:
        a, b = entry["coils"]
        if self.shares[a] == 0 or self.shares[b] == 0:
            return ""
        tapped = [name for name in (a, b) if f"L_{name}" not in {row[0] for row in self.elements}]
        if tapped:
            raise ValueError(f"reference files: a coupling of the tapped coil {tapped[0]}")
        mutual = float(entry["coefficient"]) * math.sqrt(self._whole(a) * self._whole(b))
        return f"K_{a}_{b} L_{a} L_{b} {mutual / math.sqrt(self.shares[a] * self.shares[b])!r}"

    def _whole(self, coil: str) -> float:
        """Low-frequency inductance, which a coefficient refers to."""
        return si(self.wiring["parts"][coil]["inductance"])

    def _pot(self, name: str, part: Mapping[str, Any]) -> None:
        for a, b, ohm in pot_track(part, self.setting.knobs.get(knob_of(self.wiring, name), 10.0)):
            if ohm == 0.0:
                self.joined.append((f"{name}.{a}", f"{name}.{b}"))
            else:
                self._two(f"R_{name}_{a}{b}", f"{name}.{a}", f"{name}.{b}", ohm)

    def _capacitor(self, name: str, part: Mapping[str, Any]) -> None:
        a, b, farad = f"{name}.a", f"{name}.b", si(part["capacitance"])
        if ohm := si(part.get("series_resistance", 0.0)):
            self._two(f"R_{name}", a, f"{name}.m", ohm)
            a = f"{name}.m"
        tan_delta = si(part.get("tan_delta", 0.0))
        # shares of a power law of frequency, each with its own corner; the loss at 1 kHz scales them
        corners = [1.5 * 10 ** (0.75 * k) for k in range(8)] if tan_delta else []
        weights = [(hz / 1e3) ** (-2 / math.pi * math.atan(tan_delta)) for hz in corners]
        unit = sum(w * 1j / (1 + 1j * 1e3 / hz) for w, hz in zip(weights, corners, strict=True))
        scale = tan_delta * farad / unit.real if tan_delta else 0.0
        for k, (weight, hz) in enumerate(zip(weights, corners, strict=True)):
            self._two(f"R_{name}_d{k}", a, f"{name}.d{k}", 1 / (2 * math.pi * hz * weight * scale))
            self._two(f"C_{name}_d{k}", f"{name}.d{k}", b, weight * scale)
        self._two(f"C_{name}", a, b, farad - scale * unit.imag if tan_delta else farad)

    def _resistor(self, name: str, part: Mapping[str, Any]) -> None:
        self._two(f"R_{name}", f"{name}.a", f"{name}.b", si(part["resistance"]))

    def _inductor(self, name: str, part: Mapping[str, Any]) -> None:
        self._two(f"L_{name}", f"{name}.a", f"{name}.m", si(part["inductance"]))
        self._two(f"R_{name}", f"{name}.m", f"{name}.b", si(part["resistance"]))

    def _transformer(self, name: str, part: Mapping[str, Any]) -> None:
        a, b, c, d, inside = (f"{name}.{lead}" for lead in ("a", "b", "c", "d", "s"))
        turns = 1.0 / si(part["ratio"])  # of c-d over a-b
        self.elements.append((f"V_{name}_s", c, inside, "0"))
        self.elements.append((f"E_{name}", inside, d, f"{_node(a)} {_node(b)} {turns!r}"))
        self.elements.append((f"F_{name}", a, b, f"V_{name}_s {-turns!r}"))

    def _switch(self, name: str, part: Mapping[str, Any]) -> None:
        position = self._position(name)
        for group in contacts(part, position):
            self.joined += itertools.pairwise(f"{name}.{lug}" for lug in group)

    def _sketch(self, name: str, part: Mapping[str, Any]) -> None:
        def put(used: str, hot: str, cold: str) -> None:
            kinds = {"coil": ("start", "finish"), "pot": ("1", "2"), "group": ("hot", "cold")}
            leads = kinds.get(self.wiring["parts"][used]["kind"], ("a", "b"))
            self.joined.extend([(hot, f"{used}.{leads[0]}"), (cold, f"{used}.{leads[1]}")])

        text = str(part["positions"][self._position(name)])
        sketch.place(text, f"{name}.hot", f"{name}.cold", put)

    def _group(self, name: str, part: Mapping[str, Any]) -> None:
        """The joints hold all that is in it."""

    def _jack(self, name: str, part: Mapping[str, Any]) -> None:
        """The chosen jack is `out` and ground; every other channel of a plug loads its lug."""
        jacks = [key for key, one in self.wiring["parts"].items() if one["kind"] == "jack"]
        chosen = str(self.wiring.get("output", "output" if "output" in jacks else jacks[0]))
        jack, _, lead = chosen.partition(".")
        lead = lead or "tip"
        rings = "ring" in part.get("lugs", ())
        usual = "out" if name != jack else "stereo" if lead == "ring" else "mono"
        plug = str(self.setting.knobs.get(name, usual))
        for group in part.get("contacts", {}).get("out" if plug == "out" else "in", ()):
            self.joined += itertools.pairwise(f"{name}.{lug}" for lug in group)
        if rings and plug == "mono":
            self.joined.append((f"{name}.ring", f"{name}.sleeve"))
        if name == jack:
            self.joined += [(f"{name}.{lead}", "out"), (f"{name}.sleeve", "0")]
        carried = {"out": (), "stereo": ("tip", "ring")}.get(plug, ("tip",))
        for one in carried:
            if (name, one) != (jack, lead):
                self._load(f"{name}_{one}", f"{name}.{one}", f"{name}.sleeve")

    def _metal(self, name: str, part: Mapping[str, Any]) -> None:
        self.joined.append((f"{name}.a", f"{name}.b"))

    def _position(self, name: str) -> int:
        if name == selector_name(self.wiring):
            if self.setting.position is None:
                raise ValueError(f"{self.wiring['name']}: the setting names no position")
            return self.setting.position
        return int(self.setting.knobs[name])


def _lossless(coil: Mapping[str, Any]) -> float:
    left = 1.0 - sum(si(section["share"]) for section in _losses(coil))
    return max(left, 0.0) * si(coil["inductance"])


def _losses(coil: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    return [*coil.get("eddy", ()), *([COVER] if coil.get("cover") == "metal" else [])]


def _node(terminal: str) -> str:
    """A name SPICE takes: letters, digits and underscores."""
    return "".join(c if c.isalnum() else "_" for c in terminal)


def _neighbours(edges: Iterable[Edge]) -> dict[str, list[str]]:
    found: dict[str, list[str]] = defaultdict(list)
    for a, b in edges:
        found[a].append(b)
        found[b].append(a)
    return found


def _forest(edges: list[Edge]) -> list[Edge]:
    """Return a spanning forest, depth first: every group stays joined, without rings."""
    beside, seen, tree = _neighbours(edges), set[str](), list[Edge]()
    for root in ["0", "out", *beside]:
        if root in seen or root not in beside:
            continue
        seen.add(root)
        stack = [root]
        while stack:
            here = stack[-1]
            onward = next((n for n in beside[here] if n not in seen), None)
            if onward is None:
                stack.pop()
                continue
            seen.add(onward)
            tree.append((here, onward))
            stack.append(onward)
    return tree


def _islands(lines: list[tuple[str, str, str, str]]) -> list[str]:
    """Return one node of each island without a path to ground."""
    beside = _neighbours((a, b) for _, a, b, _ in lines)
    seen, islands = set[str](), list[str]()
    for root in ["0", *beside]:
        if root in seen:
            continue
        if root != "0":
            islands.append(root)
        stack = [root]
        while stack:
            here = stack.pop()
            if here not in seen:
                seen.add(here)
                stack.extend(beside[here])
    return islands
