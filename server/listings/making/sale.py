"""What a listing tells buyers of an instrument: picture, story, price, where to buy."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import quote, urlsplit

from dsp.errors import InputError, Problem
from server.files.pictures import picture_for_page
from server.listings.making.matching import is_for, unmatched

PRICE = re.compile(r"(\d{1,9}(?:\.\d{1,3})?)\s*([A-Z]{3})")
"""An amount and a currency's code (ISO 4217)."""
PRICE_ALLOWED = "an amount and a currency's three letters, such as 1450 EUR"
LINK_ALLOWED = "a whole address, such as https://shop.example/baritone"
PICTURE_NAME = "picture.jpg"


@dataclass(frozen=True)
class Price:
    """An amount, as written, and its currency's code."""

    amount: str
    currency: str

    def __str__(self) -> str:
        whole, point, part = self.amount.partition(".")
        return f"{int(whole):,}{point}{part} {self.currency}"


@dataclass(frozen=True)
class Sale:
    """Picture, story, price and link of some instruments.

    Attributes
    ----------
    wirings : tuple of str
        Patterns of file names; empty for all.
    picture : str
        From the listing file's folder; empty for none.
    """

    wirings: tuple[str, ...] = ()
    picture: str = ""
    story: str = ""
    price: Price | None = None
    link: str = ""
    line: int = 0


def price_of(text: str) -> Price | None:
    """Return the price that a text says, or None."""
    found = PRICE.fullmatch(text.strip())
    return Price(found[1], found[2]) if found else None


def is_address(text: str) -> bool:
    """Whether a text is a whole address of the web."""
    try:
        parts = urlsplit(text)
    except ValueError:
        return False
    return parts.scheme in ("http", "https") and bool(parts.hostname) and not re.search(r"\s", text)


def sale_of(sales: Sequence[Sale], file: str) -> Sale | None:
    """Return the first sale that is for a wiring."""
    return next((sale for sale in sales if is_for(sale.wirings, file)), None)


def sale_problems(sales: Sequence[Sale], where: str, files: Sequence[Path]) -> Iterator[Problem]:
    """Yield a problem for each picture not shown and each idle pattern."""
    for sale in sales:
        place = f"{where}:{sale.line}: sale"
        if files:
            yield from unmatched(sale.wirings, files, f"{place}: wirings")
        if sale.picture:
            try:
                picture_for_page(Path(where).parent / sale.picture)
            except InputError as error:
                yield from (Problem(f"{place}: picture: {p.where}", p.got, p.allowed) for p in error.problems)


def product(name: str, sale: Sale, page: str, image: str) -> dict[str, Any]:
    """Return an instrument as a Product of the open vocabulary schema.org.

    Parameters
    ----------
    page, image : str
        Addresses of its page and its picture; empty where the listing's own is not known.
    """
    found: dict[str, Any] = {"@context": "https://schema.org", "@type": "Product", "name": name}
    known = {"description": sale.story, "image": image, "url": page}
    found |= {key: value for key, value in known.items() if value}
    if sale.price is not None:
        offer = {"@type": "Offer", "price": sale.price.amount, "priceCurrency": sale.price.currency}
        found["offers"] = offer | ({"url": sale.link} if sale.link else {})
    return found


def address_of(base: str, path: str) -> str:
    """Return the address of a file of the listing, or nothing without its own."""
    return f"{base.rstrip('/')}/{quote(path, errors='surrogateescape')}" if base else ""
