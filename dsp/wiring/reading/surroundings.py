"""Read what surrounds the circuit: labels, load, instrument."""

from __future__ import annotations

from typing import Any

from dsp.documents import values
from dsp.documents.tree import Entries, Node, Reading, Text
from dsp.errors import InputError
from dsp.parts import fields
from dsp.parts.instrument import WRAPS, GuitarString, Instrument, pitch_hz
from dsp.parts.load import Load
from dsp.units import show
from dsp.wiring.reading.parts import with_library


def read_labels(reading: Reading, tree: Entries) -> dict[str, str]:
    """Read the label of each selector position."""
    pairs = reading.entries(tree.get("labels"), "labels")
    return {key.text: reading.text(value, "labels") or "" for key, value in pairs}


def read_load(reading: Reading, node: Node | None) -> Load:
    """Read the load; the usual one where the file has none."""
    if not isinstance(node, Entries):
        list(reading.entries(node, "load"))
        return Load()
    node = with_library(reading, node, "load")
    cable: dict[str, Any] = {"length": 0.0, "capacitance": 0.0}
    amplifier: dict[str, Any] = {}
    for key, value in node.entries:
        if key.text == "cable":
            cable = values.read_map(reading, fields.CABLE_FIELDS, value, "load.cable")
        elif key.text == "amplifier":
            amplifier = values.read_map(reading, fields.AMPLIFIER_FIELDS, value, "load.amplifier")
        elif key.text == "kind" and reading.text(value, "load.kind") not in ("load", None):
            reading.refuse(value, "load.kind", "load")
        elif key.text not in ("like", "kind"):
            reading.refuse(
                key, "load", "cable, amplifier, like", hint=reading.guess(key.text, ("cable", "amplifier"))
            )
    default = Load()
    return Load(
        cable.get("length") or 0.0,
        cable.get("capacitance") or 0.0,
        amplifier.get("resistance") or default.amplifier_ohm,
        amplifier.get("capacitance") or 0.0,
    )


def read_instrument(reading: Reading, node: Node | None) -> Instrument | None:
    """Read scale and strings; None if the file has no instrument."""
    if node is None:
        return None
    given = values.read_map(reading, fields.INSTRUMENT_FIELDS, node, "instrument")
    strings = []
    for item in reading.items(given.get("strings"), "instrument.strings"):
        found = values.read_map(reading, fields.STRING_FIELDS, item, "instrument.strings")
        note, gauge = found.get("note"), found.get("gauge")
        if not isinstance(note, Text) or gauge is None:
            continue
        try:
            pitch = pitch_hz(note.text, reading.where(note, "note"))
        except InputError as error:
            reading.take(error)
            continue
        wound, core = found.get("wound") == "true", found.get("core")
        if core is not None and not (wound and core < gauge):
            allowed = "a wound string's core, thinner than its gauge" if wound else "no core: a plain string"
            reading.refuse(item, "instrument.strings: core", allowed, got=show(core, "length"))
            continue
        wrap = found.get("wrap") or WRAPS[0]
        strings.append(GuitarString(pitch, gauge, wound, note.text.strip(), core, wrap))
    return Instrument(given["scale"], tuple(strings)) if given.get("scale") is not None else None
