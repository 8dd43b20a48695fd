"""The receipt of a sign-off: its record as a page to read and to print."""

from __future__ import annotations

import base64
import calendar
import datetime
import hashlib
import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from html import escape
from typing import Any

from dsp.chain.ways import WAYS
from server.database.store import Store
from server.files.packaged import web_text
from server.proposals.signoffs import record_of
from server.proposals.store import by_token, takes_of

CAME = {"link": "on the page that the workshop's link opens", "answer": "in an answer to a file"}
"""By which way a signature came."""
CHAIN_ALIKE = "One chain stands for all amplifiers, the same for every sound."
RECORD = "record"
"""Where the page finds the record, beside itself."""


@dataclass(frozen=True)
class Receipt:
    """What a receipt shows.

    Attributes
    ----------
    record : dict
        As signed; see `signoffs`.
    sha256 : str
        Its fingerprint.
    takes : dict
        The names of the takes by id.
    picture : str
        Address of the drawing; empty if none was shown.
    """

    record: dict[str, Any]
    sha256: str
    takes: dict[str, str]
    picture: str


def receipt_of(store: Store, token: str) -> Receipt | None:
    """Return the receipt of a link's proposal; None if nothing was signed.

    Raises
    ------
    Unknown, Gone
        As `store.by_token`.
    """
    found = record_of(store, token)
    if found is None:
        return None
    record = json.loads(found[0])
    with store.read() as db:
        takes = {row["take_id"]: row["name"] for row in takes_of(db, by_token(db, token)["id"])}
    shown = record.get("pictures", {}).get(str(_signed_sounds(record)[0]["number"]))
    return Receipt(record, found[1], takes, f"clips/{shown}.svg" if shown else "")


def policy() -> str:
    """Return what the page may load: style, script, drawing (CSP Level 3)."""
    script = base64.b64encode(hashlib.sha256(web_text("receipt/print.js").encode()).digest()).decode()
    return f"default-src 'none'; style-src 'unsafe-inline'; img-src 'self'; script-src 'sha256-{script}'"


def receipt_page(receipt: Receipt) -> str:
    """Return a receipt as HTML, complete but for the drawing."""
    record = receipt.record
    return "\n".join(
        [
            "<!doctype html>",
            '<html lang="en">',
            '<meta charset="utf-8">',
            '<meta name="viewport" content="width=device-width, initial-scale=1">',
            '<meta name="robots" content="noindex, nofollow">',
            f"<title>Receipt: {escape(record['title'])}</title>",
            f"<style>{web_text('css/tokens.css')}{web_text('receipt/receipt.css')}</style>",
            "<main>",
            f"<header><h1>{escape(record['title'])}</h1><p>Receipt of a sign-off</p></header>",
            *_signed(record),
            *_chosen(receipt),
            *_sounds(receipt),
            *_proof(receipt),
            '<p class="ways"><button type="button">Print</button>'
            f' <a href="{RECORD}" download="sign-off.json">Save the record (JSON)</a></p>',
            "</main>",
            f"<script>{web_text('receipt/print.js')}</script>",
            "</html>",
            "",
        ]
    )


def _signed_sounds(record: Mapping[str, Any]) -> list[dict[str, Any]]:
    """The sounds signed for: all of a wiring's, or the one chosen."""
    chosen = record["chosen"]
    numbers = chosen.get("sounds", [chosen["number"]])
    return [one for one in record["offered"] if one["number"] in numbers]


def _signed(record: Mapping[str, Any]) -> Iterator[str]:
    yield f"<blockquote>{escape(record['statement'])}</blockquote>"
    rows = [
        ("Signed by", record["name"]),
        ("Date", _day(record["date"])),
        ("Recorded", f"{_moment(record['signed'])}, {CAME.get(record.get('via', 'link'), 'another way')}"),
    ]
    yield _facts(rows)


def _facts(rows: list[tuple[str, str]]) -> str:
    terms = "".join(f"<dt>{escape(term)}</dt><dd>{escape(text)}</dd>" for term, text in rows if text)
    return f"<dl>{terms}</dl>"


