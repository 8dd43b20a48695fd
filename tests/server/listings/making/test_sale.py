"""What a listing tells buyers: on the page, in previews of its link, and to programs."""

from __future__ import annotations

import io
import json
import re
from html import unescape
from html.parser import HTMLParser
from pathlib import Path

import pytest
from listing_case import catalogue, listing, run
from PIL import Image

from dsp.errors import InputError
from server.files.pictures import LONGEST_SIDE, picture_for_page
from server.listings.making.plan import plan_listing
from server.listings.making.sale import Price, price_of
from server.takes.load import load_take

ORIENTATION, MADE_BY, GPS = 0x0112, 0x010F, 0x8825  # Exif 2.32, table 4 and 4.6.3
STORY = 'Warm & "slow" <b>low</b>'
MORE = f"""formats: [mp3]
positions: [1]
address: https://shop.example/sounds/
sale:
  - wirings: [baritone_000]
    picture: photo.png
    story: '{STORY}'
    price: 1450 EUR
    link: https://shop.example/baritone?a=1&b=2"""


class Head(HTMLParser):
    """Reads a page's metadata as a previewing program does."""

    def __init__(self, page: Path) -> None:
        super().__init__()
        self.told: dict[str, str] = {}
        self.products: list[dict] = []
        self._is_data = False
        self.feed(page.read_text())

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note a meta element, or that data begins."""
        found = dict(attrs)
        if tag == "meta" and (name := found.get("property") or found.get("name")):
            self.told[name] = found.get("content") or ""
        self._is_data = tag == "script" and found.get("type") == "application/ld+json"

    def handle_data(self, data: str) -> None:
        """Read a product."""
        if self._is_data:
            self.products.append(json.loads(data))
            self._is_data = False


def photo(path: Path, size: tuple[int, int] = (2400, 1200)) -> Path:
    """Write a picture that lies on its side, as phones do, with the place where it was taken."""
    exif = Image.Exif()
    exif[ORIENTATION], exif[MADE_BY] = 6, "somebody"
    exif.get_ifd(GPS)[1] = "N"
    Image.new("RGB", size, "teal").save(path, exif=exif)
    return path


@pytest.fixture(scope="module")
def out(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("sale")
    photo(folder / "photo.png")
    run(catalogue(folder, instruments=2, more=MORE))
    return folder / "out"


def test_buyers_see_picture_story_price_and_shop(out: Path) -> None:
    page = (out / "baritone_000" / "index.html").read_text()
    section = re.search(r'<section class="sale".*?</section>', page, re.DOTALL)
    assert section
    assert 'src="picture.jpg"' in section[0]
    assert "<b>1,450 EUR</b>" in section[0]
    assert STORY in unescape(section[0])
    assert "<b>low</b>" not in section[0]
    (link,) = re.findall(r'href="([^"]+)"', section[0])
    assert unescape(link) == "https://shop.example/baritone?a=1&b=2"
    index = (out / "index.html").read_text()
    assert 'src="baritone_000/picture.jpg"' in index
    assert "1,450 EUR" in index


def test_previews_and_programs_are_told_the_same(out: Path) -> None:
    """Open Graph protocol; schema.org Product and Offer."""
    head = Head(out / "baritone_000" / "index.html")
    base = "https://shop.example/sounds/baritone_000"
    assert head.told["og:image"] == f"{base}/picture.jpg"
    assert head.told["og:url"] == f"{base}/index.html"
    assert head.told["og:description"] == head.told["description"] == STORY
    (product,) = head.products
    assert (product["@context"], product["@type"]) == ("https://schema.org", "Product")
    assert product["description"] == STORY
    assert product["image"] == head.told["og:image"]
    assert product["offers"] == {
        "@type": "Offer", "price": "1450", "priceCurrency": "EUR",
        "url": "https://shop.example/baritone?a=1&b=2",
    }  # fmt: skip


def test_the_code_for_a_page_of_the_shops_own(out: Path) -> None:
    page = (out / "baritone_000" / "embed.html").read_text()
    frame, audio = (unescape(one) for one in re.findall(r"<textarea[^>]*>(.*?)</textarea>", page, re.DOTALL))
    assert 'src="https://shop.example/sounds/baritone_000/index.html#player"' in frame
    (sound,) = re.findall(r'src="https://shop\.example/sounds/([^"]+)"', audio)
    assert (out / sound).suffix == ".mp3"
    assert (out / sound).is_file()


def test_an_instrument_without_words_for_buyers_has_none(out: Path) -> None:
    page = out / "baritone_001" / "index.html"
    head = Head(page)
    assert 'class="sale"' not in page.read_text()
    assert not head.products
    assert head.told["og:description"] == "1 position, 1 take, 1 clip"
    assert head.told["og:image"].startswith("https://shop.example/sounds/baritone_001/")


def test_a_picture_is_upright_smaller_and_tells_no_place(out: Path, tmp_path: Path) -> None:
    for found in (out / "baritone_000" / "picture.jpg", None):
        content = found.read_bytes() if found else picture_for_page(photo(tmp_path / "a.jpg"))
        with Image.open(io.BytesIO(content)) as picture:
            assert picture.size == (LONGEST_SIDE // 2, LONGEST_SIDE)
            assert not picture.getexif()
    assert picture_for_page(photo(tmp_path / "a.jpg")) == content


def test_what_buyers_cannot_be_told_is_told_at_once(tmp_path: Path) -> None:
    path = catalogue(tmp_path, instruments=1)
    (tmp_path / "text.png").write_text("no picture")
    words = "\naddress: shop.example\nsale:\n  - {price: 1450, link: 'ftp://x'}\n  - {picture: gone.png}\n"
    listing(tmp_path, f"formats: [mp3]{words}  - {{picture: text.png, wirings: [twelve]}}\n")
    with pytest.raises(InputError) as error:
        plan_listing(path, load_take)
    found = [str(problem) for problem in error.value.problems]
    expected = ("address: got 'shop.example'", "price: got '1450'", "link: got 'ftp://x'")
    expected += ("gone.png: got No such file", "'twelve': no wiring", "text.png: got no picture")
    assert len(found) == len(expected), found
    for words, problem in zip(expected, found, strict=True):
        assert words in problem


@pytest.mark.parametrize(
    ("text", "price"),
    [("1450 EUR", "1,450 EUR"), ("1450.50USD", "1,450.50 USD"), (" 9 CHF ", "9 CHF"), ("EUR 9", None),
     ("-9 EUR", None), ("9 eur", None), ("1,450 EUR", None)],
)  # fmt: skip
def test_prices(text: str, price: str | None) -> None:
    found = price_of(text)
    assert (None if found is None else str(found)) == price
    assert price_of("1450 EUR") == Price("1450", "EUR")
