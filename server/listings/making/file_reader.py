"""Read a listing file, format 1, and report all its problems together, each with its line."""

from __future__ import annotations

import string
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

from dsp.chain.ways import DIRECT, WAYS
from dsp.documents.field import Field
from dsp.documents.tree import Entries, Items, Node, Reading, Text
from dsp.documents.values import read_choice, read_quantity, require_fields
from dsp.errors import InputError, Problem, nearest
from dsp.sound.hum import Hum, read_hum
from dsp.sound.movement import Flip, Sweep
from server.files.audio_formats import Encoding
from server.listings.making import file_fields as fields
from server.listings.making.listing import ALL_OPEN, ClipGroup, Listing, ListingFile, Named
from server.listings.making.sale import LINK_ALLOWED, PRICE_ALLOWED, Price, Sale, is_address, price_of

LOSSLESS_DEPTH = "24"
"""Depth of WAV and FLAC unless written: a listing is for players, which clip volts above 1."""


def read_listing(tree: Node, file: str) -> ListingFile:
    """Read a listing from its file's tree.

    Raises
    ------
    InputError
        With every problem of the file.
    """
    found, problems = read_listing_in_part(tree, file)
    if problems:
        raise InputError.of(problems)
    return found


def read_listing_in_part(tree: Node, file: str) -> tuple[ListingFile, list[Problem]]:
    """Read what can be read of a listing; return every problem of its text.

    Only without a problem is the listing whole.
    """
    reading = Reading(file)
    values = _top(reading, tree)
    groups = _groups(reading, values)
    listing = Listing(
        values.get("name", ""),
        groups,
        values.get("formats") or (Encoding("flac", LOSSLESS_DEPTH), Encoding("mp3")),
        values.get("loudness"),
        values.get("names", fields.NAMES),
        int(values.get("rate", "48000")),
        file,
        values.get("sale", ()),
        values.get("address", ""),
        values.get("artist", ""),
        WAYS[values.get("through", DIRECT.name)],
        _limited(reading, tree, values),
        values.get("hum"),
    )
    cabinet = _amplified(reading, values, listing)
    whole = ListingFile(
        listing, values.get("wirings", ()), values.get("takes", ()), values.get("out", ""), cabinet
    )
    return whole, list(dict.fromkeys(reading.problems))  # each once, in order


def _top(reading: Reading, tree: Node) -> dict[str, Any]:
    if not isinstance(tree, Entries):
        reading.refuse(tree, "the file", "a map that starts with format: 1")
        return {}
    version = tree.get("format")
    if version is None or reading.text(version, "format") not in ("1", None):
        reading.refuse(version or tree, "format", "1", got="no format" if version is None else "")
    rest = Entries(tuple(entry for entry in tree.entries if entry[0].text != "format"), tree.line)
    values = _map(reading, fields.TOP_FIELDS, rest, "listing")
    _check_rates(reading, tree, values)
    return values


def _map(reading: Reading, table: tuple[Field, ...], node: Node, what: str) -> dict[str, Any]:
    """Read the fields of a map by their table; an unknown field is a problem."""
    known = {field.name: field for field in table}
    values: dict[str, Any] = {}
    for key, value in reading.entries(node, what):
        field = known.get(key.text)
        if field is None:
            reading.refuse(key, what, ", ".join(known), hint=reading.guess(key.text, known))
            continue
        read = _READERS[field.form](reading, field, value, f"{what}: {field.name}")
        values[field.name] = read
    if isinstance(node, Entries):
        require_fields(reading, table, values, node, what)
    return {name: value for name, value in values.items() if value is not None}


def _text(reading: Reading, field: Field, node: Node, what: str) -> str | None:
    text = reading.text(node, what)
    if text is not None and not text.strip():
        reading.refuse(node, what, field.about, got="nothing")
        return None
    return text


def _names(reading: Reading, field: Field, node: Node, what: str) -> tuple[Named, ...]:
    """Read one name, or a list of names."""
    items = (node,) if isinstance(node, Text) else reading.items(node, what)
    if isinstance(node, Items) and not items:
        reading.refuse(node, what, "at least one", got="none")
    texts = [(_text(reading, field, item, what), item.line) for item in items]
    return tuple(Named(text, line) for text, line in texts if text is not None)


def _positions(reading: Reading, field: Field, node: Node, what: str) -> tuple[str, ...]:
    if isinstance(node, Text) and node.text.strip().lower() == "all":
        return ()
    return tuple(named.text for named in _names(reading, field, node, what))


