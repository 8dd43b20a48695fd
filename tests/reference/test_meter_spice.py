"""The ohmmeter's reading at the jack against ngspice: the operating point under 1 A, the load taken out.

The decks are those of the comparison of responses: drawn by hand, or built from the file with nothing merged;
none comes from the product. Across every deck stands 1e15 Ω from each node (`rshunt`), so that hanging
parts have a voltage at all.
"""

from __future__ import annotations

import re

import numpy as np
import pytest
from reference.spice import real, references
from reference.spice.cases_by_hand import Case
from reference.spice.wiring_file import NETWORKS
from tolerances import OHMMETER, TWIN_FACTOR

from dsp.circuit.meter import jack_reading_ohm
from server.wirings.text import load_wiring

pytestmark = pytest.mark.reference

SHUNT = ".option rshunt=1e15 reltol=1e-9 vntol=1e-15 abstol=1e-18 gmin=1e-18"
LOAD = re.compile(r"(?im)^(R_?amp|C_?amp|C_?cable)\b.*\n")
IDEAL = {"baritone_transformer"}
"""Networks left out: the law of an ideal transformer's sources holds down to 0 Hz in SPICE, while an
ohmmeter meets two windings of wire. tests/dsp/parts/test_transformer.py has its readings."""
PLUGGED = {"baritone_two_jacks", "baritone_second_jack", "baritone_ring"}
"""Networks left out: their decks have a plug in the jack, a reading has none; test_jack.py reads them."""
CASES = [case for case in references.CASES if case.network not in IDEAL | PLUGGED]


def deck_of(case: Case) -> str:
    drawn = NETWORKS / f"{case.network}.cir"
    text = drawn.read_text(encoding="utf-8") if case.by_hand else references.built_deck(case)
    bare, taken = LOAD.subn("", text)
    assert taken in (2, 3), "the load's own lines"
    return real.with_lines(bare.replace(".option noopac\n", ""), SHUNT)


def job(case: Case) -> real.RealJob:
    return real.RealJob(deck_of(case), ("alter iout dc = 1", "op"), ("v(out)",), dict(case.by_hand))


@pytest.fixture(scope="module")
def spice_ohm() -> dict[str, float]:
    answers = real.run([job(case) for case in CASES])
    return {str(case): float(found["v(out)"][0]) for case, found in zip(CASES, answers, strict=True)}


def product_ohm(case: Case) -> float:
    wiring = load_wiring(NETWORKS / f"{case.network}.yaml")
    knobs = {name: float(value) for name, value in case.settings.items() if name in wiring.pots}
    switches = {name: f"{value:g}" for name, value in case.settings.items() if name in wiring.stands}
    assert set(case.settings) == set(knobs) | set(switches)
    position = wiring.positions[0] if case.position is None else str(case.position)
    return jack_reading_ohm(wiring, wiring.setting(position, knobs, switches))


@pytest.mark.parametrize("case", CASES, ids=str)
def test_reading(case: Case, spice_ohm: dict[str, float]) -> None:
    assert product_ohm(case) == pytest.approx(spice_ohm[str(case)], rel=OHMMETER, abs=1e-6)


def test_the_cases_are_not_trivial(spice_ohm: dict[str, float]) -> None:
    """Shorted and many different readings; and a twin off by a little more than the tolerance fails."""
    ohms = np.array(list(spice_ohm.values()))
    assert np.any(ohms < 1e-6)
    assert len({f"{ohm:.6g}" for ohm in ohms}) > 60
    some = next(ohm for ohm in ohms if 1e3 < ohm < 1e5)
    assert some * (1 + TWIN_FACTOR * OHMMETER) != pytest.approx(some, rel=OHMMETER, abs=1e-6)


def test_every_network_takes_part() -> None:
    networks = {path.stem for path in NETWORKS.glob("*.yaml") if not path.stem.startswith("loaded")}
    assert {case.network for case in CASES} == networks - IDEAL - PLUGGED
