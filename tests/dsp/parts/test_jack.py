"""Jacks: what a plug joins, the output chosen, and what a meter reads without one."""

from __future__ import annotations

import json

import numpy as np
import pytest
from small_wirings import LOAD, read, wiring_of, wiring_text

from dsp.circuit.meter import jack_reading_ohm
from dsp.circuit.response import respond
from dsp.errors import InputError
from dsp.parts.jack import Jack
from dsp.parts.kinds import kind_of, new_part
from dsp.parts.library.jacks import JACKS
from dsp.wiring.model import Wiring

FREQS = np.array([100.0, 1000.0, 5000.0])
CLOSED = "{kind: jack, lugs: [rest], contacts: {out: [[tip, rest]], in: []}}"
PAIR = "a: {COIL}\nb: {COIL, winding: reverse, magnet: south}\n"
STEREO = "output: {kind: jack, lugs: [ring]}"
TWO = "a.start, output.tip\nb.start, output.ring\na.finish, b.finish, output.sleeve"


def heard(wiring: Wiring, **plugs: str) -> dict[str, float]:
    """Return the level of each coil at 1 kHz."""
    found = respond(wiring, [wiring.setting(wiring.positions[0], {}, plugs)], FREQS)
    return dict(zip(found.coils, np.abs(found.coil[0, :, 1]).tolist(), strict=True))


def test_a_contact_that_a_plug_opens_counts_without_a_plug_alone() -> None:
    """4 kΩ of coil beside 10 kΩ on the resting lug: 2857 Ω on the meter; with a plug only the coil."""
    joints = "a.start, output.tip\nr.a, output.rest\na.finish, r.b, output.sleeve"
    rest = wiring_of(f"a: {{COIL}}\nr: {{kind: resistor, resistance: 10k}}\noutput: {CLOSED}", joints)
    plain = wiring_of("a: {COIL}\noutput: {kind: jack}", "a.start, output.tip\na.finish, output.sleeve")
    assert jack_reading_ohm(rest, rest.setting("1")) == pytest.approx(4e3 * 10e3 / 14e3)
    assert heard(rest) == heard(plain)
    assert rest.stands == {}


def test_a_mono_plug_grounds_the_ring_and_a_stereo_one_loads_it() -> None:
    wiring = wiring_of(PAIR + STEREO, TWO)
    assert wiring.stands == {"output": ("mono", "stereo")}
    assert heard(wiring)["b"] == 0.0
    assert heard(wiring, output="stereo") == heard(wiring)
    ring = wiring_of(PAIR + STEREO, TWO, LOAD + "output: output.ring\n")
    assert heard(ring) == {"a": 0.0, "b": heard(wiring)["a"]}
    assert ring.stands == {}
    with pytest.raises(InputError, match="output"):
        ring.setting("1", {}, {"output": "mono"})


def test_every_wiring_of_one_jack_means_what_it_did() -> None:
    wiring = wiring_of("a: {COIL}\nsocket: {kind: jack}", "a.start, socket.tip\na.finish, socket.sleeve")
    assert wiring.hot == ("socket", "tip")
    assert wiring.setting("1").switches == {}


def test_the_output_is_the_jack_of_that_name_or_the_one_chosen() -> None:
    parts = PAIR + "first: {kind: jack}\noutput: {kind: jack}"
    joints = "a.start, output.tip\nb.start, first.tip\na.finish, b.finish, output.sleeve, first.sleeve"
    assert [name for name, level in heard(wiring_of(parts, joints)).items() if level] == ["a"]
    other = wiring_of(parts, joints, LOAD + "output: first\n")
    assert [name for name, level in heard(other).items() if level] == ["b"]
    assert other.hot == ("first", "tip")
    assert other.stands == {"output": ("out", "in")}


def test_a_plug_in_the_second_jack_loads_the_signal_that_both_carry() -> None:
    """In parallel with a second cable and amplifier: as one load of both."""
    parts = "a: {COIL}\noutput: {kind: jack}\nsecond: {kind: jack}"
    joints = "a.start, output.tip, second.tip\na.finish, output.sleeve, second.sleeve"
    twice = LOAD.replace("1 MΩ", "500 kΩ").replace("5 m", "10 m").replace("20 pF", "40 pF")
    both = respond(wiring := wiring_of(parts, joints), [wiring.setting("1", {}, {"second": "in"})], FREQS)
    alone = respond(other := wiring_of(parts, joints, twice), [other.setting("1")], FREQS)
    np.testing.assert_allclose(both.coil, alone.coil, rtol=1e-12)
    assert not np.allclose(both.coil, respond(wiring, [wiring.setting("1")], FREQS).coil, rtol=0.01)


@pytest.mark.parametrize("entry", JACKS, ids=lambda entry: entry.name)
def test_a_jack_of_the_library_is_read_and_written_back(entry: object) -> None:
    text = wiring_text(f"a: {{COIL}}\noutput: {{like: {entry.name}}}")  # type: ignore[attr-defined]
    part = read(text).parts["output"]
    assert isinstance(part, Jack)
    kind = kind_of(part)
    moved = set(map(tuple, part.contacts.get("out", ()))) != set(map(tuple, part.contacts.get("in", ())))
    assert moved == bool(part.contacts), "a contact that a plug does not move"
    assert set(kind.symbol(part).leads) == set(kind.leads(part))
    assert new_part("jack", lugs=part.more, contacts=part.contacts) == part
    written = kind.file_fields(part)
    assert read(wiring_text(f"a: {{COIL}}\noutput: {json.dumps(written)}")).parts["output"] == part
