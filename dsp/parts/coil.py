"""A pickup coil: electromotive force, loss, winding capacitance, place and signs."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from math import pi
from typing import Any, ClassVar

import numpy as np

from dsp.documents.field import Field, quantity
from dsp.documents.schema import table_schema
from dsp.documents.tree import Node, Reading
from dsp.documents.values import read_map
from dsp.parts.kind import Complex, Ends, Form, LooseRules, Pair, Part, Refuse, Stamps, Symbol, TwoLead
from dsp.units import show

EDDY_FIELDS = (
    quantity("share", "share", (1e-6, 1.0), "share of the coil's inductance"),
    quantity("corner", "frequency", (1.0, 1e7), "R / (2 pi L_share)"),
)
SCREENING_FIELDS = (
    quantity("share", "share", (0.0, 0.99), "share of the EMF lost far above the corner"),
    quantity("corner", "frequency", (1.0, 1e7), "where that loss sets in"),
)
SIGN = {"forward": 1, "reverse": -1, "north": 1, "south": -1}
"""Signs that a wiring file writes as words."""
USUAL_HUM_M2 = 5.9
"""Turns times area of a narrow single coil of medium strength: 8000 turns of 7.4 cm² (both from memory). A
field of 1 µT at 50 Hz induces 1.9 mV in it. Iron in the coil may double that."""
SENSITIVITY_V_S_M = 0.055
"""Sensitivity of a narrow single coil of medium strength, V per m/s of string velocity; the default."""


@dataclass(frozen=True)
class Eddy:
    """An eddy-current loss: a resistor across a share of the inductance.

    Attributes
    ----------
    share : float
        Share of the coil's low-frequency inductance, 0 to 1.
    corner_hz : float
        Frequency at which the share's reactance equals its resistor, R / (2 pi L_share).
    """

    share: float
    corner_hz: float


COVERS = ("none", "metal")
"""Words of a coil's cover."""
COVER_EDDY = Eddy(0.12, 3000.0)
"""Loss that a metal cover adds to one coil. Put on a hot double it raised the eddy loss by a quarter
(the corner of a one-section fit fell from 10.0 to 7.7 kHz) and lowered the loaded peak by 0.3 dB: open
data set "strayr", commit 7760780 (2023), our own fit. One unit; other metals and thicknesses differ."""


@dataclass(frozen=True)
class Screening:
    """Metal between string and winding, which weakens the EMF itself.

    Eddy currents in a cover or in conductive poles oppose what the string induces. Of the EMF they
    leave 1 - share + share / (1 + j f / corner): a shelf of the first order.

    Attributes
    ----------
    share : float
        Share of the EMF lost far above the corner, 0 to 0.99.
    corner_hz : float
        Pole of the shelf.

    References
    ----------
    A shelf of 20-45 % from 1-2 kHz beside one eddy section fits the sweeps of the open data set
    "strayr" (commit 7760780, 2023) best: 0.15-0.2 dB instead of 0.4-0.7 dB; our own fit.
    """

    share: float
    corner_hz: float


