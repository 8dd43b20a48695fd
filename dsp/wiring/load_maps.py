"""The halves of a load that a wiring file leaves unwritten, as the reader takes them."""

from __future__ import annotations

from collections.abc import Mapping

from dsp.documents.tree import Entries, Node, Text
from dsp.parts.library.index import LIBRARY
from dsp.parts.load import Load
from dsp.units import show

Maps = Mapping[str, Mapping[str, str]]


def _maps(load: Load) -> Maps:
    return {
        "cable": {
            "length": show(load.cable_length_m, "length"),
            "capacitance": show(load.cable_f_per_m, "capacitance per length"),
        },
        "amplifier": {
            "resistance": show(load.amplifier_ohm, "resistance"),
            "capacitance": show(load.amplifier_f, "capacitance"),
        },
    }


def like_of(load: Node | None) -> str:
    """Return the library's entry that a load starts from; empty without one."""
    like = load.get("like") if isinstance(load, Entries) else None
    return like.text if isinstance(like, Text) and like.text in LIBRARY else ""


def unwritten_maps(load: Node | None) -> Maps:
    """Return ``cable`` and ``amplifier`` where a load does not write them.

    Parameters
    ----------
    load : Node or None
        The file's load. None gives the usual load.
    """
    if not isinstance(load, Entries):
        return _maps(Load())
    maps: dict[str, Mapping[str, str]] = dict(_maps(Load(cable_length_m=0.0, amplifier_f=0.0)))
    if like := like_of(load):
        for name, fields in LIBRARY[like].fields.items():
            assert isinstance(fields, Mapping)  # a load's entry has maps alone
            maps[name] = {field: str(value) for field, value in fields.items()}
    return maps
