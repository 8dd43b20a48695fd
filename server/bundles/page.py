"""The customer's page as one file: styles, scripts and what it shows are in it, and nothing leaves it.

A page opened as a file loads no modules and reads no files. It may hold text, and load scripts that
lie beside it.
"""

from __future__ import annotations

import base64
import hashlib
import json
import re
import zlib
from dataclasses import dataclass
from functools import cache
from html import escape
from typing import Any

from server.documents.page_modules import script_of
from server.files.packaged import web_text

FRAME = "customer.html"
ENTRY = "js/bundle.js"
UNPACK = "js/bundle/unpack.js"
COMMENT = re.compile(r"/\*.*?\*/", re.DOTALL)
"""Of a style sheet."""
GUARD = "js/player/guard_worklet.js"
CONVOLVER = "js/player/convolve_worklet.js"
ICON = "icon.svg"
TYPE = re.compile(r"/\*\* @[^*`]*\*/ ?")
"""What a comment tells the checker of types within a line."""
GOES_ON = ("{\n", "(\n", "[\n", ",\n")
"""Ends of lines that mean nothing: the statement goes on."""
STYLE_LINK = re.compile(r'[ ]*<link rel="stylesheet" href="/web/([^"]+)">\n')
ICON_LINK = re.compile(r'[ ]*<link rel="icon"[^>]*>\n')
SCRIPT = re.compile(r'[ ]*<script type="module" src="[^"]+"></script>\n')
TITLE = re.compile(r"<title>.*</title>")
POLICY_AT = '<meta charset="utf-8">\n'
LOADING = "<p>Loading your sounds…</p>"
STUCK = "<p>If nothing happens, open this file in a browser: a preview plays no sounds.</p>"
PART_END = "\0"
"""Between the parts of what is packed; no text of the page holds it."""
PART_BYTES = 36_000
"""Of a piece in a script beside the page. A script under way cannot be stopped: a short one soon makes room
for what is needed more. At 400 kbit/s it takes a second."""
NAME_DIGITS = 16
"""Of a digest, in the name of a piece. The page lists the names before anything sounds."""
UNSAFE = "<>&\u2028\u2029"
"""Signs that may end the element around a script's data, or its line."""


@dataclass(frozen=True)
class Piece:
    """A sound, a picture, or what turns knobs, of a bundle.

    Attributes
    ----------
    name : str
        As the page asks for it.
    """

    name: str
    content: bytes

    @property
    def text(self) -> str:
        """Return the content in base 64."""
        return base64.b64encode(self.content).decode()

    @property
    def element(self) -> str:
        """Return the piece as a part of the page."""
        return f'<script type="text/plain" id="piece-{self.name}">{self.text}</script>\n'


def piece_name(sha256: str, ending: str) -> str:
    """Return the name of a piece by the digest of its content."""
    return f"{sha256[:NAME_DIGITS]}.{ending}"


def make_page(sent: dict[str, Any], pieces: tuple[Piece, ...] = (), *, packed: bool = False) -> bytes:
    """Return the page.

    Parameters
    ----------
    sent : dict
        As ``Sent`` of ``js/bundle/source.js``, without the worklets.
    pieces : tuple of Piece
        That lie in the page, in the order in which they are needed.
    packed : bool
        Whether all but the pieces is deflated, for a slow line.
    """
    worklets = [dense(script_of(name)) for name in (GUARD, CONVOLVER)]
    parts = [_style(), *worklets, _in_script(sent), page_script()]
    style, guard, convolver, told, script = parts
    unpack = classic_script(UNPACK) if packed else ""
    icon = base64.b64encode(web_text(ICON).encode()).decode()
    page = ICON_LINK.sub("", STYLE_LINK.sub("", SCRIPT.sub("", web_text(FRAME))))
    page = TITLE.sub(lambda _: f"<title>{escape(sent['offer']['title'])}</title>", page)
    head = (
        f'  <meta http-equiv="Content-Security-Policy" content="{policy(style, script, unpack)}">\n'
        '  <meta name="referrer" content="no-referrer">\n'
        f'  <link rel="icon" href="data:image/svg+xml;base64,{icon}">\n'
    )
    if packed:
        packed_parts = base64.b85encode(deflate(PART_END.join(parts).encode())).decode().replace("<", ",")
        body = f'  <script type="text/plain" id="packed">{packed_parts}</script>\n'
        body += f"  <script>{unpack}</script>\n"
    else:
        head += f"  <style>{style}</style>\n"
        body = f'  <script type="application/json" id="sent">{told}</script>\n'
        body += f'  <script type="text/plain" id="guard">{guard}</script>\n'
        body += f'  <script type="text/plain" id="convolver">{convolver}</script>\n'
        body += f"  <script>{script}</script>\n"
    body += "".join(one.element for one in pieces)
    page = _put(page, POLICY_AT, POLICY_AT + head)
    page = _put(page, LOADING, LOADING + STUCK)
    return _put(page, "</body>", f"{body}</body>").encode()


