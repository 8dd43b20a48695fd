"""The interface of a kind of part: fields, physics, texts and symbol.

Each kind is one file of this room. It holds the part as a dataclass, and one object with the methods
for all parts of the kind. `dsp.parts.kinds` lists these objects. Code outside this room never tests a
part's class.

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
from dsp.parts.taper import Taper

Complex = NDArray[np.complex128]
Terminal = tuple[str, str]
"""A part's name and one of its leads or lugs."""
Pair = tuple[str, str]
"""Two leads of one part."""


class Part:
    """Any part of a wiring; `dsp.parts.kinds.kind_of` gives its kind."""


P = TypeVar("P", bound=Part)


@dataclass(frozen=True)
class Symbol:
    """A scalable drawing of a part.

    Attributes
    ----------
    strokes : str
        Path data in SVG's form, in a box that starts at (0, 0).
    size : (float, float)
        Width and height of the box.
    leads : mapping of str to (float, float)
        The point where each lead leaves the drawing.
    """

    strokes: str
    size: tuple[float, float]
    leads: Mapping[str, tuple[float, float]]


@dataclass(frozen=True)
class Form:
    """A form of field that only one kind has.

    Attributes
    ----------
    read : callable
        Reads a node of the document, and notes problems in the reading.
    schema : callable
        Builds the field's JSON Schema without the description.
    """

    read: Callable[[Reading, Node, str], object]
    schema: Callable[[Field], dict[str, Any]]


class Refuse(Protocol):
    """A callable that notes a problem of a part under construction."""

    def __call__(
        self, allowed: str, *, got: str = "", hint: str = "", place: str = "", path: tuple[str, ...] = ()
    ) -> None:
        """Note a problem.

        Parameters
        ----------
        allowed, got, hint : str
            As in `Problem`. Without ``got`` the message quotes the document's own text.
        place : str
            The text after the part's name, such as ``.taper``.
        path : tuple of str
            Keys from the part's map to the faulty line, as far as they exist.
        """


class Ends(Protocol):
    """A branch of the network: its two nodes."""

    @property
    def a(self) -> int:
        """The node of its first lead."""

    @property
    def b(self) -> int:
        """The node of its second lead."""


class Stamps(Protocol):
    """The state solver's matrices G and C, as a kind fills them."""

    def row(self, node: int) -> int | None:
        """Return the row of a node; None for the reference."""

    def new(self) -> int:
        """Add a row for a current; return its index."""

    def admittance(self, storage: bool, a: int | None, b: int | None, value: float) -> None:
        """Add a value, siemens (farad where ``storage``), between two rows."""

    def current(self, branch: Ends) -> int:
        """Add a row for the current of a branch; return its index."""

    def link(self, i: int, j: int, factor: float) -> None:
        """Add a factor times each row's unknown to the other row's law."""

    def impedance(self, i: int, j: int, ohm: float, henry: float) -> None:
        """Add an impedance, ohm and henry, to the voltage laws of two currents."""

    def term(self, storage: bool, row: int, column: int, value: float) -> None:
        """Add a value (times s where ``storage``) to one law, of one unknown."""

    def tie(self, row: int, branch: Ends, factor: float) -> None:
        """Add a factor times a branch's voltage to a current's voltage law."""


@dataclass(frozen=True)
class LooseRules:
    """Names of the findings for loose and shorted branches; empty for none."""

    never_joined: str = "part lead never joined"
    hanging: str = ""
    shorted: str = ""
    aerial: str = ""


