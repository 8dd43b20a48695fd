"""The netlist as text: what it names, and that no name in a file can break it.

That ngspice gives the product's responses from it is shown in tests/reference/test_netlist.py.
"""

from __future__ import annotations

import re

import pytest
from small_wirings import wiring_of

from dsp.circuit.netlist import netlist
from dsp.errors import InputError
from dsp.wiring.model import Wiring

PARTS = """
    neck: {COIL, eddy: [{share: 10 %, corner: 3 kHz}]}
    bridge: {COIL}
    volume: {kind: pot, resistance: 500k}
    cap: {kind: capacitor, capacitance: 22n}
    drain: {kind: resistor, resistance: 1M}
    choke: {kind: inductor, inductance: 1.5 H, resistance: 90 Ω}
    output: {kind: jack}
"""
JOINTS = """
    neck.start, volume.3, drain.a, cap.a
    neck.finish, bridge.start
    volume.2, output.tip
    cap.b, choke.a
    bridge.finish, drain.b, choke.b, volume.1, output.sleeve
"""
REST = """
couplings: [{coils: [neck, bridge], coefficient: -0.1}]
load:
  cable: {length: 5 m, capacitance: 100 pF/m}
  amplifier: {resistance: 1 MΩ, capacitance: 20 pF}
"""
DEVICE = re.compile(r"[VRLCK]\w+( \w+){2} [-+.\w]+( AC [01])?|VE_\w+ \w+ \w+ DC 0 AC [01]", re.ASCII)


def wiring(parts: str = PARTS, joints: str = JOINTS, rest: str = REST) -> Wiring:
    return wiring_of(parts, joints, rest)


def lines_of(one: Wiring, coil: str | None = None, knobs: dict[str, float] | None = None) -> list[str]:
    text = netlist(one, one.setting("1", knobs or {}), coil=coil)
    assert text.endswith(".end\n")
    return text.splitlines()


def devices(lines: list[str]) -> dict[str, str]:
    """Return device lines by name; SPICE ignores case."""
    found: dict[str, str] = {}
    for line in lines:
        if line[0] in "*.":
            continue
        assert DEVICE.fullmatch(line), line
        name = line.split()[0].lower()
        assert name not in found, f"{name} twice"
        found[name] = line
    return found


def test_every_part_appears_by_its_name() -> None:
    found = devices(lines_of(wiring(), knobs={"volume": 5.0}))
    assert set(found) == {
        "ve_neck", "r_neck", "l_neck", "l_neck_eddy0", "r_neck_eddy0", "c_neck",
        "ve_bridge", "r_bridge", "l_bridge", "c_bridge",
        "c_cap", "r_drain", "r_choke", "l_choke", "r_volume_12", "r_volume_23",
        "k0_neck_bridge", "r_amplifier", "c_load",
    }  # fmt: skip
    assert found["r_drain"].split()[2:] == ["0", "1000000"]
    # -0.1 of the whole inductances; 90 % of the bridge coil's is lossless
    assert found["k0_neck_bridge"].startswith("K0_neck_bridge L_neck L_bridge -")
    assert float(found["k0_neck_bridge"].split()[3]) == pytest.approx(-0.1 / 0.9**0.5, rel=1e-15)
    assert float(found["l_neck_eddy0"].split()[3]) == pytest.approx(0.23, rel=1e-15)
    assert float(found["c_load"].split()[3]) == pytest.approx(520e-12, rel=1e-15)


def test_the_head_says_what_it_is() -> None:
    one = wiring(rest=f"name: A guitar\n{REST}")
    head = [line for line in lines_of(one, knobs={"volume": 7.0}) if line.startswith("*")]
    assert head[0] == "* A guitar"
    assert "position 1" in head[1]
    assert "volume=7" in head[1]
    assert "EMF of 1 V in coil neck" in head[2]


@pytest.mark.parametrize(("coil", "driven"), [(None, "neck"), ("neck", "neck"), ("bridge", "bridge")])
def test_one_source_is_driven(coil: str | None, driven: str) -> None:
    found = devices(lines_of(wiring(), coil))
    ends = {name: line.split()[-1] for name, line in found.items() if name.startswith("ve_")}
    assert ends == {f"ve_{name}": "1" if name == driven else "0" for name in ("neck", "bridge")}


