"""What a kind of part defines: fields, physics, texts and symbol.

A kind is one file of this room: the part as a dataclass, and one object with the methods of all parts of
the kind. `dsp.parts.kinds` lists the objects. Nothing outside this room asks for a part's class.

Two solvers compute a network and check each other. A kind therefore states its physics twice, in
`admittances` and in `stamps`. The two may share the part's numbers and nothing else.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, ClassVar, Generic, Protocol, TypeVar

import numpy as np
from numpy.typing import NDArray

from dsp.documents.field import Field
from dsp.documents.tree import Node, Reading

Complex = NDArray[np.complex128]
Terminal = tuple[str, str]
"""A part's name and the lead or lug on it."""
Pair = tuple[str, str]
"""Two leads of one part."""


class Part:
    """Any part of a wiring; `dsp.parts.kinds.kind_of` gives its kind."""


P = TypeVar("P", bound=Part)


@dataclass(frozen=True)
class Symbol:
    """A part's drawing, to be scaled.

    Attributes
    ----------
    strokes : str
        Path data, as an SVG path has it, in a box that starts at (0, 0).
    size : (float, float)
        Width and height of the box.
    leads : mapping of str to (float, float)
        Where each lead leaves the drawing.
    """

    strokes: str
    size: tuple[float, float]
    leads: Mapping[str, tuple[float, float]]


@dataclass(frozen=True)
class Form:
    """A form of field that one kind alone has.

    Attributes
    ----------
    read : callable
        Reads a node of the document; notes problems in the reading.
    schema : callable
        Builds its JSON Schema, without the description.
    """

    read: Callable[[Reading, Node, str], object]
    schema: Callable[[Field], dict[str, Any]]


class Refuse(Protocol):
    """Notes a problem of a part that is being built."""

    def __call__(
        self, allowed: str, *, got: str = "", hint: str = "", place: str = "", path: tuple[str, ...] = ()
    ) -> None:
        """Note a problem.

        Parameters
        ----------
        allowed, got, hint : str
            As in `Problem`; without ``got`` the document's own text is quoted.
        place : str
            What follows the part's name, such as ``.taper``.
        path : tuple of str
            Keys from the part's map to the line that is meant, as far as they exist.
        """


class Ends(Protocol):
    """A branch of the network: its two nodes."""

    @property
    def a(self) -> int:
        """Node of its first lead."""

    @property
    def b(self) -> int:
        """Node of its second lead."""


class Stamps(Protocol):
    """What the state solver offers a kind: rows and entries of G and C."""

    def row(self, node: int) -> int | None:
        """Row of a node; None for the reference."""

    def new(self) -> int:
        """Add a row for a current."""

    def admittance(self, storage: bool, a: int | None, b: int | None, value: float) -> None:
        """Add a value, siemens (farad where ``storage``), between two rows."""

    def current(self, branch: Ends) -> int:
        """Add a row for the current of a branch."""

    def impedance(self, i: int, j: int, ohm: float, henry: float) -> None:
        """Add an impedance, ohm and henry, to the voltage laws of two currents."""

    def tie(self, row: int, branch: Ends, factor: float) -> None:
        """Add a factor times a branch's voltage to a current's voltage law."""


@dataclass(frozen=True)
class LooseRules:
    """Findings for loose and shorted branches; empty names for none."""

    never_joined: str = "part lead never joined"
    hanging: str = ""
    shorted: str = ""
    aerial: str = ""


class PartKind(ABC, Generic[P]):
    """One kind of part.

    Attributes
    ----------
    name : str
        As a wiring file calls it.
    part : type
        Class of its parts.
    fields : tuple of Field
        Fields in a wiring file; reader, schema, help and page follow them.
    lead_names : tuple of str
        Leads of every part of the kind; empty where each part has its own.
    forms : mapping of str to Form
        Forms of field that this kind alone has.
    """

    name: ClassVar[str]
    part: type[P]
    fields: ClassVar[tuple[Field, ...]] = ()
    lead_names: ClassVar[tuple[str, ...]] = ()
    forms: ClassVar[Mapping[str, Form]] = {}
    rules: ClassVar[LooseRules] = LooseRules()

    def leads(self, part: P) -> tuple[str, ...]:
        """Terminals of a part."""
        return self.lead_names

    @abstractmethod
    def build(self, found: Mapping[str, Any], refuse: Refuse) -> P | None:
        """Build a part from the values of its fields; None after a problem."""

    @abstractmethod
    def symbol(self, part: P) -> Symbol:
        """Draw a part."""

    def value_text(self, part: P) -> str:
        """Return a part's value, such as ``22 nF``; empty for a kind without."""
        return ""

    @abstractmethod
    def file_fields(self, part: P) -> dict[str, Any]:
        """Return a part's fields in a wiring file, values to three digits."""

    def find_unjoined(self, loose: Sequence[str]) -> Iterator[tuple[str, tuple[str, ...]]]:
        """Yield findings for leads that nothing else is joined to: rule and leads."""
        yield from ()