class PartKind(ABC, Generic[P]):
    """One kind of part.

    Attributes
    ----------
    name : str
        The kind's name in a wiring file.
    part : type
        The class of its parts.
    fields : tuple of Field
        The fields in a wiring file. Reader, schema, help and page follow them.
    lead_names : tuple of str
        The leads of every part of the kind; empty if each part has its own.
    forms : mapping of str to Form
        Forms of field that only this kind has.
    assumptions : mapping of str to str
        Finding for each field whose default a check names, if a file leaves it out.
    """

    name: ClassVar[str]
    part: type[P]
    fields: ClassVar[tuple[Field, ...]] = ()
    lead_names: ClassVar[tuple[str, ...]] = ()
    forms: ClassVar[Mapping[str, Form]] = {}
    rules: ClassVar[LooseRules] = LooseRules()
    assumptions: ClassVar[Mapping[str, str]] = {}

    def leads(self, part: P) -> tuple[str, ...]:
        """Return the terminals of a part."""
        return self.lead_names

    def one_piece(self, part: P) -> tuple[str, ...]:
        """Return leads that are one piece of metal; none of most kinds."""
        return ()

    def ends(self) -> tuple[str, str] | None:
        """Return the two leads by which a sketch places a part, or None."""
        return None

    @abstractmethod
    def build(self, found: Mapping[str, Any], refuse: Refuse) -> P | None:
        """Build a part from the values of its fields; None after a problem."""

    @abstractmethod
    def symbol(self, part: P) -> Symbol:
        """Draw a part."""

    def value_text(self, part: P) -> str:
        """Return a part's value, such as ``22 nF``; empty if the kind has none."""
        return ""

    @abstractmethod
    def file_fields(self, part: P) -> dict[str, Any]:
        """Return a part's fields in a wiring file, with values to three digits."""

    def find_unjoined(self, part: P, loose: Sequence[str]) -> Iterator[tuple[str, tuple[str, ...]]]:
        """Yield findings for loose leads: the rule and the leads."""
        yield from ()


class Conductor(PartKind[P]):
    """A kind whose parts conduct through branches, each between two leads.

    Attributes
    ----------
    senses : bool
        Whether the first branch carries an EMF.
    """

    senses: ClassVar[bool] = False

    @abstractmethod
    def branches(self, part: P) -> tuple[Pair, ...]:
        """Return the pairs of leads that the part conducts between."""

    @abstractmethod
    def admittances(self, part: P, s: Complex) -> tuple[Complex | None, ...]:
        """Return each branch's admittance at s, siemens, shape of s, or None.

        Parameters
        ----------
        s : ndarray, any shape
            j 2 pi f, 1/s.
        """

    def ties(self, part: P) -> tuple[tuple[float, ...], ...]:
        """Return the laws that tie the branches' voltages, a row of factors each.

        The voltages times the factors add up to zero. A law neither adds nor takes power, so
        branch k carries factor k times one common current.
        """
        return ()

    @abstractmethod
    def stamps(self, part: P, branches: Sequence[Ends], build: Stamps) -> int | None:
        """Stamp G and C; return the row of a winding's current, if any."""

    def emf_left(self, part: P, s: Complex) -> Complex | None:
        """Return what reaches the winding of an EMF at s, shape of s, or None.

        None stands for all of it.
        """
        return None

    def stamp_emf(self, part: P, at: int, build: Stamps) -> tuple[tuple[int, float], ...]:
        """Stamp the way of an EMF into a winding.

        Parameters
        ----------
        at : int
            The row of the winding's current, from `stamps`.

        Returns
        -------
        tuple of (int, float)
            Rows that an EMF of 1 V drives, and the right side of each.
        """
        return ((at, -1.0),)

    @abstractmethod
    def dc_ohms(self, part: P) -> tuple[float | None, ...]:
        """Return each branch's direct-current resistance, ohm, or None."""

    def coupled_h(self, part: P) -> float:
        """Return the whole inductance, which a coefficient refers to, henry."""
        return 0.0

    def windings(self, part: P) -> tuple[tuple[float, float], ...]:
        """Return each section of an inductive winding: turns and ohms.

        Turns are a share of the whole. Section k is branch k; all share one flux.
        """
        return ()

    def lossless_h(self, part: P) -> float:
        """Return the lossless inductance, which a coupling acts on, henry."""
        return 0.0

    def devices(self, part: P) -> tuple[str, ...]:
        """Return the endings of its device names in a netlist."""
        return ("",)

    @abstractmethod
    def netlist(self, part: P, name: str, nodes: Sequence[Pair], emf: int) -> Iterator[str]:
        """Yield the lines of a SPICE netlist.

        Parameters
        ----------
        nodes : sequence of (str, str)
            The nodes of each branch.
        emf : int
            The AC volts of its source, if it senses.
        """


