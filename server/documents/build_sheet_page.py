"""The build sheet as HTML: an article for the bench, or one page complete in itself."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html import escape
from typing import Any

from server.documents.build_sheet import BuildSheet
from server.documents.build_sheet_words import WORDS, printed_record
from server.documents.wiring_drawing import print_style, print_variables
from server.files.packaged import web_text

_STYLE = re.compile(r"<style>.*?</style>", re.DOTALL)

PAPERS = {"a4": "A4", "letter": "letter"}


def sheet_html(sheet: BuildSheet, paper: str) -> str:
    """Return a build sheet as a page; a browser prints it on the paper.

    Parameters
    ----------
    paper : str
        Key of `PAPERS`.
    """
    styles = "\n".join(
        [
            f":root {{ {' '.join(f'{name}: {value};' for name, value in print_variables().items())} }}",
            web_text("sheet/page.css"),
            print_style(),
            web_text("css/build_sheet.css"),
            f"@page {{ size: {PAPERS[paper]} landscape; margin: 12mm; }}",
        ]
    )
    return "\n".join(
        [
            "<!doctype html>",
            '<html lang="en">',
            '<meta charset="utf-8">',
            '<meta name="viewport" content="width=device-width, initial-scale=1">',
            f"<title>{escape(printed_record(sheet)['title'])}</title>",
            f"<style>{styles}</style>",
            f"<main>{sheet_article(sheet)}</main>",
            "</html>",
            "",
        ]
    )


def sheet_article(sheet: BuildSheet) -> str:
    """Return a build sheet as an article of HTML, without its styles.

    They are `css/build_sheet.css` and those of the drawing.
    Each box to tick has the step's key as ``data-step`` and what is to be done as ``data-text``.
    """
    said = printed_record(sheet)
    return "\n".join(
        [
            '<article class="build-sheet">',
            f"<h1>{escape(said['name'])}</h1>",
            f"<p>{escape(said['head'][0])}.</p>",
            *(f'<p class="said">{escape(text)}.</p>' for text in said["said"]),
            f'<div class="picture" tabindex="0" role="group" aria-label="Drawing">{_bare(said["svg"])}</div>',
            '<ul class="key" aria-label="Lines of the drawing">',
            *(
                f"<li>{_bare(one['svg'])} <b>{escape(one['label'])}</b>: {one['steps']}</li>"
                for one in said["key"]
            ),
            "</ul>",
            '<div class="columns">',
            *_steps(said),
            *_tables(said),
            f"<h2>{WORDS['checks']}</h2>",
            '<ul class="steps">',
            *(_step(one, "", "") for one in said["checks"]),
            "</ul>",
            *_paragraphs("between", said["between"]),
            *_paragraphs("care", said["cautions"]),
            "</div>",
            f'<p class="foot">{escape(said["foot"])}.</p>',
            "</article>",
        ]
    )


def _bare(svg: str) -> str:
    """Return a picture without its style: the page has it already, and its policy allows no other."""
    return _STYLE.sub("", svg)


def _steps(said: dict[str, Any]) -> Iterator[str]:
    yield f"<h2>{WORDS['steps']}</h2>"
    for stage in said["stages"]:
        yield f'<h3>{escape(stage["title"])}</h3><ul class="steps">'
        for step in stage["steps"]:
            yield _step(step, str(step["step"]), step["length"])
        yield "</ul>"
    yield f"<p>{escape(said['notes']['lengths'])}</p>"


def _step(one: dict[str, Any], number: str, length: str) -> str:
    words = f"<span>{escape(one['text'])}</span><span>{escape(length)}</span>"
    return f"<li><label>{_box(one)}<b>{number}</b>{words}</label></li>"


def _box(one: dict[str, Any]) -> str:
    return f'<input type="checkbox" data-step="{escape(one["key"])}" data-text="{escape(one["text"])}">'


def _tables(said: dict[str, Any]) -> Iterator[str]:
    for one in said["contacts"]:
        yield f"<h2>{escape(one['title'])}</h2><table>"
        for row in one["rows"]:
            yield f"<tr>{_place(row)}<td>{escape(row['text'])}</td></tr>"
        yield "</table>"
    if said["contacts"]:
        yield f"<p>{escape(said['notes']['continuity'])}</p>"
    yield f"<h2>{WORDS['readings']}</h2><table>"
    for row in said["readings"]:
        meter = f"<b>{escape(row['meter'])}</b><br>{escape(row['band'])}"
        yield f'<tr>{_place(row)}<td>{escape(row["sound"])}</td><td class="ohm">{meter}</td></tr>'
    yield f"</table><p>{escape(said['notes']['meter'])}</p>"
    yield f"<h2>{WORDS['parts']}</h2><table>"
    for name, text in said["parts"]:
        yield f'<tr><th scope="row">{escape(name)}</th><td>{escape(text)}</td></tr>'
    yield "</table>"
    yield from _paragraphs("unknown", [f"{text}." for text in said["unknown"]])


def _place(row: dict[str, Any]) -> str:
    return f'<th scope="row"><label>{_box(row)}{escape(row["place"])}</label></th>'


def _paragraphs(heading: str, texts: list[str]) -> Iterator[str]:
    if texts:
        yield f"<h2>{WORDS[heading]}</h2>"
        yield from (f"<p>{escape(text)}</p>" for text in texts)
