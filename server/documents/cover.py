"""The cover picture of a clip: its response among those of the other positions, as a PNG.

Tags hold pictures of pixels only. It is drawn anew rather than made from the SVG: programs that
turn SVG into pixels take their letters from the system, and the picture would change with it.
"""

from __future__ import annotations

import io
from collections.abc import Iterable, Sequence
from functools import cache
from itertools import groupby
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from server.files.fonts import letters_in, letters_of

Floats = NDArray[np.float64]

SIZE = 600
SMOOTH = 2
"""The picture is drawn this many times larger, then reduced: lines are smooth."""
LEFT, RIGHT, TOP, BOTTOM = 46, 14, 118, 44
SPAN_DB = 48.0
STEP_DB = 12.0
LABELS_HZ = (50, 200, 1000, 5000, 20_000)
SHEET, INK, SOFT, LINE, OTHER, COPPER = "#fbfcfc", "#15242a", "#526870", "#c9d4d8", "#9db1b8", "#a8481a"
UNKNOWN = "?"
"""Stands for a letter that no font has."""
FontFile = Path | bytes
N_COLOURS = 48
"""Colours of the palette, enough for every shade of a smooth line."""


@cache
def _own_letters() -> frozenset[int]:
    """Return the code points of the library's own font."""
    from PIL import ImageFont

    font: Any = ImageFont.load_default(SIZE)
    return letters_of(font.path.getvalue())


def letters_beyond(texts: Iterable[str], fonts: Sequence[FontFile] = ()) -> frozenset[int]:
    """Return the code points of texts that no font of these has."""
    return letters_in(texts).difference(_own_letters(), *map(letters_of, fonts))


def cover(
    title: str,
    heading: str,
    about: str,
    hz: Floats,
    levels_db: Sequence[Floats],
    chosen: int,
    fonts: Sequence[FontFile] = (),
) -> bytes:
    """Return a square PNG with one curve in front of the others.

    Parameters
    ----------
    title, heading, about : str
        Instrument, position, settings; cut where they are too long.
    hz : ndarray, shape (n_freqs,), Hz
    levels_db : sequence of ndarray, shape (n_freqs,), dB
    chosen : int
        Curve in front.
    fonts : sequence of Path or bytes
        For letters that the drawing library's own font lacks, as files or their content. A letter that
        none has is shown as `UNKNOWN`.

    Returns
    -------
    bytes
        The same for the same input and version of the drawing library.
    """
    from PIL import Image, ImageDraw

    image = Image.new("RGB", (SIZE * SMOOTH, SIZE * SMOOTH), SHEET)
    draw = ImageDraw.Draw(image)
    top_db = STEP_DB * np.ceil((max(float(level.max()) for level in levels_db) + 2.0) / STEP_DB)
    _words(draw, title, heading, about, fonts)
    _grid(draw, hz, top_db)
    order = [i for i in range(len(levels_db)) if i != chosen]
    for i in order:
        _curve(draw, hz, levels_db[i], top_db, OTHER, 2)
    _curve(draw, hz, levels_db[chosen], top_db, COPPER, 5)
    palette = Image.Quantize.FASTOCTREE
    small = image.reduce(SMOOTH).quantize(N_COLOURS, palette, dither=Image.Dither.NONE)
    stream = io.BytesIO()
    small.save(stream, "PNG", optimize=False)
    return stream.getvalue()


def _x(hz: Floats | float) -> Any:
    share = np.log10(np.asarray(hz) / 20.0) / 3.0
    return SMOOTH * (LEFT + share * (SIZE - LEFT - RIGHT))


def _y(level_db: Floats | float, top_db: float) -> Any:
    share = (top_db - np.asarray(level_db)) / SPAN_DB
    return SMOOTH * (TOP + np.clip(share, 0.0, 1.0) * (SIZE - TOP - BOTTOM))


