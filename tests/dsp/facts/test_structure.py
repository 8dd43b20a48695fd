"""Findings from joints alone: loose and shorted parts, aerials, a shorted jack."""

from __future__ import annotations

import pytest
from small_wirings import wiring_of

from dsp.facts.findings.structure import Structure, structure_of
from dsp.wiring.network import build_network

COILS = "a: {COIL}\nb: {COIL}\nc: {COIL}\nx: {kind: capacitor, capacitance: 22n}\noutput: {kind: jack}"
PLAIN = "a.start, output.tip\na.finish, output.sleeve"


def structure(joints: str, parts: str = COILS, position: str = "1") -> Structure:
    wiring = wiring_of(parts, joints)
    return structure_of(build_network(wiring, wiring.setting(position)))


def test_a_plain_wiring_has_only_what_lies_beside_it() -> None:
    unused = (("b", "start"), ("b", "finish"), ("c", "start"), ("c", "finish"), ("x", "a"), ("x", "b"))
    assert structure(PLAIN) == Structure(False, (), (), (), unused)


def test_order_and_direction_of_joints_do_not_change_which_lead_hangs() -> None:
    for joints in ("output.sleeve, b.finish, a.finish\na.start, output.tip", f"{PLAIN}, b.finish"):
        found = structure(joints)
        assert found.hanging == (("b", "start"),)
        assert found.aerials == ()


@pytest.mark.parametrize("lead", ["start", "finish"])
def test_from_hot_a_coil_is_an_aerial_and_from_the_sleeve_it_is_not(lead: str) -> None:
    other = {"start": "finish", "finish": "start"}[lead]
    hot = structure(f"a.start, b.{lead}, output.tip\na.finish, output.sleeve")
    assert hot.hanging == (("b", other),)
    assert hot.aerials == (("b", lead),)
    cold = structure(f"a.start, output.tip\na.finish, b.{lead}, output.sleeve")
    assert cold.hanging == (("b", other),)
    assert cold.aerials == ()


@pytest.mark.parametrize(
    ("chain", "aerials"),
    [
        ("a.start, b.start, output.tip\nb.finish, c.finish", (("c", "finish"),)),
        ("a.start, x.a, output.tip\nx.b, b.start", (("b", "start"),)),
        ("a.start, x.a, output.tip\nx.b, b.start, c.start", (("b", "start"), ("c", "start"))),
        ("a.start, output.tip\nb.finish, c.finish\na.finish, b.start, output.sleeve", ()),
        ("a.start, output.tip\nx.b, b.start\na.finish, x.a, output.sleeve", ()),
        ("a.start, output.tip\nb.finish, c.finish", ()),  # an island hangs from nothing
        ("a.start, output.tip\nb.start, c.start\nb.finish, c.finish, x.a", ()),  # a ring, and a loose cap
    ],
)
def test_chains_hang_from_what_holds_them(chain: str, aerials: tuple[tuple[str, str], ...]) -> None:
    joints = chain if "output.sleeve" in chain else f"{chain}\na.finish, output.sleeve"
    assert structure(joints).aerials == aerials


def test_a_lead_on_a_pots_lug_is_live() -> None:
    parts = f"{COILS}\nvolume: {{kind: pot, resistance: 500k}}"
    joints = "a.start, volume.3\nvolume.2, b.start, output.tip\nvolume.1, a.finish, output.sleeve"
    assert structure(joints, parts).aerials == (("b", "start"),)


def test_shorted_coils() -> None:
    found = structure("a.start, output.tip\na.finish, b.start, b.finish, output.sleeve")
    assert found.shorted == ("b",)
    assert found.hanging == ()


def test_only_coils_are_called_shorted() -> None:
    found = structure("a.start, output.tip\na.finish, x.a, x.b, output.sleeve")
    assert found.shorted == ()
    assert "x" not in {name for name, _ in found.unused}


def test_a_shorted_jack() -> None:
    assert structure(f"{PLAIN}, output.tip, b.start").jack_shorted
    assert not structure(PLAIN).jack_shorted


def test_a_switch_decides() -> None:
    parts = f"{COILS}\nselector: {{kind: switch, poles: 1, positions: 3}}"
    joints = "a.start, output.tip, selector.A2\nb.start, selector.A0\n"
    joints += "a.finish, b.finish, output.sleeve, selector.A3"
    assert structure(joints, parts, "1").hanging == (("b", "start"),)
    assert structure(joints, parts, "2").hanging == ()
    assert structure(joints, parts, "3").shorted == ("b",)
