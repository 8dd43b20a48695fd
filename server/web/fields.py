"""The types that requests are made of: lines, names, texts, ids, edits."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, StringConstraints

LONGEST_TITLE = 200
LONGEST_TEXT = 64 * 1024
MOST_EDITS = 500


def _one_line(text: str) -> str:
    """A text without line ends and other control characters."""
    if any(ord(sign) < 32 or 127 <= ord(sign) < 160 or sign in "\u2028\u2029" for sign in text):
        raise ValueError("one line of readable text, without control characters")
    return text


def _readable(text: str) -> str:
    """A text without control characters except line ends and tabs."""
    if any((ord(sign) < 32 and sign not in "\n\r\t") or 127 <= ord(sign) < 160 for sign in text):
        raise ValueError("readable text, without control characters")
    return text


Line = Annotated[str, StringConstraints(max_length=LONGEST_TITLE), AfterValidator(_one_line)]
"""One line, perhaps empty."""
Name = Annotated[
    str,
    StringConstraints(min_length=1, max_length=LONGEST_TITLE, pattern=r"\S"),
    AfterValidator(_one_line),
]
"""One line with something in it."""
Paragraphs = Annotated[str, StringConstraints(max_length=4000), AfterValidator(_readable)]
"""Text of several lines."""
WiringFile = Annotated[str, StringConstraints(max_length=LONGEST_TEXT)]
WayName = Literal["direct", "clean", "edge", "driven"]
"""A way to hear a guitar, of `dsp.chain.ways`."""
Id = Annotated[str, StringConstraints(min_length=1, max_length=64)]


class Body(BaseModel):
    """A request's body; an unknown field is refused."""

    model_config = ConfigDict(extra="forbid")


class EditForm(Body):
    """A value for a place of a wiring's text; null takes the place out.

    Items of lists go by their number from 0 in the version's text, new ones by the numbers after.
    """

    path: Annotated[list[Line], Field(min_length=1, max_length=20)]
    value: Annotated[str, StringConstraints(max_length=4000)] | None

    def pair(self) -> tuple[tuple[str, ...], str | None]:
        """Return place and value."""
        return tuple(self.path), self.value


Edits = Annotated[list[EditForm], Field(max_length=MOST_EDITS)]