@cache
def _font(size: int) -> Any:
    from PIL import ImageFont

    return ImageFont.load_default(size * SMOOTH)  # the library's own letters, the same everywhere


def _words(draw: Any, title: str, heading: str, about: str, fonts: Sequence[FontFile]) -> None:
    for text, y, size, colour in ((title, 18, 22, SOFT), (heading, 46, 28, INK), (about, 84, 17, SOFT)):
        room = SMOOTH * (SIZE - 2 * RIGHT - 6)
        while text and _length(draw, _runs(text, size, fonts)) > room:
            text = text[:-2].rstrip(" …") + "…" if len(text) > 2 else ""
        x, top = float(SMOOTH * (RIGHT + 6)), SMOOTH * y
        base = top + _font(size).getmetrics()[0]
        for run, font in _runs(text, size, fonts):
            place, anchor = ((x, top), "la") if font == _font(size) else ((x, base), "ls")
            draw.text(place, run, fill=colour, font=font, anchor=anchor)
            x += draw.textlength(run, font=font)


def _length(draw: Any, runs: Sequence[tuple[str, Any]]) -> float:
    return sum(float(draw.textlength(run, font=font)) for run, font in runs)


def _runs(text: str, size: int, fonts: Sequence[FontFile]) -> list[tuple[str, Any]]:
    """Return pieces of a text, each with a font that has its letters; one font for all if there is one."""
    known = [_own_letters(), *map(letters_of, fonts)]
    every = range(len(known))
    whole = next((k for k in every if letters_in([text]) <= known[k]), None)
    if whole is not None:
        return [(text, _font_at(whole, size, fonts))]
    placed = []
    for sign in text:
        found = next((k for k in every if sign.isspace() or ord(sign) in known[k]), None)
        placed.append((UNKNOWN if found is None else sign, found or 0))
    groups = groupby(placed, key=lambda one: one[1])
    return [("".join(sign for sign, _ in run), _font_at(k, size, fonts)) for k, run in groups]


def _font_at(k: int, size: int, fonts: Sequence[FontFile]) -> Any:
    """Return the own font for 0, one of the others from 1 on."""
    from PIL import ImageFont

    if k == 0:
        return _font(size)
    font = fonts[k - 1]
    return ImageFont.truetype(io.BytesIO(font) if isinstance(font, bytes) else font, size * SMOOTH)


def _grid(draw: Any, hz: Floats, top_db: float) -> None:
    font = _font(14)
    for level in np.arange(top_db - SPAN_DB, top_db + 0.5, STEP_DB):
        y = float(_y(float(level), top_db))
        draw.line([(SMOOTH * LEFT, y), (SMOOTH * (SIZE - RIGHT), y)], fill=LINE, width=SMOOTH)
        text = f"{level:+g}" if level else "0"
        draw.text((SMOOTH * (LEFT - 6), y), text, fill=SOFT, font=font, anchor="rm")
    for mark in LABELS_HZ:
        x = float(_x(float(mark)))
        draw.line([(x, SMOOTH * TOP), (x, SMOOTH * (SIZE - BOTTOM))], fill=LINE, width=SMOOTH)
        text = f"{mark} Hz" if mark < 1000 else f"{mark // 1000} kHz"
        anchor = "rt" if mark == LABELS_HZ[-1] else "mt"
        draw.text((x, SMOOTH * (SIZE - BOTTOM + 10)), text, fill=SOFT, font=font, anchor=anchor)
    draw.text((SMOOTH * (LEFT + 6), SMOOTH * (TOP + 6)), "dB re EMF", fill=SOFT, font=font)


def _curve(draw: Any, hz: Floats, level_db: Floats, top_db: float, colour: str, width: int) -> None:
    seen = level_db > top_db - SPAN_DB
    points = [(float(x), float(y)) for x, y in zip(_x(hz)[seen], _y(level_db, top_db)[seen], strict=True)]
    if len(points) > 1:
        draw.line(points, fill=colour, width=width * SMOOTH, joint="curve")
