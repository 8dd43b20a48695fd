"""A sketch: a switch not yet designed, with an expression for each position."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, ClassVar

from dsp.documents.field import Field
from dsp.documents.tree import Node, Reading
from dsp.errors import InputError
from dsp.parts.expression import Expression, Leaf, format_expression, parse_expression
from dsp.parts.kind import Form, Part, Positioned, Refuse, Symbol, Terminal


@dataclass(frozen=True)
class Sketch(Part):
    """A switch not yet designed: an expression per position, hot to cold."""

    positions: Mapping[str, Expression]


def read_expressions(reading: Reading, node: Node, what: str) -> dict[str, Expression]:
    """Read the expression of each position."""
    expressions = {}
    for key, value in reading.entries(node, what):
        place = f"{what}.{key.text}"
        text = reading.text(value, place)
        if text is None:
            continue
        try:
            expressions[key.text] = parse_expression(text, reading.where(value, place))
        except InputError as error:
            reading.take(error)
    if not expressions and not reading.problems:
        reading.refuse(node, what, "at least one position")
    return expressions


def sketch_joints(
    expression: Expression, hot: Terminal, cold: Terminal, leads_of: Callable[[str], tuple[str, ...]]
) -> Iterator[tuple[Terminal, ...]]:
    """Yield the joints that place an expression between two terminals.

    Parameters
    ----------
    leads_of : callable
        Returns the two leads of a part by its name.
    """
    if expression.reversed:
        hot, cold = cold, hot
    if isinstance(expression, Leaf):
        first, last = leads_of(expression.name)
        yield hot, (expression.name, first)
        yield (expression.name, last), cold
    elif not expression.series:
        for member in expression.members:
            yield from sketch_joints(member, hot, cold, leads_of)
    else:
        # A reversed chain keeps its members' order from its own hot end, which is now `cold`.
        *inner, final = expression.members
        at = hot
        for member in inner:
            link = (f" between {id(member)}", "")
            yield from sketch_joints(member, at, link, leads_of)
            at = link
        yield from sketch_joints(final, at, cold, leads_of)


class SketchKind(Positioned[Sketch]):
    """Sketches."""

    name = "sketch"
    part = Sketch
    lead_names = ("hot", "cold")
    positions_field = "positions"
    sketched = True
    fields = (
        Field("positions", "expressions", "per position, an expression over coils and parts", required=True),
    )
    forms: ClassVar[Mapping[str, Form]] = {
        "expressions": Form(
            read_expressions,
            lambda field: {"type": "object", "additionalProperties": {"type": "string"}},
        )
    }

    def build(self, found: Mapping[str, Any], refuse: Refuse) -> Sketch:
        """Build a sketch."""
        return Sketch(found["positions"])

    def symbol(self, part: Sketch) -> Symbol:
        """Draw a dashed box."""
        dashes = "M0 0H6 M12 0H20 M26 0H32V6 M32 12V20 M32 26V32H26 M20 32H12 M6 32H0V26 M0 20V12 M0 6V0"
        return Symbol(dashes, (32, 32), {"hot": (16, 0), "cold": (16, 32)})

    def file_fields(self, part: Sketch) -> dict[str, Any]:
        """Return the kind and the expressions."""
        return {
            "kind": self.name,
            "positions": {name: format_expression(one) for name, one in part.positions.items()},
        }

    def positions(self, part: Sketch) -> tuple[str, ...]:
        """Return the names of the positions, in order."""
        return tuple(part.positions)

    def joints(
        self, part: Sketch, name: str, position: str, leads_of: Callable[[str], tuple[str, ...]]
    ) -> Iterator[tuple[Terminal, ...]]:
        """Yield the joints that place an expression between hot and cold."""
        yield from sketch_joints(part.positions[position], (name, "hot"), (name, "cold"), leads_of)