def _loudness(reading: Reading, field: Field, node: Node, what: str) -> float | None:
    text = reading.text(node, what)
    if text is None or text.strip().lower().replace("-", " ") == fields.AS_WIRED:
        return None
    low, high = fields.LOUDNESS_LUFS
    try:
        value = float(text.strip().upper().removesuffix("LUFS"))
    except ValueError:
        value = high + 1.0
    if not low <= value <= high:
        reading.refuse(node, what, f"{fields.AS_WIRED}, or {low:g} to {high:g} LUFS")
    return value


def _limited(reading: Reading, tree: Node, values: dict[str, Any]) -> bool:
    """Return whether a limiter makes room, which needs a loudness."""
    limited = values.get("limit") == fields.YES
    if limited and values.get("loudness") is None:
        reading.refuse(tree, "listing: limit", "a loudness in LUFS beside it", got=f"'{fields.YES}'")
    return limited


def _amplified(reading: Reading, values: dict[str, Any], listing: Listing) -> Named | None:
    """Return the cabinet, which needs a way that has a loudspeaker."""
    cabinet: Named | None = values.get("cabinet")
    if cabinet and not listing.way.amplified:
        allowed = " or ".join(one.name for one in WAYS.values() if one.amplified)
        where = Text(cabinet.text, cabinet.line)
        reading.refuse(where, "listing: cabinet", f"through: {allowed}", got=f"through: {listing.way.name}")
    return cabinet


def _sound_file(reading: Reading, field: Field, node: Node, what: str) -> Named | None:
    text = _text(reading, field, node, what)
    return None if text is None else Named(text, node.line)


def _hum(reading: Reading, field: Field, node: Node, what: str) -> Hum | None:
    text = _text(reading, field, node, what)
    if text is None or text == field.default:
        return None
    try:
        return read_hum(text)
    except InputError as error:
        reading.refuse(node, what, f"{field.default}, or {error.problems[0].allowed}")
        return None


def _pattern(reading: Reading, field: Field, node: Node, what: str) -> str | None:
    text = _text(reading, field, node, what)
    if text is None:
        return None
    for problem in pattern_problems(text):
        reading.refuse(node, what, problem.allowed, got=problem.got, hint=problem.hint)
    return text


def pattern_problems(text: str) -> list[Problem]:
    """Return the problems of a pattern of names."""
    try:
        parts = list(string.Formatter().parse(text))
    except ValueError:
        return [Problem("names", text, "braces in pairs", f"such as {fields.NAMES}")]
    known = ", ".join(f"{{{one}}}" for one in fields.PLACEHOLDERS)
    return [
        Problem("names", f"{{{name}}}", known, nearest(name, fields.PLACEHOLDERS))
        for _, name, form, conversion in parts
        if name is not None and (name not in fields.PLACEHOLDERS or form or conversion)
    ]


def _formats(reading: Reading, field: Field, node: Node, what: str) -> tuple[Encoding, ...]:
    items = (node,) if isinstance(node, Text) else reading.items(node, what)
    if isinstance(node, Items) and not items:
        reading.refuse(node, what, "at least one", got="none")
    found: dict[str, Encoding] = {}
    for item in items:
        if not isinstance(item, Entries):
            item = Entries(((Text("format", item.line), item),), item.line)
        encoding = _encoding(reading, item, what)
        if encoding is not None and encoding.format in found:
            reading.refuse(item, what, "each format once", got=f"{encoding.format} again")
        elif encoding is not None:
            found[encoding.format] = encoding
    return tuple(found.values())


def _encoding(reading: Reading, node: Entries, what: str) -> Encoding | None:
    values = _map(reading, fields.FORMAT_FIELDS, node, what)
    name = values.get("format")
    if name is None:
        return None
    depth = values.get("depth", "" if Encoding(name).lossy else LOSSLESS_DEPTH)
    try:
        return Encoding(name, depth, values.get("quality", Encoding.quality))
    except InputError as error:
        for problem in error.problems:
            reading.refuse(node, f"{what}: {problem.where}", problem.allowed, got=problem.got)
        return None


def _check_rates(reading: Reading, tree: Entries, values: dict[str, Any]) -> None:
    """Report a rate that one of the formats cannot hold."""
    for encoding in values.get("formats") or ():
        try:
            encoding.check_rate(int(values.get("rate", "48000")))
        except InputError as error:
            problem = error.problems[0]
            reading.refuse(
                tree.get("rate") or tree, "listing: rate", problem.allowed, got=problem.got, hint=problem.hint
            )


def _settings(reading: Reading, field: Field, node: Node, what: str) -> dict[str, str]:
    """Read knobs and switches as written; each wiring says which is which."""
    read = {
        key.text: reading.text(value, f"{what}: {key.text}") for key, value in reading.entries(node, what)
    }
    return {name: text.strip() for name, text in read.items() if text is not None}


