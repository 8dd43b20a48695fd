"""Sketch expressions for the reference only: text in, leads and the points they meet out."""

from __future__ import annotations

import re
from collections.abc import Callable

Place = Callable[[str, str, str], None]
"""Called for each part with its name, the point of its hot lead and the point of its cold lead."""


def place(text: str, hot: str, cold: str, put: Place) -> None:
    """Place every part of an expression between two points.

    The reference's own expressions keep `+` and `|` apart with brackets, so that no rule of
    precedence is needed; mixing them is refused here.
    """
    _Placing(text, put).chain(hot, cold)


class _Placing:
    def __init__(self, text: str, put: Place) -> None:
        self.tokens = re.findall(r"[A-Za-z_]\w*|[+|()-]", text)
        self.text, self.put, self.fresh = text, put, 0

    def chain(self, hot: str, cold: str) -> None:
        """Cut the tokens at the operators outside brackets and place the pieces."""
        pieces, operators = self._cut()
        if len(set(operators)) > 1:
            raise ValueError(f"reference sketches bracket mixed operators: {self.text!r}")
        points = [hot, *(self._point() for _ in pieces[1:]), cold]
        for i, piece in enumerate(pieces):
            ends = (points[i], points[i + 1]) if operators[:1] == ["+"] else (hot, cold)
            self._term(piece, *ends)

    def _cut(self) -> tuple[list[list[str]], list[str]]:
        pieces: list[list[str]] = [[]]
        operators: list[str] = []
        depth = 0
        for token in self.tokens:
            depth += {"(": 1, ")": -1}.get(token, 0)
            if depth == 0 and token in "+|":
                operators.append(token)
                pieces.append([])
            else:
                pieces[-1].append(token)
        return pieces, operators

    def _term(self, tokens: list[str], hot: str, cold: str) -> None:
        if tokens[0] == "-":
            self._term(tokens[1:], cold, hot)
        elif tokens[0] == "(":
            place(" ".join(tokens[1:-1]), hot, cold, self.put)
        elif len(tokens) == 1:
            self.put(tokens[0], hot, cold)
        else:
            raise ValueError(f"reference sketches: cannot read {tokens} in {self.text!r}")

    def _point(self) -> str:
        self.fresh += 1
        return f"{self.text}/{self.fresh}"