@cache
def _style() -> str:
    """Return the styles that the frame links, as one."""
    whole = "\n".join(web_text(name) for name in STYLE_LINK.findall(web_text(FRAME)))
    lines = (line.strip() for line in COMMENT.sub("", whole).split("\n"))
    return "\n".join(filter(None, lines))


def deflate(text: bytes) -> bytes:
    """Return a text as the page inflates it (RFC 1951)."""
    packer = zlib.compressobj(9, zlib.DEFLATED, -zlib.MAX_WBITS)
    return packer.compress(text) + packer.flush()


@cache
def page_script() -> str:
    """Return the page's modules as one classic script."""
    return classic_script(ENTRY)


def classic_script(name: str) -> str:
    """Return a module and its imports as a script with a scope of its own."""
    return f'(() => {{\n"use strict";\n{dense(script_of(name))}}})();\n'


def dense(script: str) -> str:
    """Return a script without what only its reader needs.

    That is: indentation, comments, types, and line ends that mean nothing. Templates stay as they are.
    """
    text, in_template = "", False
    for line in script.split("\n"):
        bare = line.strip()
        kept = ""
        if in_template:
            kept = f"{line}\n"
        elif bare and not (bare.startswith("//") and "*/" not in bare):
            kept = f"{bare if '`' in bare else TYPE.sub('', bare)}\n"
        in_template ^= line.count("`") % 2 == 1
        if not in_template and kept.endswith(GOES_ON) and "//" not in kept:
            kept = kept[:-1]
        text += kept
    return text


def policy(style: str, *scripts: str) -> str:
    """Return the page's policy: its own code alone, and no address.

    The directives are those of Content Security Policy, level 3.

    Scripts beside the page are loaded by its own code (CSP level 3, strict-dynamic). Worklets come from
    data addresses: engines load them from nothing else in a file.
    """
    return "; ".join(
        (
            "default-src 'none'",
            f"script-src {' '.join(map(_hash, filter(None, scripts)))} 'strict-dynamic' data:",
            f"style-src {_hash(style)}",
            "img-src data:",
            "base-uri 'none'",
            "form-action 'none'",
        )
    )


def piece_script(piece: Piece) -> bytes:
    """Return the script beside the page that brings a piece, or a part."""
    return f'presolderPiece({json.dumps(piece.name)}, "{piece.text}");\n'.encode()


def piece_parts(piece: Piece) -> list[Piece]:
    """Return a piece cut into parts.

    Each but the last has `PART_BYTES`; the last has fewer, or none.
    """
    starts = range(0, len(piece.content) + 1, PART_BYTES)
    return [
        Piece(f"{piece.name}.{k}" if k else piece.name, piece.content[at : at + PART_BYTES])
        for k, at in enumerate(starts)
    ]


def _hash(text: str) -> str:
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"


def _in_script(data: Any) -> str:
    """Write data as JSON that cannot end the element around it."""
    text = json.dumps(data, ensure_ascii=False, separators=(",", ":"))
    for sign in UNSAFE:
        text = text.replace(sign, f"\\u{ord(sign):04x}")
    return text


def _put(page: str, old: str, new: str) -> str:
    """Replace a part that the frame holds once."""
    if page.count(old) != 1:
        raise ValueError(f"{FRAME} holds {old!r} {page.count(old)} times; allowed: once")
    return page.replace(old, new)