def _chosen(receipt: Receipt) -> Iterator[str]:
    chosen = receipt.record["chosen"]
    name = chosen.get("name") or f"{chosen['number']} {chosen['label']}"
    yield f"<h2>What was chosen: {escape(name)}</h2>"
    rows = [
        ("Wiring", f"{chosen['wiring']}, version {chosen['version_number']}"),
        ("Price", chosen.get("price", "")),
        ("Ready", chosen.get("when_ready", "")),
        ("To be bought", _parts(chosen.get("bought", []))),
        ("Kept", _parts(chosen.get("kept", []))),
    ]
    yield _facts(rows)
    if receipt.picture:
        yield f'<img src="{receipt.picture}" alt="The drawing of the wiring, as it was shown">'


def _parts(parts: list[dict[str, Any]]) -> str:
    return "; ".join(f"{one['count']} × {one['text']} ({', '.join(one['names'])})" for one in parts)


def _sounds(receipt: Receipt) -> Iterator[str]:
    heard = receipt.record.get("heard")
    heads = ("Sound", "How it sounds", "How it is set", *(("How it was heard",) if heard else ()))
    yield "<h2>Its sounds, as heard</h2><table><thead><tr>"
    yield from (f'<th scope="col">{head}</th>' for head in heads)
    yield "</tr></thead><tbody>"
    for one in _signed_sounds(receipt.record):
        name = f'<th scope="row">{one["number"]} {escape(one["label"])}</th>'
        cells = [", ".join(one["words"]), _setting(one)]
        cells += [", ".join(heard[str(one["number"])]) or "not played on this page"] if heard else []
        yield f"<tr>{name}{''.join(f'<td>{escape(cell)}</td>' for cell in cells)}</tr>"
    yield "</tbody></table>"
    if heard:
        told = "; ".join(f"{way}: {WAYS[way].about}" for way in receipt.record["ways"])
        yield f"<p>The sounds could be heard {escape(told)}. {escape(CHAIN_ALIKE)}</p>"
    taken = dict.fromkeys(receipt.takes.get(one["take"], one["take"]) for one in receipt.record["clips"])
    yield f"<p>Played on: {escape(', '.join(taken))}.</p>"
    signed = {one["number"] for one in _signed_sounds(receipt.record)}
    others = [f"{one['number']} {one['label']}" for one in receipt.record["offered"]]
    rest = [text for one, text in zip(receipt.record["offered"], others, strict=True)
            if one["number"] not in signed]  # fmt: skip
    if rest:
        yield f"<p>Offered too, and not chosen: {escape('; '.join(rest))}.</p>"


def _setting(sound: Mapping[str, Any]) -> str:
    knobs = [f"{_plain(name)} {value:g}" for name, value in sound["knobs"].items()]
    switches = [f"{_plain(name)} {value}" for name, value in sound["switches"].items()]
    return ", ".join([f"position {sound['position']}", *knobs, *switches])


def _plain(name: str) -> str:
    return name.replace("_", " ")


def _proof(receipt: Receipt) -> Iterator[str]:
    groups = " ".join(receipt.sha256[k : k + 8] for k in range(0, len(receipt.sha256), 8))
    yield (
        "<h2>How it is proved</h2>"
        "<p>The workshop keeps a record of this that holds the wiring, the sounds and the drawing by their"
        " content. Its fingerprint (SHA-256) would be another if a single letter had been changed since:</p>"
        f'<p class="print">{groups}</p>'
        "<p>Keep this page or note the fingerprint. The name was typed: it does not prove who signed.</p>"
    )


def _day(date: str) -> str:
    """A day in words, such as 3 March 2026."""
    day = datetime.date.fromisoformat(date)
    return f"{day.day} {calendar.month_name[day.month]} {day.year}"


def _moment(when: str) -> str:
    moment = datetime.datetime.fromisoformat(when.replace("Z", "+00:00")).astimezone(datetime.UTC)
    return f"{_day(moment.date().isoformat())}, {moment:%H:%M} UTC"
