"""Facts in two places: tests compare them, or one is made from the other."""

from __future__ import annotations

from dataclasses import MISSING, fields

import pytest
from small_wirings import read, wiring_text

from dsp.documents.field import Field
from dsp.facts.findings.table import RULES
from dsp.parts.capacitor import Capacitor
from dsp.parts.choke import Inductor
from dsp.parts.coil import Coil
from dsp.parts.fields import AMPLIFIER_FIELDS
from dsp.parts.kind import Part
from dsp.parts.kinds import KINDS
from dsp.parts.load import Load
from dsp.parts.pot import KNOB_ALLOWED, KNOB_TOP, Pot
from dsp.units import parse

OWN_FIELDS = {
    "coil": (Coil, {"aperture": "aperture_m", "sensitivity": "sensitivity", "turns_area": "turns_area"}),
    "pot": (Pot, {"end_resistance": "end_resistance_ohm"}),
    "capacitor": (Capacitor, {"series_resistance": "series_ohm", "tan_delta": "tan_delta"}),
    "inductor": (Inductor, {"resistance": "resistance_ohm"}),
}


def defaults(kind: str) -> dict[str, Field]:
    return {f.name: f for f in KINDS[kind].fields if f.form == "quantity" and f.default}


@pytest.mark.parametrize("kind", OWN_FIELDS)
def test_documented_defaults_are_the_real_ones(kind: str) -> None:
    """`presolder parts --fields` and the schema state the part's own default."""
    part, names = OWN_FIELDS[kind]
    taken = {f.name: f.default for f in fields(part) if f.default is not MISSING}
    table = defaults(kind)
    assert set(table) == set(names)
    for name, field in table.items():
        assert parse(field.default, field.dimension) == pytest.approx(taken[names[name]]), name


def test_every_kind_with_defaults_is_compared() -> None:
    assert {kind for kind in KINDS if defaults(kind)} == set(OWN_FIELDS)


def test_choices_have_their_documented_default() -> None:
    def coil(more: str) -> Part:
        return read(wiring_text(f"a: {{COIL{more}}}\noutput: {{kind: jack}}")).parts["a"]

    choices = {f.name: f.default for f in KINDS["coil"].fields if f.form == "choice"}
    assert coil("") == coil("".join(f", {name}: {word}" for name, word in choices.items()))


def test_the_default_load_is_the_documented_one() -> None:
    (ohm, _farad) = (parse(f.default, f.dimension) for f in AMPLIFIER_FIELDS)
    assert ohm == Load().amplifier_ohm
    assert RULES["no load given"][1].startswith("5 m of 100 pF/m into 1 MΩ and 20 pF are taken;")
    assert KNOB_ALLOWED.endswith(f"to {KNOB_TOP:g}")
