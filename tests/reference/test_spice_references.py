"""The references themselves: two netlists of one network agree, wrong conventions do not."""

from __future__ import annotations

import copy
import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from reference.spice import independent, references, runner, wiring_file
from reference.spice.cases_by_hand import HUM_BY_HAND, Case
from reference.spice.compare import OHMS, VOLTS, Scale, agrees, deviation
from reference.spice.independent import emf
from reference.spice.quantities import si
from tolerances import REFERENCE_LEVEL_DB, REFERENCE_PHASE_DEG

pytestmark = pytest.mark.reference

Wiring = dict[str, Any]


def _same(got: references.Complexes, want: references.Complexes, scale: Scale) -> bool:
    found = deviation(got, want, scale)
    return agrees(found, scale, level_db=REFERENCE_LEVEL_DB, phase_deg=REFERENCE_PHASE_DEG)


@pytest.mark.parametrize("case", references.BY_HAND, ids=str)
def test_hand_drawn_and_built_netlists_agree(case: Case) -> None:
    drawn, built = references.drawn(case), references.built(case)
    assert drawn.coils.keys() == built.coils.keys()
    for name, response in drawn.coils.items():
        assert _same(built.coils[name], response, VOLTS), name
    assert _same(built.hum, drawn.hum, VOLTS)
    assert _same(built.output_impedance_ohm, drawn.output_impedance_ohm, OHMS)


@pytest.mark.parametrize("network", sorted(HUM_BY_HAND))
def test_hum_weights_read_by_eye_and_by_program_agree(network: str) -> None:
    assert wiring_file.hum_weights(wiring_file.load(network)) == HUM_BY_HAND[network]


def test_case_names_are_unique() -> None:
    names = [str(case) for case in references.CASES]
    assert len(set(names)) == len(names)


@pytest.mark.parametrize("network", sorted({case.network for case in references.CASES}))
def test_every_network_has_signal(network: str) -> None:
    """A reference of zeros would prove nothing: each coil sounds in some case of its network."""
    cases = [case for case in references.CASES if case.network == network]
    for name in references.built(cases[0]).coils:
        assert max(np.abs(references.built(case).coils[name]).max() for case in cases) > 0.1, name


# ---- what the networks cover -------------------------------------------------------------------


def _all() -> list[Wiring]:
    return [wiring_file.load(network) for network in sorted({case.network for case in references.CASES})]


def _parts(kind: str) -> list[Wiring]:
    return [part for wiring in _all() for part in wiring["parts"].values() if part["kind"] == kind]


def test_the_networks_use_every_part_kind() -> None:
    kinds = {part["kind"] for wiring in _all() for part in wiring["parts"].values()}
    assert kinds == {
        "coil",
        "pot",
        "capacitor",
        "resistor",
        "inductor",
        "transformer",
        "switch",
        "sketch",
        "group",
        "jack",
        "metal",
    }
    assert {len(coil.get("eddy", ())) for coil in _parts("coil")} >= {0, 1, 2, 3}
    assert {(coil.get("winding"), coil.get("magnet")) for coil in _parts("coil")} >= {
        (None, None),
        ("reverse", "south"),
        ("reverse", "north"),
        ("reverse", None),
        (None, "south"),
    }
    tapers = {"points" if isinstance(pot["taper"], list) else pot["taper"] for pot in _parts("pot")}
    assert tapers == {
        "linear",
        "audio",
        "reverse audio",
        "measured audio",
        "points",
        "blend",
        "reverse blend",
    }
    assert any("series_resistance" in one for one in _parts("capacitor"))
    assert any("tan_delta" in one for one in _parts("capacitor"))
    assert any("tap_resistance" in one for one in _parts("coil"))
    assert any("screening" in one and "tap" in one for one in _parts("coil"))
    assert {one.get("cover") for one in _parts("coil")} == {None, "metal"}
    assert any(one.get("sensitivity") == 0 for one in _parts("coil"))
    for field in ("end_resistance", "no_load", "tap", "detent", "ganged"):
        assert any(field in pot for pot in _parts("pot")), field


