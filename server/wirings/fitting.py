"""Fit a starter to an instrument: its scale, its strings, coils from the library."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from dsp.documents.tree import Entries, Node, Text
from dsp.errors import InputError, nearest
from dsp.parts.library.index import LIBRARY, Entry, fields_left_out
from dsp.parts.library.string_sets import string_set
from server.files.yaml_text import parse_tree
from server.wirings.text import WiringText, written


@dataclass(frozen=True)
class StarterFit:
    """What a commission changes of its starter.

    Attributes
    ----------
    scale : str or None
        Nut to bridge, as one writes it: ``686 mm``.
    strings : str or None
        Name of a string set.
    coils : mapping of str to str
        Library name by the coil's name.
    """

    scale: str | None = None
    strings: str | None = None
    coils: Mapping[str, str] = field(default_factory=dict)


def fit_starter(text: str, fit: StarterFit, name: str) -> str:
    """Return the text with the instrument and the coils put in, comments kept.

    Parameters
    ----------
    text : str
        Of a wiring without problems.
    name : str
        What errors call the text.

    Raises
    ------
    InputError
        If a coil, a library part or a set is unknown, or the result is not a wiring.
    """
    coils = dict(_coils(text, name))
    wiring = WiringText(text, name)
    if fit.strings is not None:
        strings = string_set(fit.strings, "instrument.set").written()
        wiring.put_list(("instrument", "strings"), strings)
    if fit.scale is not None:
        wiring.set(("instrument", "scale"), fit.scale)
    for coil, wanted in fit.coils.items():
        if coil not in coils:
            raise InputError("coils", f"'{coil}'", ", ".join(coils), nearest(coil, coils))
        _fit_coil(wiring, coil, coils[coil], _library_coil(wanted, f"coils.{coil}"))
    _fit_couplings(wiring, fit.coils)
    wiring.wiring()
    return wiring.dump()


def coil_names(text: str, name: str) -> dict[str, str]:
    """Return the library part of each coil, empty if it has its own values."""
    likes = ((coil, entries.get("like")) for coil, entries in _coils(text, name))
    return {coil: like.text if isinstance(like, Text) else "" for coil, like in likes}


def scale_of(text: str, name: str) -> str:
    """Return the scale length as written; empty if there is none."""
    scale = _inside(_inside(parse_tree(text, name), "instrument"), "scale")
    return scale.text if isinstance(scale, Text) else ""


def _coils(text: str, name: str) -> Iterator[tuple[str, Entries]]:
    parts = _inside(parse_tree(text, name), "parts")
    for key, node in parts.entries if isinstance(parts, Entries) else ():
        kind = _inside(node, "kind")
        if isinstance(node, Entries) and isinstance(kind, Text) and kind.text == "coil":
            yield key.text, node


def _inside(node: Node | None, name: str) -> Node | None:
    return node.get(name) if isinstance(node, Entries) else None


def _library_coil(name: str, where: str) -> Entry:
    known = [entry.name for entry in LIBRARY.values() if entry.kind == "coil"]
    if name not in known:
        raise InputError(where, f"'{name}'", ", ".join(known), nearest(name, known))
    return LIBRARY[name]


def _fit_couplings(wiring: WiringText, wanted: Mapping[str, str]) -> None:
    """Give both coils of a library's unit the coupling that the library offers for it.

    Coils that do not form one unit keep the starter's coupling.
    """
    for i, pair in enumerate(wiring.wiring().couplings):
        first, second = (LIBRARY.get(wanted.get(coil, "")) for coil in (pair.first, pair.second))
        if first and second and first.pair == second.name:
            wiring.set(("couplings", str(i), "coefficient"), f"{first.coupling:g}")


def _fit_coil(wiring: WiringText, coil: str, stands: Entries, entry: Entry) -> None:
    """Replace the library name if only that is written; else write value by value."""
    stale = [one for one in fields_left_out(entry) if stands.get(one)]
    if stale:
        wiring.change([(("parts", coil, one), None) for one in stale])
    if stands.get("like"):
        wiring.set(("parts", coil, "like"), entry.name)
        if not any(stands.get(one) for one in entry.fields):
            return
    for one, value in entry.fields.items():
        wiring.set(("parts", coil, one), written(value))
