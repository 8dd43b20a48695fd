"""The deck that `presolder netlist` prints runs in ngspice and gives the reference's responses."""

from __future__ import annotations

import pytest
from reference.spice import references, runner
from reference.spice.cases_by_hand import Case
from reference.spice.compare import agrees, deviation
from reference.spice.independent import emf
from reference.spice.product import product_netlist, product_response
from reference.spice.wiring_file import NETWORKS
from small_wirings import wiring_of

from dsp.circuit.netlist import netlist
from dsp.circuit.response import respond

pytestmark = pytest.mark.reference


def _one_per_position() -> list[Case]:
    """The last case of each position of each network: knobs part way rather than all at ten."""
    return list({(case.network, case.position): case for case in references.CASES}.values())


@pytest.mark.parametrize("case", _one_per_position(), ids=str)
def test_netlist_gives_the_reference_response(case: Case) -> None:
    """Every EMF source VE_<coil> raised in turn, at the reference's frequencies."""
    want = references.reference(case)
    deck = product_netlist(NETWORKS / f"{case.network}.yaml", case.position, case.settings)
    (answer,) = runner.run([runner.Job(deck, tuple(map(emf, want.coils)))])
    missed = {name: deviation(answer.voltage[emf(name)], want.coils[name]) for name in want.coils}
    assert not {name: found for name, found in missed.items() if not agrees(found)}


@pytest.mark.parametrize("coil", ["neck_a", "neck_b", "bridge_a", "bridge_b"])
def test_netlist_runs_as_printed(coil: str) -> None:
    """`--coil` gives one source its amplitude; the deck's own `.ac` line does the rest."""
    file = NETWORKS / "baritone_rotary.yaml"
    settings = {"volume": 7, "tone": 4}
    answer = runner.run_as_printed(product_netlist(file, 4, settings, coil=coil))
    inside = answer.freqs_hz <= 20_000.0 * (1 + 1e-12)
    assert inside.sum() > 20
    got = product_response(file, 4, settings, answer.freqs_hz[inside])
    assert agrees(deviation(got.coils[coil], answer.voltage[""][inside]))


def test_without_coil_the_first_is_driven() -> None:
    file, settings = NETWORKS / "twelve_toggle.yaml", {"volume": 10, "tone": 10}
    first = next(iter(product_response(file, 2, settings, [1000.0]).coils))
    assert product_netlist(file, 2, settings) == product_netlist(file, 2, settings, coil=first)


@pytest.mark.parametrize("name", ["amplifier", "Load"])
def test_a_part_called_as_the_load_is_another_device(name: str) -> None:
    kind = "resistor, resistance: 470k" if name == "amplifier" else "capacitor, capacitance: 2n"
    parts = f"a: {{COIL}}\n{name}: {{kind: {kind}}}\nmore: {{kind: capacitor, capacitance: 1n}}"
    joints = f"a.start, {name}.a, more.a, output.tip\na.finish, {name}.b, more.b, output.sleeve"
    wiring = wiring_of(f"{parts}\noutput: {{kind: jack}}", joints)
    setting = wiring.setting("1")
    (answer,) = runner.run([runner.Job(netlist(wiring, setting), ("VE_a",))])
    want = answer.voltage["VE_a"]
    assert agrees(deviation(respond(wiring, [setting], answer.freqs_hz).coil[0, 0], want))
