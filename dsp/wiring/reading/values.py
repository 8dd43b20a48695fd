"""Reading the fields of parts that have a form of their own: tapers, losses, contacts."""

from __future__ import annotations

from dsp.documents.field import Field
from dsp.documents.tree import Items, Node, Reading, Text
from dsp.documents.values import read_map, read_quantity
from dsp.errors import MOST_NAMES, InputError, some
from dsp.parts.coil import Eddy
from dsp.parts.expression import Expression, parse_expression
from dsp.parts.fields import EDDY_FIELDS
from dsp.parts.taper import Taper, from_points, named


def read_eddy(reading: Reading, node: Node, what: str) -> tuple[Eddy, ...]:
    """Eddy sections; the shares may not exceed the whole inductance."""
    sections = []
    for item in reading.items(node, what):
        values = read_map(reading, EDDY_FIELDS, item, what)
        if values.get("share") is not None and values.get("corner") is not None:
            sections.append(Eddy(values["share"], values["corner"]))
    total = sum(section.share for section in sections)
    if total > 1.0 + 1e-12:
        reading.refuse(node, what, "shares that add up to at most 100 %", got=f"{100 * total:g} % in all")
    return tuple(sections)


def read_taper(reading: Reading, node: Node, midpoint: float | None, what: str) -> Taper | None:
    """A taper by name, or through a list of points; None after a problem.

    Parameters
    ----------
    reading : Reading
        Takes the problems.
    node : Node
    midpoint : float or None
        Share at half travel, 0 to 1, where the file gives one.
    what : str
        The place, for problems.
    """
    try:
        if isinstance(node, Items):
            if midpoint is not None:
                reading.refuse(node, what, "either a list of points or a midpoint", got="both")
            points = _points(reading, node, what)
            return from_points(points) if len(points) == len(node.items) else None
        text = reading.text(node, what)
        return None if text is None else named(text.strip().lower(), midpoint)
    except InputError as error:
        for problem in error.problems:
            reading.refuse(node, what, problem.allowed, got=problem.got, hint=problem.hint)
        return None


def _points(reading: Reading, node: Items, what: str) -> tuple[tuple[float, float], ...]:
    number = Field("point", "quantity", "", "number", 0.0, 1.0)
    points = []
    for item in node.items:
        pair = [read_quantity(reading, number, part, what) for part in reading.items(item, what)]
        if len(pair) != 2:
            reading.refuse(item, what, "points of two numbers: [travel, share]")
        elif pair[0] is not None and pair[1] is not None:
            points.append((pair[0], pair[1]))
    return tuple(points)


def read_contacts(reading: Reading, node: Node, what: str) -> dict[str, tuple[tuple[str, ...], ...]]:
    """Groups of joined lugs per position; the switch itself judges them."""
    contacts = {}
    for key, groups in reading.entries(node, what):
        place = f"{what}.{key.text}"
        if isinstance(groups, Items) and (
            lugs := [lug.text for lug in groups.items if isinstance(lug, Text)]
        ):
            hint = f"did you mean [[{', '.join(lugs)}]]?" if 1 < len(lugs) <= MOST_NAMES else ""
            got = f"[{some(lugs)}]"
            reading.refuse(groups, place, "a list of groups, each a list of lugs", got=got, hint=hint)
            continue
        contacts[key.text] = tuple(
            tuple(
                lug.text if isinstance(lug, Text) else lug.describe() for lug in reading.items(group, place)
            )
            for group in reading.items(groups, place)
        )
    return contacts


def read_expressions(reading: Reading, node: Node, what: str) -> dict[str, Expression]:
    """A sketch's expression per position."""
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
