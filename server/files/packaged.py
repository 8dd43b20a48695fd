"""Texts of the pages in the package: styles, scripts, frames."""

from __future__ import annotations

from functools import cache

from server.paths import web_folder


@cache
def web_text(name: str) -> str:
    """Return a text of the web folder, such as ``listing/listing.css``."""
    return (web_folder() / name).read_text(encoding="utf-8")
