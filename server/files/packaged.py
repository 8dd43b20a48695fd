"""Texts of the pages in the package: styles, scripts, frames; what a page loads."""

from __future__ import annotations

import hashlib
import posixpath
import re
from functools import cache

from server.paths import web_folder

_COMMENT = re.compile(r"/\*.*?\*/", re.DOTALL)
_LOADED = {
    ".html": re.compile(r"""\b(?:href|src)="/web/([^"]+)\""""),
    ".js": re.compile(
        r"""(?:^import\b[^"'(]*|\bfrom\s*|\bimport\s*\(\s*)["'](\.{1,2}/[^"']+)["']""", re.MULTILINE
    ),
    ".css": re.compile(r"""(?:@import\s+|\burl\(\s*)["']?(?!data:)([^"')\s]+)"""),
}
"""How a file of each kind names what it loads."""
_APART = re.compile(r"""\bnew URL\(\s*["'](\.{1,2}/[^"']+)["']""")
"""How a script names a worklet or a worker, which loads its own modules."""


@cache
def web_text(name: str) -> str:
    """Return a text of the web folder, such as ``listing/listing.css``."""
    return (web_folder() / name).read_text(encoding="utf-8")


@cache
def loaded_by(page: str, *, apart: bool = True) -> tuple[str, ...]:
    """Return every file that a page loads, and what those load, in order.

    Parameters
    ----------
    apart : bool
        Whether worklets and workers count, which run apart from the page.

    Raises
    ------
    FileNotFoundError
        If one of them is not there.
    """
    found: list[str] = []

    def visit(name: str) -> None:
        folder, ending = posixpath.split(name)[0], posixpath.splitext(name)[1]
        names = _LOADED.get(ending)
        if names is None:
            return
        text = _COMMENT.sub("", web_text(name))
        for loaded in [*names.findall(text), *(_APART.findall(text) if apart else ())]:
            path = posixpath.normpath(posixpath.join(folder, loaded))
            if path not in found:
                found.append(path)
                visit(path)

    visit(page)
    for name in found:
        if not (web_folder() / name).is_file():
            raise FileNotFoundError(f"{page} loads {name}, which is not in the web folder")
    return tuple(found)


@cache
def version_of(page: str) -> str:
    """Return a name that changes with a page and all that it loads."""
    digest = hashlib.sha256()
    for name in (page, *loaded_by(page)):
        content = (web_folder() / name).read_bytes()
        digest.update(f"{name} {len(content)} ".encode() + content)
    return digest.hexdigest()[:16]