def test_the_networks_use_switches_and_couplings_of_every_sort() -> None:
    switches = _parts("switch")
    groups = [g for s in switches for p in s.get("contacts", {}).values() for g in p]
    assert any(len(group) > 2 for group in groups), "bridging in-between positions"
    assert any("poles" in switch for switch in switches)
    assert any("selector" in wiring for wiring in _all()), "a selector of another name"
    per_wiring = [len([p for p in w["parts"].values() if p["kind"] in ("switch", "sketch")]) for w in _all()]
    assert max(per_wiring) >= 4
    signs = {math.copysign(1.0, c["coefficient"]) for w in _all() for c in w.get("couplings", ())}
    assert signs == {1.0, -1.0}
    assert max(len(w.get("couplings", ())) for w in _all()) == 3


# ---- wrong conventions must be caught ----------------------------------------------------------


def _exchange(first: str, second: str) -> Callable[[Wiring], None]:
    """Exchange two terminals."""

    def change(wiring: Wiring) -> None:
        other = {first: second, second: first}
        wiring["joints"] = [[other.get(t, t) for t in joint] for joint in wiring["joints"]]

    return change


def _couplings_scaled(factor: Callable[[Wiring, Wiring], float]) -> Callable[[Wiring], None]:
    def change(wiring: Wiring) -> None:
        for entry in wiring["couplings"]:
            entry["coefficient"] *= factor(*(wiring["parts"][name] for name in entry["coils"]))

    return change


def _of_lossless_inductance(a: Wiring, b: Wiring) -> float:
    """M = k sqrt(L1 L2) of the lossless shares instead of the whole inductances."""
    lossless = [1.0 - sum(si(section["share"]) for section in coil.get("eddy", ())) for coil in (a, b)]
    return math.sqrt(lossless[0] * lossless[1])


def _corners_of_the_whole(wiring: Wiring) -> None:
    """R = 2 pi corner L of the whole inductance instead of the share's."""
    for coil in wiring_file.coils(wiring).values():
        for section in coil.get("eddy", ()):
            section["corner"] = si(section["corner"]) / si(section["share"])


def _without_end_resistance(wiring: Wiring) -> None:
    for part in wiring["parts"].values():
        part.pop("end_resistance", None)


def _without_capacitance(wiring: Wiring) -> None:
    for coil in wiring_file.coils(wiring).values():
        coil["capacitance"] = "1e-3 pF"


def _midpoint_forgotten(wiring: Wiring) -> None:
    wiring["parts"]["volume"].pop("midpoint")


WRONG = {
    "EMF raises finish over start": ("twelve_one_coil", 0, _exchange("bridge.start", "bridge.finish")),
    "leads of one of two coils exchanged": ("twelve_toggle", 1, _exchange("neck.start", "neck.finish")),
    "wiper at lug 1 at ten": ("twelve_one_coil", 3, _exchange("volume.1", "volume.3")),
    "coupling sign ignored": ("baritone_rotary", 0, _couplings_scaled(lambda a, b: -1.0)),
    "coupling of lossless inductances": ("baritone_rotary", 1, _couplings_scaled(_of_lossless_inductance)),
    "coupling left out": ("baritone_split", 4, _couplings_scaled(lambda a, b: 0.0)),
    "eddy corner of the whole inductance": ("twelve_choke", 0, _corners_of_the_whole),
    "end resistance left out": ("twelve_choke", 0, _without_end_resistance),
    "capacitance left out": ("twelve_one_coil", 0, _without_capacitance),
    "midpoint ignored": ("twelve_toggle", 3, _midpoint_forgotten),
}


@pytest.mark.parametrize(("network", "index", "change"), WRONG.values(), ids=WRONG)
def test_a_wrong_convention_is_refused(network: str, index: int, change: Callable[[Wiring], None]) -> None:
    case = [case for case in references.BY_HAND if case.network == network][index]
    wrong = copy.deepcopy(wiring_file.load(network))
    change(wrong)
    deck = independent.netlist(wrong, wiring_file.Setting(case.position, case.settings))
    right = references.drawn(case).coils
    (answer,) = runner.run([runner.Job(deck, tuple(map(emf, right)))])
    assert not all(agrees(deviation(answer.voltage[emf(name)], right[name])) for name in right)
