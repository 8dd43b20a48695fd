"""Pictures that people bring: made fit for a page, without what a camera writes beside them."""

from __future__ import annotations

import io
from pathlib import Path

from dsp.errors import InputError

LONGEST_SIDE = 1600
"""Pixels; a phone's photograph has three times as many and takes ten times as long to load."""
QUALITY = 85
ALLOWED = "a picture: JPEG, PNG or WebP"


SMALL_SIDE = 240
"""Pixels of a picture that stands beside a name; some 12 kB."""
MOST_PIXELS = 64_000_000
"""More than a phone's camera writes as a rule; a small file can claim any size."""


def picture_for_page(picture: Path | bytes, side: int = LONGEST_SIDE) -> bytes:
    """Return a picture as a JPEG, upright and not too large.

    Place, time and camera stay behind, which many photographs hold.

    Parameters
    ----------
    picture : Path or bytes
        A file, or its content.
    side : int
        Pixels of its longer side at most.

    Raises
    ------
    InputError
        If the file is not there, holds no picture, or one of more than 64 million pixels.
    """
    from PIL import Image, ImageOps, UnidentifiedImageError

    named = "picture" if isinstance(picture, bytes) else str(picture)
    opening = io.BytesIO(picture) if isinstance(picture, bytes) else picture
    try:
        with Image.open(opening, formats=("JPEG", "PNG", "WEBP")) as opened:
            if opened.width * opened.height > MOST_PIXELS:
                got = f"{opened.width} by {opened.height} pixels"
                raise InputError(named, got, f"up to {MOST_PIXELS // 1_000_000} million pixels")
            upright = ImageOps.exif_transpose(opened).convert("RGBA")
    except UnidentifiedImageError as error:
        raise InputError(named, "no picture", ALLOWED) from error
    except InputError:
        raise
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError) as error:
        got = getattr(error, "strerror", None) or "a damaged picture"
        raise InputError(named, got, ALLOWED) from error
    upright.thumbnail((side, side))
    plain = Image.new("RGB", upright.size, "white")
    plain.paste(upright, mask=upright)
    written = io.BytesIO()
    plain.save(written, "JPEG", quality=QUALITY)
    return written.getvalue()
