"""Fonts of this machine, for letters that the drawing library's own font lacks."""

from __future__ import annotations

import io
import os
import sys
from collections.abc import Iterable, Iterator, Sequence
from functools import cache
from pathlib import Path

ENDINGS = {".ttf", ".otf", ".ttc", ".otc"}
UNUSUAL = (
    "bold", "italic", "oblique", "mono", "condensed", "serif", "light", "thin", "black", "heavy", "medium",
    "math", "symbol", "emoji",
)  # fmt: skip
"""Words in the file names of fonts that plain text is not set in, as far as others have the letters."""


def font_folders() -> list[Path]:
    """Return where this system keeps fonts."""
    home = Path.home()
    if sys.platform == "win32":
        windows, local = os.environ.get("WINDIR", r"C:\Windows"), os.environ.get("LOCALAPPDATA")
        own = [Path(local) / "Microsoft" / "Windows" / "Fonts"] if local else []
        return [Path(windows) / "Fonts", *own]
    if sys.platform == "darwin":
        return [Path("/System/Library/Fonts"), Path("/Library/Fonts"), home / "Library" / "Fonts"]
    shared = os.environ.get("XDG_DATA_DIRS", "/usr/local/share:/usr/share").split(":")
    return [*(Path(one) / "fonts" for one in shared if one), home / ".local/share/fonts", home / ".fonts"]


@cache
def _fonts() -> tuple[Path, ...]:
    """Return all fonts of this machine, those for plain text first."""
    found = {
        path for folder in font_folders() for path in folder.rglob("*") if path.suffix.lower() in ENDINGS
    }
    return tuple(sorted(found, key=_order))


def _order(path: Path) -> tuple[int, int, str]:
    name = path.stem.lower()
    return sum(word in name for word in UNUSUAL), "sans" not in name, str(path)


@cache
def letters_of(font: Path | bytes) -> frozenset[int]:
    """Return the code points that a font has; none if it cannot be read."""
    from fontTools.ttLib import TTFont, TTLibError

    opening = io.BytesIO(font) if isinstance(font, bytes) else font
    try:
        with TTFont(opening, fontNumber=0, lazy=True) as opened:
            return frozenset(opened.getBestCmap() or ())
    except (TTLibError, OSError, ValueError, KeyError, AssertionError):
        return frozenset()


def letters_in(texts: Iterable[str]) -> frozenset[int]:
    """Return the code points of texts that a font must have."""
    return frozenset(ord(sign) for text in texts for sign in text if not sign.isspace())


def find_fonts(letters: frozenset[int]) -> tuple[Path, ...]:
    """Return fonts of this machine that together have some letters.

    One font that has them all is preferred to several.
    """
    if not letters:
        return ()
    whole = next((font for font in _fonts() if letters <= letters_of(font)), None)
    return (whole,) if whole is not None else tuple(_together(letters, _fonts()))


def _together(letters: frozenset[int], fonts: Sequence[Path]) -> Iterator[Path]:
    for font in fonts:
        if letters & letters_of(font):
            yield font
            letters -= letters_of(font)
        if not letters:
            return
