"""Letters beyond Latin on covers: drawn by a font that has them, and said where none has."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from listing_case import catalogue, run_noting
from PIL import ImageFont

from server.documents.cover import cover, letters_beyond
from server.files import fonts
from server.listings.making import instrument

HZ = np.geomspace(20.0, 20_000.0, 31)
LEVELS = [np.zeros(31)]
TEXTS = {
    "German": "Äöß",
    "Greek": "Βαρύτονος",
    "Cyrillic": "Баритон",
    "Japanese": "バリトンギター",
    "Chinese": "中音吉他",
}
NOBODYS = "\U0010fffd"
"""A private code point: no font gives it a shape."""


def drawn(title: str, found: tuple[Path, ...] = ()) -> bytes:
    return cover(title, "1", "volume 10", HZ, LEVELS, 0, found)


def shape(font: Any, sign: str) -> tuple[Any, bytes]:
    mask = font.getmask(sign)
    return mask.size, bytes(mask)


@pytest.mark.parametrize("text", TEXTS.values(), ids=TEXTS)
def test_every_letter_has_a_shape_of_its_own(text: str) -> None:
    """No letter looks like the box that the same font shows for one it lacks."""
    assert letters_beyond([text])
    found = fonts.find_fonts(letters_beyond([text]))
    if letters_beyond([text], found):
        if os.environ.get("CI") == "true":
            pytest.fail("no font for these letters")
        pytest.skip("no font for these letters")
    (only,) = found
    font: Any = ImageFont.truetype(only, 40)
    shapes = {sign: shape(font, sign) for sign in text}
    assert shape(font, NOBODYS) not in shapes.values()
    assert len(set(shapes.values())) == len(shapes)
    assert drawn(text, found) != drawn("?" * len(text), found)


def test_plain_text_needs_no_font_of_the_machine() -> None:
    assert not letters_beyond(["Baritone, 2 coils & more …"])
    assert fonts.find_fonts(frozenset()) == ()


def test_a_letter_that_no_font_has_is_a_question_mark() -> None:
    assert drawn(f"A{NOBODYS}B") == drawn("A?B")


def test_one_font_for_all_is_preferred_to_several(monkeypatch: pytest.MonkeyPatch) -> None:
    has = {Path("a"): {1, 2}, Path("b"): {2, 3}, Path("c"): {1, 2, 3}}
    monkeypatch.setattr(fonts, "_fonts", lambda: tuple(has))
    monkeypatch.setattr(fonts, "letters_of", lambda font: frozenset(has[font]))
    assert fonts.find_fonts(frozenset({1, 2, 3})) == (Path("c"),)
    del has[Path("c")]
    assert fonts.find_fonts(frozenset({1, 2, 3, 4})) == (Path("a"), Path("b"))


def test_a_listing_says_which_letters_its_covers_lack(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(instrument, "find_fonts", lambda _: ())
    path = catalogue(tmp_path, instruments=1, more="formats: [mp3]\npositions: [1]")
    wiring = tmp_path / "wirings" / "baritone_000.yaml"
    wiring.write_text(wiring.read_text("utf-8").replace("name: Baritone", "name: Баритон"), "utf-8")
    _, events = run_noting(path)
    (warning,) = next(one for one in events if one["event"] == "instrument")["warnings"]
    assert warning.startswith("covers: no font here has Б а и н о р т;")