def _sweeps(reading: Reading, field: Field, node: Node, what: str) -> tuple[Sweep, ...]:
    read = [_map(reading, fields.SWEEP_FIELDS, item, what) for item in reading.items(node, what)]
    whole = [one for one in read if {"knob", "from", "to"} <= set(one)]
    return tuple(Sweep(o["knob"], o["from"], o["to"], o.get("start"), o.get("end")) for o in whole)


def _flips(reading: Reading, field: Field, node: Node, what: str) -> tuple[Flip, ...]:
    read = [_map(reading, fields.FLIP_FIELDS, item, what) for item in reading.items(node, what)]
    return tuple(Flip(one["at"], one["to"], one.get("switch")) for one in read if {"at", "to"} <= set(one))


def _price(reading: Reading, field: Field, node: Node, what: str) -> Price | None:
    text = reading.text(node, what)
    price = None if text is None else price_of(text)
    if text is not None and price is None:
        reading.refuse(node, what, PRICE_ALLOWED)
    return price


def _link(reading: Reading, field: Field, node: Node, what: str) -> str | None:
    text = reading.text(node, what)
    if text is not None and not is_address(text):
        reading.refuse(node, what, LINK_ALLOWED)
        return None
    return text


def _sales(reading: Reading, field: Field, node: Node, what: str) -> tuple[Sale, ...]:
    found = []
    for item in reading.items(node, what):
        values = _map(reading, fields.SALE_FIELDS, item, what)
        wirings = tuple(named.text for named in values.pop("wirings", ()))
        found.append(Sale(wirings, **values, line=item.line))
    return tuple(found)


def read_sale(values: Mapping[str, str], name: str) -> Sale:
    """Read what an order's form says to buyers of one instrument.

    Parameters
    ----------
    values : mapping of str to str
        By the fields of `FOR_BUYERS`; an empty text says nothing.
    name : str
        Of the instrument, for errors.

    Raises
    ------
    InputError
        With every problem.
    """
    given = tuple((Text(key, 0), Text(text, 0)) for key, text in values.items() if text.strip())
    reading = Reading(name)
    found = _map(reading, fields.FOR_BUYERS, Entries(given, 0), "sale")
    if reading.problems:
        line = f"{name}:0: sale"  # a form has no lines
        raise InputError.of(replace(p, where=name + p.where.removeprefix(line)) for p in reading.problems)
    return Sale(**found)


def _clips(reading: Reading, field: Field, node: Node, what: str) -> list[tuple[Node, dict[str, Any]]]:
    items = reading.items(node, what)
    if isinstance(node, Items) and not items:
        reading.refuse(node, what, "at least one group", got="none")
    return [(item, _map(reading, fields.CLIPS_FIELDS, item, what)) for item in items]


def _groups(reading: Reading, values: dict[str, Any]) -> tuple[ClipGroup, ...]:
    positions = values.get("positions", ())
    read = values.get("clips")
    if read is None:
        return (ClipGroup(ALL_OPEN, "Every knob at 10", positions),)
    known = {named.text for named in values.get("takes", ())}
    found: dict[str, ClipGroup] = {}
    for node, one in read:
        name = one.get("name", "")
        if name.casefold() in found:
            reading.refuse(node, "clips: name", "each name once", got=f"'{name}' again")
        for take in one.get("takes", ()):
            if take.text not in known:
                where, hint = Text(take.text, take.line), reading.guess(take.text, known)
                reading.refuse(where, "clips: takes", ", ".join(sorted(known)), hint=hint)
        found[name.casefold()] = ClipGroup(
            name,
            one.get("label", name),
            one.get("positions", positions) or (),
            tuple(take.text for take in one.get("takes", ())),
            tuple(wiring.text for wiring in one.get("wirings", ())),
            one.get("set", {}),
            one.get("sweeps", ()),
            one.get("flips", ()),
            node.line,
        )
    return tuple(found.values())


_READERS: dict[str, Callable[[Reading, Field, Node, str], Any]] = {
    "text": _text,
    "picture": _text,
    "paragraph": _text,
    "names": _names,
    "positions": _positions,
    "loudness": _loudness,
    "pattern": _pattern,
    "formats": _formats,
    "clips": _clips,
    "sales": _sales,
    "price": _price,
    "link": _link,
    "sound file": _sound_file,
    "hum": _hum,
    "stands": _settings,
    "sweeps": _sweeps,
    "flips": _flips,
    "choice": read_choice,
    "quantity": read_quantity,
}
"""The reader of each form of field."""
