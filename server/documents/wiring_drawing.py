"""The drawing of a wiring as a document of its own, and the same in words."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

from dsp.drawing.state_record import state_record
from dsp.drawing.wiring_record import wiring_record
from dsp.parts.kinds import kind_of
from dsp.wiring.model import Setting, Wiring
from server.documents.page_modules import call_module
from server.files.packaged import web_text

MODULE = "js/drawing/document.js"
_BLOCK = re.compile(r"^:root \{(.*?)^\}", re.MULTILINE | re.DOTALL)
_DARK = re.compile(r"^@media \(prefers-color-scheme: dark\) \{\n(.*?)^\}\n", re.MULTILINE | re.DOTALL)
_VALUE = re.compile(r"(--[\w-]+):\s*([^;]+);")
_USE = re.compile(r"var\((--[\w-]+)\)")
_RULE = re.compile(r"([^{}]+)\{([^{}]*)\}")
_COMMENT = re.compile(r"/\*.*?\*/", re.DOTALL)


@dataclass(frozen=True)
class Drawing:
    """A drawing.

    Attributes
    ----------
    svg : str
        The document.
    wires : list of dict
        ``from`` and ``to`` (None for a stub to ground), ``run`` and the number of the ``joint``.
    broken : tuple of str
        Wires that found no way, in words; the drawing marks their ends.
    crossings : int
        Places where a wire passes over another.
    laid : dict
        ``places`` of the parts and ``cells`` of the wires: the layout as the page keeps it.
    """

    svg: str
    wires: list[dict[str, Any]]
    broken: tuple[str, ...]
    crossings: int
    laid: dict[str, Any]


FULL, SIMPLE, SMALL = "full", "simple", "small"
"""Details of a picture: all of it; no lug names and numbers; no words at all."""


def draw_wiring(
    wiring: Wiring,
    setting: Setting | None = None,
    *,
    grounds: bool = False,
    detail: str = FULL,
    title: str = "",
) -> Drawing:
    """Draw a wiring: what sounds at a setting, or its joints by their hues.

    Parameters
    ----------
    grounds : bool
        Run every ground wire, instead of a symbol at each lug on ground.
    detail : str
        ``full``, ``simple`` or ``small``.
    title : str
        Of the document; empty for the wiring's name.
    """
    order = {
        "facts": wiring_record(wiring),
        "state": None if setting is None else state_record(wiring, setting),
        "knobs": None if setting is None else dict(setting.knobs),
        "mode": "joints" if setting is None else "sound",
        "folded": not grounds,
        "style": document_style(),
        "title": title or f"Drawing of {wiring.name or wiring.file}",
        "detail": detail,
    }
    found = call_module(MODULE, "drawDocument", order)
    return Drawing(found["svg"], found["wires"], tuple(found["broken"]), found["crossings"], found["laid"])


@cache
def document_style() -> str:
    """Return the page's rules of the drawing, its colours as values.

    Programs that print a drawing know no variables.
    """
    rules, light, dark = _rules()
    return _filled(rules, light) + f"@media (prefers-color-scheme:dark){{{_filled(rules, light | dark)}}}"


_PRINTED = re.compile(r"^@media print \{\n  \.build-sheet \{(.*?)^\n", re.MULTILINE | re.DOTALL)


@cache
def print_variables() -> dict[str, str]:
    """Return the colours on paper, as the style of the build sheet has them."""
    found = _PRINTED.search(web_text("css/build_sheet.css"))
    assert found is not None  # the page's own style
    return dict(_VALUE.findall(found[1]))


@cache
def print_style() -> str:
    """Return the same rules in black on white."""
    rules, light, _ = _rules()
    return _filled(rules, light | print_variables())


@cache
def _rules() -> tuple[str, dict[str, str], dict[str, str]]:
    """Return the rules of the drawing, and the values of their variables, light and dark."""
    light: dict[str, str] = {}
    dark: dict[str, str] = {}
    rules = ""
    for name in ("css/tokens.css", "css/drawing.css"):
        text = _COMMENT.sub("", web_text(name))
        for block in _DARK.findall(text):
            dark |= dict(_VALUE.findall(block))
        plain = re.sub(r"^@media .*?^\}\n", "", text, flags=re.MULTILINE | re.DOTALL)
        for block in _BLOCK.findall(plain):
            light |= dict(_VALUE.findall(block))
        rules += _BLOCK.sub("", plain)
    return rules, light, dark


def _filled(rules: str, values: Mapping[str, str]) -> str:
    def compact(rule: re.Match[str]) -> str:
        selector, body = (" ".join(text.split()) for text in rule.groups())
        return f"{selector}{{{body}}}"

    return _USE.sub(lambda use: values[use[1]], "".join(map(compact, _RULE.finditer(rules))))


def drawing_words(wiring: Wiring, drawing: Drawing) -> Iterator[str]:
    """Yield what a drawing shows in words, line by line."""
    yield wiring.name or wiring.file
    yield ""
    yield "Parts"
    for name, part in wiring.parts.items():
        value = kind_of(part).value_text(part)
        yield f"  {name}: {kind_of(part).name}{f', {value}' if value else ''}"
    record = wiring_record(wiring)
    yield ""
    yield "Joints"
    number = 0
    for k, joint in enumerate(record["joints"]):
        number += k != record["ground"]
        head = "ground" if k == record["ground"] else str(number)
        yield f"  {head}: {', '.join(joint)}"
    yield ""
    yield "Wires, from lug to lug"
    for wire in drawing.wires:
        yield f"  {_end(wire['from'])} to {_end(wire['to'])}{_RUNS.get(wire['run'], '')}"
    for text in drawing.broken:
        yield f"No way was found for the wire from {text}; the drawing marks its two ends."


_RUNS = {"tie": ", a bare tie", "twist": ", twisted together", "splice": ", spliced and sleeved"}


def _end(terminal: str | None) -> str:
    if terminal is None:
        return "ground"
    return "the bare wire" if terminal.endswith(".") else terminal
