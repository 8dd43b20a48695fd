"""What an answer may say, checked against the manifest of what was sent."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, StringConstraints, ValidationError

from dsp.errors import InputError, Problem
from server.answers.manifests import signed_for
from server.proposals.forms import MOST_TAKES, Knob, Moment, Number, SignOff, Written
from server.proposals.signoffs import SENTENCES
from server.proposals.store import MOST_ITEMS
from server.proposals.talk import MOST_NOTES
from server.web.errors import of_pydantic

MOST_WISHES = 4 * MOST_ITEMS
MOST_HEARD = MOST_ITEMS * MOST_TAKES
One = Annotated[int, Field(ge=1, le=1)]
"""The only format there is."""
Sentence = Annotated[int, Field(ge=1, le=max(SENTENCES.values()))]
Digest = Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{64}$")]


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True)


class _Note(_Part):
    number: Number | None
    text: Written


class Signature(_Part):
    """A choice of a wiring or, by sentence 1, of a sound.

    Attributes
    ----------
    agrees : int
        Number of the sentence agreed to, see `SENTENCES`.
    """

    n: Number
    name: str
    agrees: Sentence


class Content(_Part):
    """An answer, keys as short as in its text.

    Attributes
    ----------
    s : str
        Digest of the manifest of what was sent.
    w : str
        When it was written, by the customer's clock.
    r : str
        48 random bits: no two answers are equal.
    """

    f: One
    p: str
    s: Digest
    w: Moment
    fav: Annotated[list[Number], Field(max_length=MOST_ITEMS)]
    notes: Annotated[list[tuple[Number | None, str]], Field(max_length=MOST_NOTES)]
    wish: Annotated[list[tuple[Number, dict[str, Knob]]], Field(max_length=MOST_WISHES)]
    heard: Annotated[list[tuple[Number, str]], Field(max_length=MOST_HEARD)]
    sign: Signature | None = None
    r: Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{12}$")]

    @property
    def date(self) -> str:
        """Return the day it was written, by the customer's clock (UTC)."""
        return self.w[:10]


def read_content(content: Mapping[str, Any], manifest: Mapping[str, Any]) -> Content:
    """Return an answer's content.

    Raises
    ------
    InputError
        If it has another form, or names what was not sent; all problems at once.
    """
    try:
        found = Content.model_validate(_in_tuples(content))
        for number, text in found.notes:
            _Note(number=number, text=text)
        if found.sign is not None:
            SignOff(wiring=found.sign.n, name=found.sign.name, date=found.date, confirm=True)
    except ValidationError as error:
        raise InputError.of(_problem(one) for one in error.errors()) from error
    problems = list(_strangers(found, manifest))
    if problems:
        raise InputError.of(problems)
    return found


def _in_tuples(content: Mapping[str, Any]) -> dict[str, Any]:
    """Return pairs as tuples: JSON has lists alone."""
    pairs = {
        key: [tuple(one) if isinstance(one, list) else one for one in content[key]]
        for key in ("notes", "wish", "heard")
        if isinstance(content.get(key), list)
    }
    return {**content, **pairs}


def _problem(one: Any) -> Problem:
    found = of_pydantic(one)
    return Problem(f"answer, {found.where}", found.got, found.allowed, found.hint)


def _strangers(found: Content, manifest: Mapping[str, Any]) -> Any:
    """Yield what an answer names that was not sent."""
    knobs = {item["number"]: set(item["knobs"]) for item in manifest["items"]}
    takes = {take["take"] for take in manifest["takes"]}
    numbers = {*found.fav, *(n for n, _ in found.notes if n), *(n for n, _ in found.wish)}
    numbers |= {n for n, _ in found.heard}
    for number in sorted(numbers - knobs.keys()):
        yield Problem("answer", f"sound {number}", f"the sounds sent, 1 to {len(knobs)}")
    for number, turned in found.wish:
        for name in sorted(turned.keys() - knobs.get(number, turned.keys())):
            yield Problem(f"answer, sound {number}", f"a knob {name!r}"[:80], "the knobs of this sound")
    for take in sorted({take for _, take in found.heard} - takes):
        yield Problem("answer", f"a piece of music {take!r}"[:80], "those that were sent")
    if found.sign is not None:
        yield from _strange_signature(found.sign, manifest)
    if found.p != manifest["proposal"]:
        yield Problem("answer", "the name of another proposal", "the one that was sent")


def _strange_signature(sign: Signature, manifest: Mapping[str, Any]) -> Any:
    """Yield what a signature is for that was not sent."""
    of = signed_for(manifest)
    offered = manifest["wirings" if of == "wiring" else "items"]
    if sign.agrees != SENTENCES[of]:
        yield Problem("answer", f"agreement to sentence {sign.agrees}", f"to sentence {SENTENCES[of]}")
    if sign.n not in [one["number"] for one in offered]:
        yield Problem("answer", f"a signature for {of} {sign.n}", f"the {of}s sent, 1 to {len(offered)}")
