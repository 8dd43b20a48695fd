"""The build sheet as one page of HTML, complete in itself."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from html import escape
from typing import Any

from server.documents.build_sheet import BuildSheet
from server.documents.build_sheet_words import WORDS, printed_record
from server.files.packaged import web_text

PAPERS = {"a4": "A4", "letter": "letter"}


def sheet_html(sheet: BuildSheet, paper: str) -> str:
    """Return a build sheet as a page; a browser prints it on the paper.

    Parameters
    ----------
    paper : str
        Key of `PAPERS`.
    """
    said = printed_record(sheet)
    page = f"@page {{ size: {PAPERS[paper]} landscape; margin: 12mm; }}"
    return "\n".join(
        [
            "<!doctype html>",
            '<html lang="en">',
            '<meta charset="utf-8">',
            '<meta name="viewport" content="width=device-width, initial-scale=1">',
            f"<title>{escape(said['title'])}</title>",
            f"<style>{web_text('sheet/sheet.css')}\n{page}</style>",
            "<main>",
            f"<h1>{escape(said['name'])}</h1>",
            f"<p>{escape(said['head'][0])}.</p>",
            f'<div class="picture" tabindex="0" role="group" aria-label="Drawing">{said["svg"]}</div>',
            '<ul class="key">',
            *(f"<li>{one['svg']} <b>{escape(one['label'])}</b>: {one['steps']}</li>" for one in said["key"]),
            "</ul>",
            '<div class="columns">',
            *_steps(said),
            *_tables(said),
            f"<h2>{WORDS['checks']}</h2>",
            '<ul class="steps">',
            *(_tick(f"check-{k}", "", text, "") for k, text in enumerate(said["checks"])),
            "</ul>",
            *_paragraphs("between", said["between"]),
            *_paragraphs("care", said["cautions"]),
            "</div>",
            "</main>",
            "</html>",
            "",
        ]
    )


def _steps(said: dict[str, Any]) -> Iterator[str]:
    yield f"<h2>{WORDS['steps']}</h2>"
    for stage in said["stages"]:
        yield f'<h3>{escape(stage["title"])}</h3><ul class="steps">'
        for step in stage["steps"]:
            yield _tick(step["key"], str(step["step"]), step["text"], step["length"])
        yield "</ul>"
    yield f"<p>{escape(said['notes']['lengths'])}</p>"


def _tick(key: str, number: str, text: str, length: str) -> str:
    box = f'<input type="checkbox" data-step="{escape(key)}">'
    words = f"<span>{escape(text)}</span><span>{escape(length)}</span>"
    return f"<li><label>{box}<b>{number}</b>{words}</label></li>"


def _tables(said: dict[str, Any]) -> Iterator[str]:
    for one in said["contacts"]:
        yield from _table(one["title"], one["rows"])
    if said["contacts"]:
        yield f"<p>{escape(said['notes']['continuity'])}</p>"
    yield f"<h2>{WORDS['readings']}</h2><table>"
    for row in said["readings"]:
        meter = f"<b>{escape(row['meter'])}</b><br>{escape(row['band'])}"
        yield f'<tr><th scope="row">{escape(row["place"])}</th>'
        yield f'<td>{escape(row["sound"])}</td><td class="meter">{meter}</td></tr>'
    yield f"</table><p>{escape(said['notes']['meter'])}</p>"
    yield from _table(WORDS["parts"], said["parts"])


def _table(title: str, rows: Iterable[list[str]]) -> Iterator[str]:
    yield f"<h2>{escape(title)}</h2><table>"
    for name, text in rows:
        yield f'<tr><th scope="row">{escape(name)}</th><td>{escape(text)}</td></tr>'
    yield "</table>"


def _paragraphs(heading: str, texts: list[str]) -> Iterator[str]:
    if texts:
        yield f"<h2>{WORDS[heading]}</h2>"
        yield from (f"<p>{escape(text)}</p>" for text in texts)