@dataclass(frozen=True)
class Coil(Part):
    """A coil: EMF, resistance and lossy inductance; capacitance across.

    Attributes
    ----------
    resistance_ohm : float
        DC resistance at 20 °C.
    inductance_h : float
        Low-frequency inductance, eddy share included.
    capacitance_f : float
        Winding and lead, across start and finish.
    eddy : tuple of Eddy
        Foster sections in series with the lossless inductance; a cover adds one.
    at_m : float or None
        Centre of the coil, from the bridge.
    aperture_m : float
        Length of string it senses.
    winding, magnet : int
        Winding direction and magnet pole, +1 or -1. A string's EMF carries their product,
        a hum field's EMF carries the winding alone.
    sensitivity : float
        V per m/s of string velocity; 0 for a dummy, which picks up hum alone.
    string_balance_db : tuple of float
        Level per string, lowest first; empty means even.
    turns_area : float
        Relative hum pick-up.
    hum_area_m2 : float or None
        Turns times area, which a hum field passes. Without it, `USUAL_HUM_M2` times ``turns_area``.
    tap : float or None
        Share of the turns between start and a tap.
    tap_ohm : float or None
        DC resistance between start and the tap. Without it, or without ``tap``, each follows from the
        other: wire of one gauge on turns of one length.
    screening : Screening or None
        Of the EMF of strings and of hum alike: both fields pass the same metal.
    covered : bool
        Whether a metal cover lies over it.

    References
    ----------
    R-L-C with loss sections: classical Foster synthesis; P. Hiscocks, "Measuring Impedance and
    Frequency Response of Guitar Pickups", 2011, for the R-L-C base.
    """

    resistance_ohm: float
    inductance_h: float
    capacitance_f: float
    eddy: tuple[Eddy, ...] = ()
    at_m: float | None = None
    aperture_m: float = 0.01
    winding: int = 1
    magnet: int = 1
    sensitivity: float = SENSITIVITY_V_S_M
    string_balance_db: tuple[float, ...] = field(default=())
    turns_area: float = 1.0
    hum_area_m2: float | None = None
    tap: float | None = None
    tap_ohm: float | None = None
    screening: Screening | None = None
    covered: bool = False

    @property
    def hum_pick_up(self) -> float:
        """Hum pick-up, 1 for a narrow single coil; an area goes before a share."""
        return self.turns_area if self.hum_area_m2 is None else self.hum_area_m2 / USUAL_HUM_M2

    @property
    def dummy(self) -> bool:
        """Whether it senses no string."""
        return self.sensitivity == 0.0

    @property
    def tapped(self) -> bool:
        """Whether the winding has a tap."""
        return self.tap is not None or self.tap_ohm is not None

    def windings(self) -> tuple[tuple[float, float], ...]:
        """Turns, as a share of the whole, and ohms of each section of the winding."""
        whole = self.resistance_ohm
        if not self.tapped:
            return ((1.0, whole),)
        turns = self.tap_ohm / whole if self.tap is None and self.tap_ohm is not None else self.tap
        assert turns is not None  # it has a tap
        ohm = turns * whole if self.tap_ohm is None else self.tap_ohm
        return (turns, ohm), (1.0 - turns, whole - ohm)

    @property
    def lossless_h(self) -> float:
        """Inductance left when the eddy shares are taken out, in henry."""
        return self.inductance_h * (1.0 - sum(section.share for section in self.losses))

    @property
    def losses(self) -> tuple[Eddy, ...]:
        """Every eddy-current loss: the coil's own, and the cover's."""
        return (*self.eddy, COVER_EDDY) if self.covered else self.eddy

    def sections(self) -> tuple[tuple[float, float], ...]:
        """Inductance and resistance of each eddy section, (henry, ohm)."""
        pairs = ((self.inductance_h * section.share, section.corner_hz) for section in self.losses)
        return tuple((share_h, 2.0 * pi * corner_hz * share_h) for share_h, corner_hz in pairs)

    @property
    def string_sign(self) -> int:
        """Sign of the EMF a string induces, start over finish: +1 or -1."""
        return self.winding * self.magnet


def read_eddy(reading: Reading, node: Node, what: str) -> tuple[Eddy, ...]:
    """Read eddy sections; the shares may not exceed the whole inductance."""
    sections = []
    for item in reading.items(node, what):
        values = read_map(reading, EDDY_FIELDS, item, what)
        if values.get("share") is not None and values.get("corner") is not None:
            sections.append(Eddy(values["share"], values["corner"]))
    total = sum(section.share for section in sections)
    if total > 1.0 + 1e-12:
        reading.refuse(node, what, "shares that add up to at most 100 %", got=f"{100 * total:g} % in all")
    return tuple(sections)


