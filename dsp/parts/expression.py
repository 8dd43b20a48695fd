"""Sketch expressions: which coils and parts lie between hot and cold, and how.

    expression = chain { "|" chain }           parallel, all starts towards hot
    chain      = term { "+" term }             series, the first at the hot end
    term       = [ "-" ] ( name | "(" expression ")" )     "-": leads reversed

"+" binds tighter than "|". A name is that of a two-lead part. A hyphen inside a name belongs to it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from dsp.errors import InputError

LONGEST = 400
DEEPEST = 40
_TOKEN = re.compile(r"\s*(?:([^\W\d][\w-]*)|([+|()−-])|(\S))")


@dataclass(frozen=True)
class Leaf:
    """A part, its leads reversed or not."""

    name: str
    reversed: bool = False


@dataclass(frozen=True)
class Group:
    """Members in series (first at the hot end) or in parallel."""

    members: tuple[Expression, ...]
    series: bool
    reversed: bool = False


Expression = Leaf | Group


def names_in(expression: Expression) -> Iterator[str]:
    """Yield every part named, in the order of the text."""
    if isinstance(expression, Leaf):
        yield expression.name
    else:
        for member in expression.members:
            yield from names_in(member)


def _tokens(text: str, where: str) -> list[str]:
    found = []
    for match in _TOKEN.finditer(text):
        if match[3]:
            raise InputError(where, f"'{match[3]}' in '{text}'", "part names, + | - ( )")
        found.append((match[1] or match[2]).replace("−", "-"))
    return found


class _Parser:
    """A recursive-descent parser of one expression."""

    def __init__(self, text: str, where: str) -> None:
        self.text, self.where = text, where
        self.tokens = _tokens(text, where)
        self.at = 0

    def fail(self, allowed: str) -> InputError:
        got = self.tokens[self.at] if self.at < len(self.tokens) else "the end"
        return InputError(self.where, f"'{got}' in '{self.text}'", allowed)

    def take(self, token: str) -> bool:
        if self.at < len(self.tokens) and self.tokens[self.at] == token:
            self.at += 1
            return True
        return False

    def parallel(self, depth: int) -> Expression:
        members = [self.chain(depth)]
        while self.take("|"):
            members.append(self.chain(depth))
        return members[0] if len(members) == 1 else Group(tuple(members), series=False)

    def chain(self, depth: int) -> Expression:
        members = [self.term(depth)]
        while self.take("+"):
            members.append(self.term(depth))
        return members[0] if len(members) == 1 else Group(tuple(members), series=True)

    def term(self, depth: int) -> Expression:
        if depth > DEEPEST:
            raise InputError(self.where, "brackets within brackets", f"at most {DEEPEST} deep")
        turned = self.take("-")
        if self.take("("):
            inner = self.parallel(depth + 1)
            if not self.take(")"):
                raise self.fail("a closing )")
        elif self.at < len(self.tokens) and self.tokens[self.at] not in "+|-()":
            inner = Leaf(self.tokens[self.at])
            self.at += 1
        else:
            raise self.fail("a part's name, -name or (")
        return _turn(inner) if turned else inner


def _turn(expression: Expression) -> Expression:
    if isinstance(expression, Leaf):
        return Leaf(expression.name, not expression.reversed)
    return Group(expression.members, expression.series, not expression.reversed)


def parse_expression(text: str, where: str = "expression") -> Expression:
    """Parse an expression.

    Parameters
    ----------
    text : str
        An expression such as ``(neck_a | -bridge) + tone_cap``.
    where : str
        The place, for error messages.

    Raises
    ------
    InputError
        If the text is empty, too long or not an expression, or if it names a part twice.

    Examples
    --------
    >>> list(names_in(parse_expression("(neck | -bridge) + tone_cap")))
    ['neck', 'bridge', 'tone_cap']
    """
    if not text.strip() or len(text) > LONGEST:
        raise InputError(where, f"{len(text)} characters", f"1 to {LONGEST}: part names, + | - ( )")
    parser = _Parser(text, where)
    expression = parser.parallel(0)
    if parser.at < len(parser.tokens):
        raise parser.fail("+ or | between parts")
    names = list(names_in(expression))
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise InputError(where, f"'{twice[0]}' twice in '{text}'", "each part once in a position")
    return expression


def format_expression(expression: Expression) -> str:
    """Return an expression as text; every group within another in brackets.

    Examples
    --------
    The reader needs no rule of which sign binds tighter:

    >>> format_expression(parse_expression("neck_a + neck_b | bridge"))
    '(neck_a + neck_b) | bridge'
    """
    sign = "-" if expression.reversed else ""
    if isinstance(expression, Leaf):
        return f"{sign}{expression.name}"
    inner = (" + " if expression.series else " | ").join(
        f"({format_expression(one)})" if _needs_brackets(one) else format_expression(one)
        for one in expression.members
    )
    return f"-({inner})" if sign else inner


def _needs_brackets(member: Expression) -> bool:
    """Return whether a member needs brackets; a reversed group brings its own."""
    return isinstance(member, Group) and not member.reversed