class Conductor(PartKind[P]):
    """A kind whose parts conduct: branches, each between two leads.

    Attributes
    ----------
    senses : bool
        Its first branch carries an EMF.
    """

    senses: ClassVar[bool] = False

    @abstractmethod
    def branches(self, part: P) -> tuple[Pair, ...]:
        """Pairs of leads that the part conducts between."""

    @abstractmethod
    def admittances(self, part: P, s: Complex) -> tuple[Complex | None, ...]:
        """Admittance across each branch at s, siemens, shape of s; None for none.

        Parameters
        ----------
        s : ndarray, any shape
            j 2 pi f, 1/s.
        """

    def ties(self, part: P) -> tuple[tuple[float, ...], ...]:
        """Laws that tie the branches' voltages, a row of factors each.

        The voltages times the factors add up to zero. The currents follow, since a law neither
        adds nor takes power: branch k carries factor k times one common current.
        """
        return ()

    @abstractmethod
    def stamps(self, part: P, branches: Sequence[Ends], build: Stamps) -> int | None:
        """Stamp G and C; return the row of the current that senses, if any."""

    @abstractmethod
    def dc_ohms(self, part: P) -> tuple[float | None, ...]:
        """Resistance of each branch to direct current, ohm; None where none flows."""

    def coupled_h(self, part: P) -> float:
        """Inductance that a magnetic coupling acts on, henry."""
        return 0.0

    def devices(self, part: P) -> tuple[str, ...]:
        """Endings of its device names in a netlist."""
        return ("",)

    @abstractmethod
    def netlist(self, part: P, name: str, nodes: Sequence[Pair], emf: int) -> Iterator[str]:
        """Lines of a SPICE netlist.

        Parameters
        ----------
        nodes : sequence of (str, str)
            Nodes of each branch.
        emf : int
            AC volts of its source, if it senses.
        """


class TwoLead(Conductor[P]):
    """A kind with one branch between two leads: it may stand in a sketch."""

    lead_names: ClassVar[tuple[str, ...]] = ("a", "b")

    @abstractmethod
    def admittance(self, part: P, s: Complex) -> Complex:
        """Admittance at s, siemens, shape of s; a sensing winding left out."""

    @abstractmethod
    def impedance(self, part: P, s: Complex) -> Complex:
        """Impedance at s, ohm, shape of s; of what senses, of the winding alone."""

    @abstractmethod
    def stamp(self, part: P, branch: Ends, build: Stamps) -> int | None:
        """Stamp G and C; return the row of the current of what senses."""

    @abstractmethod
    def dc_ohm(self, part: P) -> float | None:
        """Resistance to direct current, ohm; None where none flows."""

    def branches(self, part: P) -> tuple[Pair, ...]:
        """The two leads."""
        first, last = self.lead_names
        return ((first, last),)

    def admittances(self, part: P, s: Complex) -> tuple[Complex | None, ...]:
        """Admittance of the one branch; s of any shape."""
        return (self.admittance(part, s),)

    def stamps(self, part: P, branches: Sequence[Ends], build: Stamps) -> int | None:
        """`stamp`, of the one branch."""
        return self.stamp(part, branches[0], build)

    def dc_ohms(self, part: P) -> tuple[float | None, ...]:
        """`dc_ohm`, of the one branch."""
        return (self.dc_ohm(part),)


class Variable(PartKind[P]):
    """A kind whose resistances a knob sets."""

    @abstractmethod
    def segments(self, part: P) -> tuple[Pair, ...]:
        """Pairs of leads, each with a resistance between them."""

    @abstractmethod
    def resistances(self, part: P, knob: float) -> tuple[float, ...]:
        """Resistance of each segment with the knob at 0 to 10, ohm."""


class Positioned(PartKind[P]):
    """A kind that joins terminals, position by position.

    Attributes
    ----------
    positions_field : str
        Field that says what each position joins.
    selector_only : bool
        Whether it works only as the wiring's selector.
    """

    positions_field: ClassVar[str]
    selector_only: ClassVar[bool] = False

    @abstractmethod
    def positions(self, part: P) -> tuple[str, ...]:
        """Names of the positions, in order."""

    @abstractmethod
    def joints(
        self, part: P, name: str, position: str, leads_of: Callable[[str], tuple[str, ...]]
    ) -> Iterator[tuple[Terminal, ...]]:
        """Terminals joined at a position.

        Parameters
        ----------
        name : str
            Of the part in its wiring.
        leads_of : callable
            Leads of another part by its name.
        """
