"""What a wiring file says, read and checked: parts, joints, labels, load."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from dsp.errors import InputError, nearest, some
from dsp.parts.coil import Coil
from dsp.parts.expression import Expression
from dsp.parts.fields import LEADS
from dsp.parts.instrument import Instrument
from dsp.parts.load import Load
from dsp.parts.pot import KNOB_ALLOWED, KNOB_TOP, Pot
from dsp.parts.switch import Switch
from dsp.parts.two_lead import Capacitor, Inductor, Jack, Resistor


@dataclass(frozen=True)
class Sketch:
    """A selector not yet designed: per position an expression, hot to cold."""

    positions: Mapping[str, Expression]


Part = Coil | Pot | Capacitor | Resistor | Inductor | Jack | Switch | Sketch
Terminal = tuple[str, str]
"""A part's name and the lead or lug on it."""

_KIND_OF: dict[type, str] = {
    Coil: "coil",
    Pot: "pot",
    Capacitor: "capacitor",
    Resistor: "resistor",
    Inductor: "inductor",
    Jack: "jack",
    Sketch: "sketch",
}
ONLY_POSITION = "1"
"""Name of the one position of a wiring without a selector."""


def kind_of(part: Part) -> str:
    """The kind as a wiring file calls it."""
    return "switch" if isinstance(part, Switch) else _KIND_OF[type(part)]


def terminals_of(part: Part) -> tuple[str, ...]:
    """Names of the part's leads or lugs."""
    return part.lugs if isinstance(part, Switch) else LEADS[kind_of(part)]


@dataclass(frozen=True)
class Joint:
    """Terminals soldered together, and the line that says so."""

    terminals: tuple[Terminal, ...]
    line: int = 0


@dataclass(frozen=True)
class Coupling:
    """Coupling of the lossless shares of two coils, dots at the starts."""

    first: str
    second: str
    coefficient: float


@dataclass(frozen=True)
class Setting:
    """Where the selector, the other switches and every knob stand.

    Attributes
    ----------
    position : str
        Of the selector.
    knobs : mapping of str to float
        0 to 10 per pot; a pot not named stands at 10.
    switches : mapping of str to str
        Position of each switch other than the selector; one not named stands in its first.
    """

    position: str = ONLY_POSITION
    knobs: Mapping[str, float] = field(default_factory=dict)
    switches: Mapping[str, str] = field(default_factory=dict)

    def knob(self, name: str) -> float:
        """Where a knob stands, 0 to 10."""
        return self.knobs.get(name, KNOB_TOP)


@dataclass(frozen=True)
class Wiring:
    """Everything a wiring file says.

    Attributes
    ----------
    name, file : str
    parts : mapping of str to Part
        In the file's order.
    joints : tuple of Joint
    couplings : tuple of Coupling
    load : Load
    selector : str or None
        Name of the part that is the selector (a switch or a sketch).
    labels : mapping of str to str
        Words per selector position.
    instrument : Instrument or None
    ganged : mapping of str to str
        Part and the part whose shaft it shares.
    lines : mapping of str to int
        Line of each part, of ``load`` and ``instrument``; for findings.
    """

    name: str
    file: str
    parts: Mapping[str, Part]
    joints: tuple[Joint, ...] = ()
    couplings: tuple[Coupling, ...] = ()
    load: Load = field(default_factory=Load)
    selector: str | None = None
    labels: Mapping[str, str] = field(default_factory=dict)
    instrument: Instrument | None = None
    ganged: Mapping[str, str] = field(default_factory=dict)
    lines: Mapping[str, int] = field(default_factory=dict)

    @property
    def coils(self) -> dict[str, Coil]:
        """The coils by name."""
        return {name: part for name, part in self.parts.items() if isinstance(part, Coil)}

    @property
    def pots(self) -> dict[str, Pot]:
        """The pots, that is the knobs, by name."""
        return {name: part for name, part in self.parts.items() if isinstance(part, Pot)}

    @property
    def switches(self) -> dict[str, Switch]:
        """Switches other than the selector, by name."""
        return {
            name: part
            for name, part in self.parts.items()
            if isinstance(part, Switch) and name != self.selector
        }

    @property
    def jack(self) -> str:
        """Name of the jack."""
        return next(name for name, part in self.parts.items() if isinstance(part, Jack))

    @property
    def positions(self) -> tuple[str, ...]:
        """Names of the selector's positions, in order."""
        part = self.parts.get(self.selector) if self.selector else None
        if isinstance(part, Switch):
            return tuple(part.contacts)
        return tuple(part.positions) if isinstance(part, Sketch) else (ONLY_POSITION,)

    def setting(
        self,
        position: str,
        knobs: Mapping[str, float] | None = None,
        switches: Mapping[str, str] | None = None,
    ) -> Setting:
        """A whole setting: every knob and switch named, all checked.

        Raises
        ------
        InputError
            For an unknown position, knob or switch position, or a knob outside 0 to 10.
        """
        known = self.positions
        _known(position, known, f"{self.file}: position")
        full_knobs = dict.fromkeys(self.pots, KNOB_TOP)
        for name, value in (knobs or {}).items():
            _known(name, full_knobs, f"{self.file}: knob")
            if not 0.0 <= value <= KNOB_TOP:
                raise InputError(f"{self.file}: knob {name}", f"{value:g}", KNOB_ALLOWED)
            full_knobs[name] = float(value)
        full_switches = {name: next(iter(switch.contacts)) for name, switch in self.switches.items()}
        for name, stand in (switches or {}).items():
            _known(name, full_switches, f"{self.file}: switch")
            _known(stand, self.switches[name].contacts, f"{self.file}: position of {name}")
            full_switches[name] = stand
        return Setting(position, full_knobs, full_switches)


def _known(name: str, known: Mapping[str, object] | tuple[str, ...], where: str) -> None:
    """Refuse a name that is not known, guessing the one meant."""
    if name not in known:
        raise InputError(where, f"'{name}'", some(known) or "none here", nearest(name, known))
