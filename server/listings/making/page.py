"""The listing's pages: static HTML that plays clips from a file or any web host, without a server.

The page holds its style, script and data. The sounds lie beside it as small scripts, loaded on demand: a page
opened as a file may load a script but not read the bytes of a sound file, and switching positions at the same
place needs those bytes.
"""

from __future__ import annotations

import base64
import json
import re
from collections.abc import Sequence
from html import escape
from string import Template
from typing import Any
from urllib.parse import quote

from server.files.packaged import web_text
from server.listings.making.report import DONE, InstrumentReport

SCRIPTS = (
    "js/shared/dom.js",
    "js/shared/latest.js",
    "js/shared/plot.js",
    "js/shared/plot_grid.js",
    "js/player/level.js",
    "js/player/clips.js",
    "listing/sounds.js",
    "listing/view.js",
)
"""Modules written into the page, in the order of their imports. A page opened as a file loads no modules."""

MODULE_WORDS = re.compile(
    r"^import [^;]*;\n|^export (?=(?:async )?(?:function|const|let|class) )", re.MULTILINE
)
COMMENTS = re.compile(r"^[ \t]*/\*\*.*?\*/\n", re.MULTILINE | re.DOTALL)
PLAIN = "abcdefghijklmnopqrstuvwxyz0123456789"


def sound_script(name: str, sound: bytes) -> bytes:
    """A sound file as a script that hands itself to the page.

    Parameters
    ----------
    name : str
        Letters and digits.
    sound : bytes
    """
    assert all(sign in PLAIN for sign in name)
    return b'presolderSound("' + name.encode() + b'","' + base64.b64encode(sound) + b'");\n'


def in_script(data: Any) -> str:
    """Data as JSON that nothing in it can lead out of a script element."""
    text = json.dumps(_readable(data), ensure_ascii=False, separators=(",", ":"))
    for sign in "<>&\u2028\u2029":
        text = text.replace(sign, f"\\u{ord(sign):04x}")
    return text


def _readable(data: Any) -> Any:
    """Data whose texts UTF-8 can hold: bytes of file names that are none become ``?``."""
    if isinstance(data, str):
        return data.encode(errors="replace").decode()
    if isinstance(data, dict):
        return {key: _readable(value) for key, value in data.items()}
    return [_readable(one) for one in data] if isinstance(data, list | tuple) else data


def address(path: str) -> str:
    """A path beside a page as an address in it."""
    return escape(quote(path, errors="surrogateescape"))


def plain_script(module: str) -> str:
    """Drop a module's imports, the word ``export`` and its documentation."""
    return MODULE_WORDS.sub("", COMMENTS.sub("", module))


def join_scripts() -> str:
    """Join the page's modules into one script with one scope.

    No two modules may declare the same name.
    """
    return "\n".join(plain_script(web_text(name)) for name in SCRIPTS)


def instrument_page(data: dict[str, Any]) -> bytes:
    """The page of one instrument.

    Parameters
    ----------
    data : dict
        As the script reads it: ``instrument``, ``hz``, ``clips`` and what else it shows.
    """
    clips = [
        {**clip, "script": quote(clip["script"], errors="surrogateescape"),
         "files": [{**file, "file": quote(file["file"], errors="surrogateescape")} for file in clip["files"]]}
        for clip in data["clips"]
    ]  # fmt: skip
    return _page(
        "listing/instrument.html",
        title=_shown(data["instrument"]),
        script=join_scripts(),
        data=in_script({**data, "clips": clips}),
        files="\n".join(_file_row(clip) for clip in data["clips"]),
    )


def _file_row(clip: dict[str, Any]) -> str:
    """A clip's files as a row of a table, there without any script."""
    links = " ".join(
        f'<a href="{address(file["file"])}" download>{_shown(file["format"].upper())}</a>'
        for file in clip["files"]
    )
    words = (f"{clip['position']} {clip['label']}".strip(), clip["take"], clip["group"])
    return f"<tr>{''.join(f'<td>{_shown(word)}</td>' for word in words)}<td>{links}</td></tr>"


def index_page(name: str, instruments: Sequence[InstrumentReport]) -> bytes:
    """The page over all instruments that have clips.

    Parameters
    ----------
    name : str
        Of the listing; a plain heading if empty.
    instruments : sequence of InstrumentReport
    """
    done = [one for one in instruments if one.state == DONE]
    cards = "\n".join(
        f'<li><a class="card" href="{address(one.folder)}/index.html">'
        f'<img src="{address(one.cover)}" alt="" width="120" height="120" loading="lazy">'
        f"<span><b>{_shown(one.name)}</b><i>{_shown(one.about)}</i></span></a></li>"
        for one in done
    )
    many = f"{len(done)} instrument{'' if len(done) == 1 else 's'}"
    return _page("listing/index.html", title=_shown(name or "Listening to wirings"), cards=cards, many=many)


def _shown(text: str) -> str:
    return escape(text.encode(errors="replace").decode())


def _page(frame: str, **parts: str) -> bytes:
    page = Template(web_text(frame)).substitute(style=web_text("listing/listing.css"), **parts)
    return page.encode()