def read_screening(reading: Reading, node: Node, what: str) -> Screening | None:
    """Read a screening; None after a problem."""
    values = read_map(reading, SCREENING_FIELDS, node, what)
    if values.get("share") is None or values.get("corner") is None:
        return None
    return Screening(values["share"], values["corner"])


class CoilKind(TwoLead[Coil]):
    """Coils: the parts that sense the strings."""

    name = "coil"
    part = Coil
    lead_names = ("start", "finish")
    senses = True
    fields = (
        quantity("resistance", "resistance", (1e-2, 1e6), "DC resistance at 20 °C"),
        quantity("inductance", "inductance", (1e-6, 1e3), "low-frequency inductance, eddy share included"),
        quantity("capacitance", "capacitance", (1e-14, 1e-6), "winding and lead, across both leads"),
        Field("eddy", "eddy", "losses: list of {share, corner}, each a share of the inductance"),
        Field("screening", "screening", "loss of the EMF behind metal: {share, corner}"),
        Field("cover", "choice", "over the coil; metal adds its eddy loss", choices=COVERS, default="none"),
        Field("at", "quantity", "centre of the coil, from the bridge", "length", 1e-3, 3.0),
        quantity("aperture", "length", (1e-4, 0.2), "length of string it senses", "10 mm"),
        Field("winding", "choice", "winding direction", choices=("forward", "reverse"), default="forward"),
        Field("magnet", "choice", "pole facing the strings", choices=("north", "south"), default="north"),
        quantity(
            "sensitivity",
            "number",
            (0.0, 1e6),
            "volts per metre/second of string velocity; 0 for a dummy coil",
            f"{SENSITIVITY_V_S_M:g}",
        ),
        Field("string_balance", "levels", "dB per string, lowest first", "level", -60.0, 60.0),
        quantity("turns_area", "number", (0.0, 1e6), "relative hum pick-up", "1"),
        Field(
            "hum_area",
            "quantity",
            f"turns times area, which hum passes; else {USUAL_HUM_M2:g} m² times turns_area",
            "area",
            0.0,
            1e3,
        ),
        Field("tap", "quantity", "share of the turns between start and a tap", "share", 0.01, 0.99),
        Field("tap_resistance", "quantity", "DC resistance from start to the tap", "resistance", 1e-2, 1e6),
    )
    forms: ClassVar[Mapping[str, Form]] = {
        "eddy": Form(read_eddy, lambda field: {"type": "array", "items": table_schema(EDDY_FIELDS)}),
        "screening": Form(read_screening, lambda field: table_schema(SCREENING_FIELDS)),
    }
    rules = LooseRules(
        "coil lead never joined", "coil lead hanging", "coil shorted", "hot end left as aerial"
    )
    assumptions: ClassVar[Mapping[str, str]] = {"sensitivity": "sensitivity assumed"}

    def build(self, found: Mapping[str, Any], refuse: Refuse) -> Coil | None:
        """Build a coil."""
        tap_ohm = found.get("tap_resistance")
        if tap_ohm is not None and not tap_ohm < found["resistance"]:
            allowed = f"less than the whole, {show(found['resistance'], 'resistance', 3)}"
            got = show(tap_ohm, "resistance", 3)
            refuse(allowed, got=got, place=".tap_resistance", path=("tap_resistance",))
            return None
        own = sum(section.share for section in found.get("eddy", ()))
        covered = found.get("cover") == "metal"
        if covered and own + COVER_EDDY.share > 1.0 + 1e-12:
            allowed = (
                f"eddy shares of at most {100 * (1 - COVER_EDDY.share):g} %, since the cover has the rest"
            )
            refuse(allowed, got=f"{100 * own:g} %", place=".eddy", path=("eddy",))
            return None
        return Coil(
            found["resistance"],
            found["inductance"],
            found["capacitance"],
            eddy=found.get("eddy", ()),
            at_m=found.get("at"),
            aperture_m=found.get("aperture", Coil.aperture_m),
            winding=SIGN[found.get("winding", "forward")],
            magnet=SIGN[found.get("magnet", "north")],
            sensitivity=found.get("sensitivity", Coil.sensitivity),
            string_balance_db=found.get("string_balance", ()),
            turns_area=found.get("turns_area", Coil.turns_area),
            hum_area_m2=found.get("hum_area"),
            tap=found.get("tap"),
            tap_ohm=tap_ohm,
            screening=found.get("screening"),
            covered=covered,
        )

    def leads(self, part: Coil) -> tuple[str, ...]:
        """Return start and finish, with a tap between them if there is one."""
        return ("start", "tap", "finish") if part.tapped else self.lead_names

    def branches(self, part: Coil) -> tuple[Pair, ...]:
        """Return the ends of each section of the winding."""
        return tuple(pairwise(self.leads(part)))

    def symbol(self, part: Coil) -> Symbol:
        """Five turns, a dot at the start, a tap in the middle."""
        turns = "a4 3 0 0 1 0 6" * 5
        strokes = f"M8 0V3{turns}V36 M4 2h0.01"
        leads = {"start": (8.0, 0.0), "finish": (8.0, 36.0)}
        if part.tapped:
            strokes += " M8 21H0"
            leads["tap"] = (0.0, 21.0)
        return Symbol(strokes, (16, 36), leads)

    def value_text(self, part: Coil) -> str:
        """Inductance and resistance."""
        return f"{show(part.inductance_h, 'inductance', 3)}, {show(part.resistance_ohm, 'resistance', 3)}"

    def file_fields(self, part: Coil) -> dict[str, Any]:
        """Every field but defaults that no check names."""
        plain = Coil(part.resistance_ohm, part.inductance_h, part.capacitance_f)
        optional: dict[str, tuple[object, object]] = {
            "eddy": (part.eddy, [_eddy_written(section) for section in part.eddy]),
            "screening": (part.screening, part.screening and _screening_written(part.screening)),
            "cover": (part.covered, COVERS[part.covered]),
            "at": (part.at_m, show(part.at_m or 0.0, "length", 3)),
            "aperture": (part.aperture_m, show(part.aperture_m, "length", 3)),
            "winding": (part.winding, "forward" if part.winding > 0 else "reverse"),
            "magnet": (part.magnet, "north" if part.magnet > 0 else "south"),
            "sensitivity": (part.sensitivity, f"{part.sensitivity:.3g}"),
            "string_balance": (part.string_balance_db, [f"{db:.3g}" for db in part.string_balance_db]),
            "turns_area": (part.turns_area, f"{part.turns_area:.3g}"),
            "hum_area": (part.hum_area_m2, show(part.hum_area_m2 or 0.0, "area", 3)),
            "tap": (part.tap, show(part.tap or 0.0, "share", 3)),
            "tap_resistance": (part.tap_ohm, show(part.tap_ohm or 0.0, "resistance", 3)),
        }
        usual = {
            "at": plain.at_m, "eddy": plain.eddy, "aperture": plain.aperture_m, "winding": plain.winding,
            "magnet": plain.magnet, "sensitivity": plain.sensitivity, "turns_area": plain.turns_area,
            "hum_area": plain.hum_area_m2,
            "string_balance": plain.string_balance_db, "tap": plain.tap, "tap_resistance": plain.tap_ohm,
            "screening": plain.screening, "cover": plain.covered,
        }  # fmt: skip
        return {
            "kind": self.name,
            "resistance": show(part.resistance_ohm, "resistance", 3),
            "inductance": show(part.inductance_h, "inductance", 3),
            "capacitance": show(part.capacitance_f, "capacitance", 3),
            **{
                name: text
                for name, (own, text) in optional.items()
                if own != usual[name] or name in self.assumptions
            },
        }

    def admittance(self, part: Coil, s: Complex) -> Complex:
        """The product s C, shape of s.

        The winding is apart, since others may be coupled to it.
        """
        return np.asarray(s * part.capacitance_f)

    def admittances(self, part: Coil, s: Complex) -> tuple[Complex, ...]:
        """Return s C over its share of the turns, for each section.

        Each is of the shape of s. In line, and by the flux they share, the sections have C together.
        """
        return tuple(np.asarray(s * (part.capacitance_f / turns)) for turns, _ in part.windings())

    def impedance(self, part: Coil, s: Complex) -> Complex:
        """Impedance of the winding alone, shape of s.

        R + s L0 + sum of s L_i R_i / (s L_i + R_i).
        """
        total: Complex = part.resistance_ohm + s * part.lossless_h
        for share_h, loss_ohm in part.sections():
            reactance = s * share_h
            total = total + reactance * loss_ohm / (reactance + loss_ohm)
        return total

    def emf_left(self, part: Coil, s: Complex) -> Complex | None:
        """Return 1 - share + share / (1 + s / corner), shape of s; None if open."""
        if part.screening is None:
            return None
        lost = part.screening.share
        return np.asarray(1.0 - lost + lost / (1.0 + s / (2.0 * pi * part.screening.corner_hz)))

    def stamp_emf(self, part: Coil, at: int, build: Stamps) -> tuple[tuple[int, float], ...]:
        """Drive the winding; of a screened coil, partly by way of a low-pass.

        The low-pass has an unknown u of its own: u + (s / corner) u = EMF.
        """
        if part.screening is None:
            return ((at, -1.0),)
        low = build.new()
        build.term(False, low, low, 1.0)
        build.term(True, low, low, 1.0 / (2.0 * pi * part.screening.corner_hz))
        build.term(False, at, low, part.screening.share)
        return ((at, part.screening.share - 1.0), (low, 1.0))

    def stamp(self, part: Coil, branch: Ends, build: Stamps) -> int:
        """Currents of the winding and of each eddy share; the capacitance across."""
        at = build.current(branch)
        build.impedance(at, at, part.resistance_ohm, part.lossless_h)
        for share_h, loss_ohm in part.sections():
            inner = build.new()
            build.impedance(at, at, loss_ohm, 0.0)
            build.impedance(inner, inner, loss_ohm, share_h)
            build.impedance(at, inner, -loss_ohm, 0.0)
        build.admittance(True, build.row(branch.a), build.row(branch.b), part.capacitance_f)
        return at

    def stamps(self, part: Coil, branches: Sequence[Ends], build: Stamps) -> int:
        """Stamp one branch, or sections that share one flux.

        The sections' currents times their turns are the current of a core, whose voltage times their
        turns lies across each. The core has the lossless inductance and the eddy shares.
        """
        if len(branches) == 1:
            return self.stamp(part, branches[0], build)
        volts, at = build.new(), build.new()
        build.link(volts, at, -1.0)
        for branch, (turns, ohm) in zip(branches, part.windings(), strict=True):
            section = build.current(branch)
            build.impedance(section, section, ohm, 0.0)
            build.link(section, volts, turns)
            build.admittance(True, build.row(branch.a), build.row(branch.b), part.capacitance_f / turns)
        build.impedance(at, at, 0.0, part.lossless_h)
        for share_h, loss_ohm in part.sections():
            inner = build.new()
            build.impedance(at, at, loss_ohm, 0.0)
            build.impedance(inner, inner, loss_ohm, share_h)
            build.impedance(at, inner, -loss_ohm, 0.0)
        return at

    def windings(self, part: Coil) -> tuple[tuple[float, float], ...]:
        """Return the sections of the winding."""
        return part.windings()

    def dc_ohms(self, part: Coil) -> tuple[float, ...]:
        """Return R of each section."""
        return tuple(ohm for _, ohm in part.windings())

    def dc_ohm(self, part: Coil) -> float:
        """R of the winding."""
        return part.resistance_ohm

    def coupled_h(self, part: Coil) -> float:
        """Return the low-frequency inductance, eddy shares included, henry."""
        return part.inductance_h

    def lossless_h(self, part: Coil) -> float:
        """Return the inductance without its eddy shares, henry."""
        return part.lossless_h

    def devices(self, part: Coil) -> tuple[str, ...]:
        """One for the coil, each eddy share, each section and the screening."""
        eddy = (f"_eddy{k}" for k in range(len(part.sections())))
        screen = ("_screen", "_direct") if part.screening else ()
        return ("", *eddy, *screen, *(f"_s{k}" for k in range(len(part.windings())) if part.tapped))

    def netlist(self, part: Coil, name: str, nodes: Sequence[Pair], emf: int) -> Iterator[str]:
        """EMF, R, lossless L and eddy sections from start to finish; C across.

        The EMF of a screened coil stands apart; what is left of it reaches the winding by two
        controlled sources, one of them behind a low-pass. Sections of a tapped winding pass their
        currents to a core and take their voltages from it.
        """
        if part.tapped:
            start, finish = f"{name}_c", "0"
            for k, ((a, b), (turns, ohm)) in enumerate(zip(nodes, part.windings(), strict=True)):
                yield f"R_{name}_s{k} {a} {name}_x{k} {ohm:.17g}"
                yield f"E_{name}_s{k} {name}_x{k} {name}_y{k} {start} {finish} {turns:.17g}"
                yield f"V_{name}_s{k} {name}_y{k} {b} 0"
                yield f"F_{name}_s{k} {finish} {start} V_{name}_s{k} {turns:.17g}"
                if a != b:
                    yield f"C_{name}_s{k} {a} {b} {part.capacitance_f / turns:.17g}"
            yield from _source(part, name, start, f"{name}_r", emf)
        else:
            ((start, finish),) = nodes
            yield from _source(part, name, start, f"{name}_e", emf)
            yield f"R_{name} {name}_e {name}_r {part.resistance_ohm:.17g}"
        at = f"{name}_r"
        sections = part.sections()
        stops = [f"{name}_s{i}" for i in range(len(sections))] + [finish]
        if part.lossless_h > 0.0:
            yield f"L_{name} {at} {stops[0]} {part.lossless_h:.17g}"
            at = stops[0]
        elif sections:
            stops[0] = at
        for i, (share_h, loss_ohm) in enumerate(sections):
            yield f"L_{name}_eddy{i} {at} {stops[i + 1]} {share_h:.17g}"
            yield f"R_{name}_eddy{i} {at} {stops[i + 1]} {loss_ohm:.17g}"
            at = stops[i + 1]
        if start != finish and not part.tapped:
            yield f"C_{name} {start} {finish} {part.capacitance_f:.17g}"


def _source(part: Coil, name: str, plus: str, minus: str, emf: int) -> Iterator[str]:
    """What drives the winding, between two nodes."""
    if part.screening is None:
        yield f"VE_{name} {plus} {minus} DC 0 AC {emf}"
        return
    lost, corner_hz = part.screening.share, part.screening.corner_hz
    yield f"VE_{name} {name}_emf 0 DC 0 AC {emf}"
    yield f"R_{name}_screen {name}_emf {name}_low 1"
    yield f"C_{name}_screen {name}_low 0 {1.0 / (2.0 * pi * corner_hz):.17g}"
    yield f"E_{name}_direct {plus} {name}_m {name}_emf 0 {1.0 - lost:.17g}"
    yield f"E_{name}_screen {name}_m {minus} {name}_low 0 {lost:.17g}"


def _screening_written(screening: Screening) -> dict[str, str]:
    return {
        "share": f"{100 * screening.share:.3g} %",
        "corner": show(screening.corner_hz, "frequency", 3),
    }


def _eddy_written(section: Eddy) -> dict[str, str]:
    return {"share": f"{100 * section.share:.3g} %", "corner": show(section.corner_hz, "frequency", 3)}
