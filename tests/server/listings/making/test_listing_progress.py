"""Parts of a listing on their own: progress in numbers, covers, names of files."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image

from server.commands.listing import EventPrinter
from server.documents.cover import SIZE, cover
from server.files.names import file_stem
from server.listings.making.jobs import sound_script
from server.listings.making.page import address, in_script
from server.listings.making.report import Tally, clock

HZ = np.geomspace(20.0, 20_000.0, 61)


def test_rates_are_of_clips_made_in_this_run() -> None:
    tally = Tally(total_s=80.0, n_formats=2, started_s=100.0)
    assert tally.rate(105.0) is None
    assert tally.remaining_s(105.0) is None
    tally.add("a", 20.0, made=False)
    assert tally.share == 0.25
    assert tally.rate(105.0) is None
    tally.add("a", 20.0, made=True)
    assert tally.rate(105.0) == pytest.approx(20.0 / 2 / 5.0)
    assert tally.remaining_s(105.0) == pytest.approx(40.0 / 2 / 2.0)
    tally.give_up(20.0)
    assert tally.share == pytest.approx(40.0 / 60.0)
    assert tally.files == {"a": 2}
    assert Tally(0.0, 1, 0.0).share == 1.0


@pytest.mark.parametrize(
    ("seconds", "words"), [(0.2, "0 s"), (59.6, "1 min 00 s"), (200, "3 min 20 s"), (7500, "2 h 05 min")]
)
def test_times_as_people_read_them(seconds: float, words: str) -> None:
    assert clock(seconds) == words


def test_one_is_no_plural(capsys: pytest.CaptureFixture[str]) -> None:
    EventPrinter()({"event": "start", "instruments": 1, "clips": 2, "seconds": 30.0, "out": "site"})
    assert capsys.readouterr().err == "1 instrument, 2 clips, 0.5 min of sound into site\n"


@pytest.mark.parametrize("name", ["con", "CON", "nul.yaml", "LPT1", "com0"])
def test_names_of_devices_are_not_used(name: str) -> None:
    assert file_stem([name]) == f"{name}_"
    assert file_stem([name, "a"]).startswith(f"{name}-") or "." in name


def picture(chosen: int = 0, title: str = "A") -> bytes:
    levels = [np.zeros_like(HZ), np.linspace(0.0, -30.0, len(HZ)), np.linspace(-3.0, 9.0, len(HZ))]
    return cover(title, "1  Neck", "volume=10", HZ, levels, chosen)


def test_a_cover_is_a_square_png_the_same_each_time() -> None:
    image = Image.open(io.BytesIO(picture()))
    assert (image.format, image.size) == ("PNG", (SIZE, SIZE))
    assert picture() == picture()
    assert picture() != picture(chosen=1)
    assert len(picture()) < 40_000


def test_the_chosen_curve_is_in_front_in_copper() -> None:
    """A level curve at 0 dB: its row is copper over the whole width if chosen, grey if not."""
    share = {}
    for chosen in (0, 1):
        pixels = np.asarray(Image.open(io.BytesIO(picture(chosen))).convert("RGB")).astype(int)
        copper = (pixels[..., 0] - pixels[..., 2] > 80).sum(axis=1)
        share[chosen] = copper.max() / SIZE
    assert share[0] > 0.85
    assert share[1] < 0.5


@pytest.mark.parametrize("title", ["", "x" * 500, "漢字 🎸", "<b>&"])
def test_covers_take_any_title(title: str) -> None:
    assert Image.open(io.BytesIO(picture(title=title))).size == (SIZE, SIZE)


def test_silence_has_a_cover() -> None:
    assert cover("A", "1", "", HZ, [np.full_like(HZ, -120.0)], 0)


def test_nothing_leads_out_of_a_script() -> None:
    text = in_script({"a": "</script><!--&\u2028", "b": ["\udcff"]})
    assert not set(text) & set("<>&\u2028")
    assert "?" in text
    with pytest.raises(AssertionError):
        sound_script('");alert(1)', b"x")


def test_addresses_are_quoted() -> None:
    assert address("a b/100%#?\"'.mp3") == "a%20b/100%25%23%3F%22%27.mp3"
