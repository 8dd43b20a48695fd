"""A wiring: parts, joints, labels, load."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from dsp.errors import InputError, nearest, some
from dsp.parts.expression import names_in
from dsp.parts.instrument import Instrument
from dsp.parts.jack import TIP
from dsp.parts.kind import Part, Terminal
from dsp.parts.kinds import (
    SensingPart,
    SwitchPart,
    VariablePart,
    coils_of,
    plugged_of,
    positioned_of,
    pots_of,
    switches_of,
)
from dsp.parts.load import Load
from dsp.parts.pot import KNOB_ALLOWED, KNOB_TOP
from dsp.parts.sketch import Sketch

ONLY_POSITION = "1"
"""Name of the one position of a wiring without a selector."""
OUTPUT = "output"
"""Name of the jack that is the output where several are and the file chooses none."""


@dataclass(frozen=True)
class Joint:
    """Terminals soldered together, and the line of the file."""

    terminals: tuple[Terminal, ...]
    line: int = 0


@dataclass(frozen=True)
class Coupling:
    """Magnetic coupling of two coils or inductors, dots at the first leads.

    Attributes
    ----------
    first, second : str
        Coils or inductors.
    coefficient : float
        What a meter gives at low frequency, (L_aiding - L_opposing) / (4 sqrt(L1 L2)) with L1 and
        L2 the whole inductances. The mutual inductance k sqrt(L1 L2) acts between the lossless shares.
    """

    first: str
    second: str
    coefficient: float


@dataclass(frozen=True)
class Drawn:
    """What a file says of its drawing. Names may be those of no part.

    Attributes
    ----------
    places : mapping of str to (float, float, int)
        x, y and quarter turns of a part; of a switch 1 exchanges its sides, 2 turns it upside
        down, 3 does both.
    runs : tuple of (Terminal, Terminal)
        Wires wished for.
    lines : mapping of str to int
        Line of each place, and of each run by its number.
    """

    places: Mapping[str, tuple[float, float, int]] = field(default_factory=dict)
    runs: tuple[tuple[Terminal, Terminal], ...] = ()
    lines: Mapping[str, int] = field(default_factory=dict)


@dataclass(frozen=True)
class Setting:
    """Positions of the selector, the other switches and every knob.

    Attributes
    ----------
    position : str
        Of the selector.
    knobs : mapping of str to float
        0 to 10 per knob; a knob not named is at 10.
    switches : mapping of str to str
        Position of each switch other than the selector; one not named is in its first. Also the
        plug of each jack that has a choice.
    """

    position: str = ONLY_POSITION
    knobs: Mapping[str, float] = field(default_factory=dict)
    switches: Mapping[str, str] = field(default_factory=dict)

    def knob(self, name: str) -> float:
        """Value of a knob, 0 to 10."""
        return self.knobs.get(name, KNOB_TOP)


@dataclass(frozen=True)
class Wiring:
    """Everything that a wiring file says.

    Attributes
    ----------
    parts : mapping of str to Part
        In the file's order.
    selector : str or None
        Name of the part that is the selector (a switch or a sketch).
    labels : mapping of str to str
        What each selector position is called.
    ganged : mapping of str to str
        Part and the part whose shaft it shares.
    shafts : mapping of str to str
        Pot and the pot that it turns with, whose name is that of the knob.
    assumed : mapping of str to tuple of str
        Part and those of its fields that findings name when the file leaves them to their defaults.
    tolerances : mapping of str to mapping of str to float
        Part, field, and how far its value may be off, as a share of it.
    lines : mapping of str to int
        Line of each part, of ``load`` and ``instrument``; for findings.
    output : Terminal or None
        The jack and the lead (tip or ring) at which everything is computed. None for the tip of the
        jack named ``output``, or of the only one.
    drawn : Drawn
        Nothing of it is audible: results kept by content leave it out.
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
    shafts: Mapping[str, str] = field(default_factory=dict)
    assumed: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    tolerances: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    lines: Mapping[str, int] = field(default_factory=dict)
    output: Terminal | None = None
    drawn: Drawn = field(default_factory=Drawn)

    @property
    def coils(self) -> dict[str, SensingPart]:
        """The coils by name."""
        return coils_of(self.parts)

    @property
    def pots(self) -> dict[str, VariablePart]:
        """The pots by name, each a track of its own."""
        return pots_of(self.parts)

    @property
    def knobs(self) -> dict[str, tuple[str, ...]]:
        """The knobs by name, each with the pots that it turns, its own first."""
        pots = self.pots
        turned: dict[str, list[str]] = {name: [name] for name in pots if self.shafts.get(name) not in pots}
        for name, knob in self.shafts.items():
            if name in pots and knob in turned:
                turned[knob].append(name)
        return {name: tuple(tracks) for name, tracks in turned.items()}

    def clicks(self, knob: str) -> bool:
        """Return whether a knob clicks in the middle: a track of it has a detent."""
        return any(self.pots[track].detent is not None for track in self.knobs.get(knob, ()))

    @property
    def switches(self) -> dict[str, SwitchPart]:
        """Switches other than the selector, by name."""
        return {name: part for name, part in switches_of(self.parts).items() if name != self.selector}

    @property
    def jack(self) -> str:
        """Name of the jack at which everything is computed."""
        return self.hot[0]

    @property
    def hot(self) -> Terminal:
        """The jack's lead at which everything is computed."""
        if self.output is not None:
            return self.output
        return (OUTPUT if plugged_of(self.parts.get(OUTPUT)) else next(iter(self.jacks))), TIP

    @property
    def jacks(self) -> dict[str, Part]:
        """The jacks by name."""
        return {name: part for name, part in self.parts.items() if plugged_of(part)}

    def plugs(self, jack: str) -> tuple[str, ...]:
        """Return what may be in a jack, the usual first.

        At the output that is a plug that carries its lead, the mono one first; elsewhere nothing.
        """
        kind, part = plugged_of(self.parts[jack]), self.parts[jack]
        assert kind is not None
        plugs = kind.plugs(part)
        name, lead = self.hot
        return plugs if jack != name else tuple(one for one in plugs if lead in kind.signals(part, one))

    @property
    def stands(self) -> dict[str, tuple[str, ...]]:
        """Positions of other switches and sketches, and plugs of jacks."""
        found: dict[str, tuple[str, ...]] = {}
        for name, part in self.parts.items():
            kind = positioned_of(part)
            if kind is not None and name != self.selector:
                found[name] = kind.positions(part)
        choices = {name: self.plugs(name) for name in self.jacks}
        return found | {name: plugs for name, plugs in choices.items() if len(plugs) > 1}

    @property
    def sketches(self) -> dict[str, Sketch]:
        """Every sketch by name, the selector or another switch."""
        return {name: part for name, part in self.parts.items() if isinstance(part, Sketch)}

    @property
    def placed(self) -> frozenset[str]:
        """Names of the parts that sketches place."""
        expressions = (one for sketch in self.sketches.values() for one in sketch.positions.values())
        return frozenset(name for expression in expressions for name in names_in(expression))

    @property
    def sketch(self) -> Sketch | None:
        """The selector, if it is a sketch."""
        part = self.parts.get(self.selector) if self.selector else None
        return part if isinstance(part, Sketch) else None

    @property
    def positions(self) -> tuple[str, ...]:
        """Names of the selector's positions, in order."""
        part = self.parts.get(self.selector) if self.selector else None
        kind = positioned_of(part)
        return kind.positions(part) if kind else (ONLY_POSITION,)

    def setting(
        self,
        position: str,
        knobs: Mapping[str, float] | None = None,
        switches: Mapping[str, str] | None = None,
    ) -> Setting:
        """Build a setting that names every knob and switch, all checked.

        Raises
        ------
        InputError
            For an unknown position, knob or switch position, or a knob outside 0 to 10.
        """
        known = self.positions
        _known(position, known, f"{self.file}: position")
        full_knobs = dict.fromkeys(self.knobs, KNOB_TOP)
        for name, value in (knobs or {}).items():
            if name in self.shafts and name not in full_knobs:
                turned = self.shafts[name]
                raise InputError(
                    f"{self.file}: knob", f"'{name}'", f"{turned}, the knob that turns {name} too"
                )
            _known(name, full_knobs, f"{self.file}: knob")
            if not 0.0 <= value <= KNOB_TOP:
                raise InputError(f"{self.file}: knob {name}", f"{value:g}", KNOB_ALLOWED)
            full_knobs[name] = float(value)
        stands = self.stands
        full_switches = {name: places[0] for name, places in stands.items()}
        for name, place in (switches or {}).items():
            _known(name, full_switches, f"{self.file}: switch")
            _known(place, stands[name], f"{self.file}: position of {name}")
            full_switches[name] = place
        return Setting(position, full_knobs, full_switches)


def _known(name: str, known: Mapping[str, object] | tuple[str, ...], where: str) -> None:
    """Refuse a name that is not known, guessing the one meant."""
    if name not in known:
        raise InputError(where, f"'{name}'", some(known) or "none here", nearest(name, known))