def test_an_unknown_coil_is_refused_with_a_guess() -> None:
    one = wiring()
    with pytest.raises(InputError, match=r"'nekc'; allowed: neck, bridge \(did you mean 'neck'\?\)"):
        netlist(one, one.setting("1"), coil="nekc")


@pytest.mark.parametrize(
    "name", ["a\\n.end\\nRx 0 1 1", "a\\r\\nVx out 0 5", "a\\u2028Rx out 0 1", "a\\N.include /etc/passwd"]
)
def test_no_name_breaks_out_of_its_comment(name: str) -> None:
    one = wiring(rest=f'name: "{name}"\n{REST}')
    assert "\n" in one.name or len(one.name.splitlines()) > 1, "or the check says nothing"
    plain = lines_of(wiring(rest=f"name: plain\n{REST}"))
    assert lines_of(one)[1:] == plain[1:]
    assert lines_of(one)[0].startswith("* a ")


def test_positions_stay_in_their_comments() -> None:
    parts = f'{PARTS}\n    selector: {{kind: sketch, positions: {{"x\\n.end": neck + bridge}}}}'
    joints = "selector.hot, output.tip\nselector.cold, output.sleeve"
    one = wiring_of(parts, joints, REST)
    (position,) = one.positions
    lines = netlist(one, one.setting(position)).splitlines()
    assert [line for line in lines if line.startswith(".end")] == [".end"]


def test_names_beyond_ascii_become_plain_ones() -> None:
    texts = (re.sub(r"\bcap\b", "κ", text) for text in (PARTS, JOINTS, REST))
    parts, joints, rest = (re.sub(r"\bneck\b", "hals_größe", text) for text in texts)
    lines = lines_of(wiring(parts, joints, rest))
    assert all(line.isascii() for line in lines if not line.startswith("*"))
    assert "ve_part0" in devices(lines)
    assert any("hals_größe" in line for line in lines if line.startswith("*"))


def test_names_that_would_collide_are_kept_apart() -> None:
    """Capitals, hyphens, a pot's segment, a coil's eddy section: each could collide with a part's name."""
    parts = """
        neck: {COIL, eddy: [{share: 10 %, corner: 3 kHz}]}
        Neck: {COIL}
        volume: {kind: pot, resistance: 500k}
        volume_12: {kind: resistor, resistance: 1M}
        neck_eddy0: {kind: resistor, resistance: 2M}
        volume-12: {kind: resistor, resistance: 3M}
        a: {COIL}
        b_c: {COIL}
        a_b: {COIL}
        c: {COIL}
        output: {kind: jack}
    """
    joints = """
        neck.start, volume.3, volume_12.a, volume-12.a, neck_eddy0.a
        neck.finish, Neck.start
        Neck.finish, a.start
        a.finish, b_c.start
        b_c.finish, a_b.start
        a_b.finish, c.start
        volume.2, output.tip
        volume.1, c.finish, volume_12.b, volume-12.b, neck_eddy0.b, output.sleeve
    """
    couplings = "couplings: [{coils: [a, b_c], coefficient: 0.1}, {coils: [a_b, c], coefficient: 0.2}]\n"
    found = devices(lines_of(wiring_of(parts, joints, couplings), knobs={"volume": 5.0}))
    assert sorted(line.split()[3] for name, line in found.items() if name.startswith("r_volume_12")) == [
        "1000000",
        "250000",
        "3000000",
    ]
    assert len([name for name in found if name.startswith("k")]) == 2
    assert len([name for name in found if name.startswith("ve_")]) == 6


def test_a_shorted_output_is_still_a_netlist() -> None:
    one = wiring_of("a: {COIL}\noutput: {kind: jack}", "a.start, output.tip, output.sleeve")
    lines = lines_of(one)
    assert "* the output is shorted" in lines
    assert "r_out" in devices(lines)
    assert not any(line.startswith("R_amplifier") for line in lines)


def test_shorted_parts_are_noted_and_left_out() -> None:
    joints = JOINTS.replace("drain.a, cap.a", "drain.a, drain.b, cap.a").replace(
        "drain.b, choke.b", "choke.b"
    )
    lines = lines_of(wiring(joints=joints))
    assert "* drain is shorted" in lines
    assert "r_drain" not in devices(lines)


def test_pots_at_their_ends_are_joints() -> None:
    found = devices(lines_of(wiring(), knobs={"volume": 10.0}))
    assert "r_volume_23" not in found
    assert found["r_volume_12"].split()[3] == "500000"