class TwoLead(Conductor[P]):
    """A kind with one branch between two leads, allowed in a sketch."""

    lead_names: ClassVar[tuple[str, ...]] = ("a", "b")

    @abstractmethod
    def admittance(self, part: P, s: Complex) -> Complex:
        """Return the admittance at s, siemens, shape of s; no sensing winding."""

    @abstractmethod
    def impedance(self, part: P, s: Complex) -> Complex:
        """Return the impedance at s, ohm, shape of s; of a sensor, its winding."""

    @abstractmethod
    def stamp(self, part: P, branch: Ends, build: Stamps) -> int | None:
        """Stamp G and C; return the row of a winding's current, if any."""

    @abstractmethod
    def dc_ohm(self, part: P) -> float | None:
        """Return the direct-current resistance, ohm; None if none flows."""

    def ends(self) -> tuple[str, str] | None:
        """Return both leads."""
        first, last = self.lead_names
        return first, last

    def branches(self, part: P) -> tuple[Pair, ...]:
        """Return the pair of leads."""
        first, last = self.lead_names
        return ((first, last),)

    def admittances(self, part: P, s: Complex) -> tuple[Complex | None, ...]:
        """Return the admittance of the one branch; s has any shape."""
        return (self.admittance(part, s),)

    def stamps(self, part: P, branches: Sequence[Ends], build: Stamps) -> int | None:
        """Call `stamp` for the one branch."""
        return self.stamp(part, branches[0], build)

    def dc_ohms(self, part: P) -> tuple[float | None, ...]:
        """Return `dc_ohm` of the one branch."""
        return (self.dc_ohm(part),)


@dataclass(frozen=True)
class Stretch:
    """A stretch of a track along which resistances are straight lines.

    Attributes
    ----------
    first, last : float
        Shares of the track at its ends.
    ohms : tuple of (float, float)
        Of each segment at both ends; infinite where there is no track.
    at_top : bool
        Whether it holds with the knob at its very top alone, and the one before it up to there.
    """

    first: float
    last: float
    ohms: tuple[tuple[float, float], ...]
    at_top: bool = False


class Variable(PartKind[P]):
    """A kind whose resistances depend on a knob."""

    @abstractmethod
    def taper(self, part: P) -> Taper:
        """Return the share of the track at each knob setting."""

    @abstractmethod
    def stretches(self, part: P) -> tuple[Stretch, ...]:
        """Return the stretches of the track, from share 0 on."""

    @abstractmethod
    def segments(self, part: P) -> tuple[Pair, ...]:
        """Return the pairs of leads with a resistance between them."""

    @abstractmethod
    def resistances(self, part: P, knob: float) -> tuple[float, ...]:
        """Return each segment's resistance with the knob at 0 to 10, ohm."""


class Positioned(PartKind[P]):
    """A kind that joins terminals in each of its positions.

    Attributes
    ----------
    positions_field : str
        The field that lists the joints of each position.
    sketched : bool
        Whether its positions are expressions that place other parts.
    """

    positions_field: ClassVar[str]
    sketched: ClassVar[bool] = False

    @abstractmethod
    def positions(self, part: P) -> tuple[str, ...]:
        """Return the names of the positions, in order."""

    @abstractmethod
    def joints(
        self, part: P, name: str, position: str, leads_of: Callable[[str], tuple[str, ...]]
    ) -> Iterator[tuple[Terminal, ...]]:
        """Yield the groups of terminals joined at a position.

        Parameters
        ----------
        name : str
            The part's name in its wiring.
        leads_of : callable
            Returns the leads of another part by its name.
        """


class Plugged(PartKind[P]):
    """A kind that a plug goes into, which may move contacts."""

    @abstractmethod
    def plugs(self, part: P) -> tuple[str, ...]:
        """Return the names of what may be in it, nothing first."""

    @abstractmethod
    def signals(self, part: P, plug: str) -> tuple[str, ...]:
        """Return the leads that a plug carries signals from."""

    @abstractmethod
    def joints(self, part: P, name: str, plug: str) -> Iterator[tuple[Terminal, ...]]:
        """Yield the groups of terminals joined with a plug, or without.

        Parameters
        ----------
        name : str
            The part's name in its wiring.
        plug : str
            Of `plugs`.
        """
