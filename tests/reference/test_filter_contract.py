"""Filters against the circuit: every bank run with impulses, the outcome compared in frequency.

The reference is the circuit's own response (itself compared with ngspice elsewhere); what is tested here is
that the running filters equal it. The frequencies are bins of the impulse response's transform, with more
of them about every peak and dip, and none of them known to the designer.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from impulse_measure import Measured, measured
from random_wirings import random_setting, seeded
from structure import reaches_the_jack
from tolerances import (
    AT_44,
    AT_48,
    AT_96,
    CONTRACT_LEVEL_DB,
    CONTRACT_PHASE_DEG,
    CONTRACT_TOP_LEVEL_DB,
    OWN_REPORT,
    TWIN_FACTOR,
)

from dsp.circuit.response import respond
from dsp.circuit.state import natural_modes, state_of
from dsp.filters.bank import Bank
from dsp.filters.design import design_bank
from dsp.wiring.model import Setting, Wiring
from dsp.wiring.network import build_network, set_pots
from dsp.wiring.reading.wiring import read_wiring
from server.files.yaml_text import parse_tree
from server.wirings.text import load_wiring

pytestmark = pytest.mark.reference

HERE = Path(__file__).resolve()
FILES = sorted(
    [*(HERE.parent / "networks").glob("*.yaml"), *HERE.parents[2].glob("demo_audio/**/*.yaml")], key=str
)
SETTINGS = 300
BAR = (CONTRACT_LEVEL_DB, CONTRACT_PHASE_DEG, CONTRACT_TOP_LEVEL_DB)
Case = tuple[Wiring, Setting]

TRAP = """
format: 1
parts:
  coil:
    kind: coil
    resistance: 3.6 kΩ
    inductance: 0.38 H
    capacitance: 40 pF
    eddy: [{share: 10 %, corner: 530 Hz}, {share: 77 %, corner: 3.9 kHz}]
  choke: {kind: inductor, inductance: 0.779 H, resistance: 13 Ω}
  choke_cap: {kind: capacitor, capacitance: 0.63 nF}
  output: {kind: jack}
joints:
  - [coil.start, choke.a, output.tip]
  - [choke.b, choke_cap.a]
  - [choke_cap.b, coil.finish, output.sleeve]
"""


def _is_wiring(path: Path) -> bool:
    return "\nparts:" in path.read_text(encoding="utf-8")


@cache
def cases() -> tuple[Case, ...]:
    """300 settings: four of each wiring file, the rest of random wirings."""
    rng = np.random.default_rng(1)
    files = [load_wiring(path) for path in FILES if _is_wiring(path)]
    found = [(wiring, random_setting(rng, wiring)) for wiring in files for _ in range(4)]
    found = [case for case in found if any(_heard(case))]  # a volume at 0 would prove nothing
    seed = 0
    while len(found) < SETTINGS:
        case = seeded(seed)
        seed += 1
        if all(_heard(case)):
            found.append(case)
    return tuple(found)


def _heard(case: Case) -> list[bool]:
    """Return which coils reach the jack; test_network_properties tests the others."""
    wiring, setting = case
    return list(reaches_the_jack(set_pots(build_network(wiring, setting), setting)).values())


def _plain() -> Case:
    """Return one setting with everything up, for the twins."""
    wiring = cases()[0][0]
    return wiring, wiring.setting(wiring.positions[0])


@cache
def banks(rate_hz: float) -> tuple[tuple[Bank, Measured], ...]:
    found = [(case, design_bank(*case, rate_hz)) for case in cases()]
    return tuple((bank, measured(*case, bank)) for case, bank in found)


def _figures(error: object) -> tuple[float, float, float]:
    return tuple(getattr(error, name) for name in ("level_db", "phase_deg", "top_level_db"))  # type: ignore[return-value]


def _missing(rate_hz: float, bars: tuple[float, float, float]) -> dict[str, tuple[float, ...]]:
    rows = {
        f"{wiring.file} {wiring.name} {setting}": _figures(mine)
        for (wiring, setting), (_, mine) in zip(cases(), banks(rate_hz), strict=True)
    }
    return {name: row for name, row in rows.items() if any(np.greater(row, bars))}


def test_the_sample_has_files_and_random_wirings() -> None:
    assert len(cases()) == SETTINGS
    assert len({wiring.file for wiring, _ in cases()}) > 16


@pytest.mark.parametrize("bars", [BAR, AT_48], ids=["contract", "as measured"])
def test_48_khz(bars: tuple[float, float, float]) -> None:
    assert not _missing(48_000.0, bars)


@pytest.mark.parametrize(("rate_hz", "bars"), [(44_100.0, AT_44), (96_000.0, AT_96)])
@pytest.mark.long
def test_other_rates(rate_hz: float, bars: tuple[float, float, float]) -> None:
    assert not _missing(rate_hz, bars)


@pytest.mark.parametrize("rate_hz", [44_100.0, 48_000.0, 96_000.0])
def test_every_pole_lies_inside_the_unit_circle(rate_hz: float) -> None:
    for bank, _ in banks(rate_hz):
        roots = [np.roots([1.0, *section]) for section in bank.poles]
        assert np.max(np.abs(roots), initial=0.0) < 1.0
        assert bank.radius() < 1.0


@pytest.mark.parametrize("rate_hz", [44_100.0, 48_000.0, 96_000.0])
def test_a_bank_knows_its_error(rate_hz: float) -> None:
    for (wiring, setting), (bank, mine) in zip(cases(), banks(rate_hz), strict=True):
        off = (np.array(_figures(mine)) - _figures(bank.error)) / BAR
        assert np.max(np.abs(off)) <= OWN_REPORT, f"{wiring.file} {wiring.name} {setting}: {off}"


def test_a_sharp_trap() -> None:
    wiring = read_wiring(parse_tree(TRAP, "trap.yaml"), "trap.yaml")
    setting = wiring.setting("1")
    bank = design_bank(wiring, setting)
    mine = _figures(measured(wiring, setting, bank))
    assert not any(np.greater(mine, BAR))
    assert np.max(np.abs(np.array(mine) - _figures(bank.error)) / BAR) <= OWN_REPORT


TANK = """
format: 1
parts:
  coil: {kind: coil, resistance: 4 kΩ, inductance: 2.3 H, capacitance: 70 pF}
  choke: {kind: inductor, inductance: 1.5 H}
  choke_cap: {kind: capacitor, capacitance: 10 nF}
  drain: {kind: resistor, resistance: 10 GΩ}
  output: {kind: jack}
joints:
  - [coil.start, drain.a, output.tip]
  - [drain.b, choke.a, choke_cap.a]
  - [choke.b, choke_cap.b, coil.finish, output.sleeve]
"""
"""A choke of 0 Ω and a capacitor, almost alone: a mode 0.0008 Hz wide at 1299 Hz."""


def test_a_mode_almost_without_loss() -> None:
    """At the mode itself, narrower than any transform's bin, the bank meets the contract and knows it."""
    wiring = read_wiring(parse_tree(TANK, "tank.yaml"), "tank.yaml")
    setting = wiring.setting("1")
    bank = design_bank(wiring, setting)
    modes = natural_modes(state_of(set_pots(build_network(wiring, setting), setting)))
    (at,) = (abs(mode.imag) / (2 * np.pi) for mode in modes if 2 * np.pi < mode.imag < 2 * np.pi * 2000)
    frequencies_hz = at * (1.0 + 1e-6 * np.array([-30, -3, -1.5, -0.5, -0.2, 0.2, 0.5, 1.5, 3, 30]))
    want = respond(wiring, [setting], frequencies_hz).coil[0]
    got = bank.response(frequencies_hz) * np.exp(2j * np.pi * frequencies_hz / bank.rate_hz * bank.delay)
    off_db = float(np.max(np.abs(20.0 * np.log10(np.abs(got / want)))))
    assert off_db <= CONTRACT_LEVEL_DB
    assert off_db <= bank.error.level_db + OWN_REPORT * CONTRACT_LEVEL_DB


def test_a_design_that_misses_says_so() -> None:
    """A bank cut to two taps misses the contract; the measure and the bank both report it."""
    wiring, setting = _plain()
    bank = design_bank(wiring, setting)
    assert bank.error.meets_contract
    taps = bank.taps.copy()
    taps[:, 2:] = 0.0
    assert any(np.greater(_figures(measured(wiring, setting, replace(bank, taps=taps))), BAR))


def test_twin_too_loud_by_little_more_than_the_contract_is_refused() -> None:
    wiring, setting = _plain()
    bank = design_bank(wiring, setting)
    factor = 10.0 ** (TWIN_FACTOR * CONTRACT_LEVEL_DB / 20.0)
    twin = replace(bank, taps=bank.taps * factor, numerators=bank.numerators * factor)
    assert measured(wiring, setting, bank).level_db <= CONTRACT_LEVEL_DB
    assert measured(wiring, setting, twin).level_db > CONTRACT_LEVEL_DB


def test_twin_late_by_little_more_than_the_contract_is_refused() -> None:
    """0.12 degrees at 18 kHz are 0.0009 samples; bars of phase are not met by a whole sample at 20 Hz."""
    wiring, setting = _plain()
    bank = design_bank(wiring, setting)
    late = TWIN_FACTOR * CONTRACT_PHASE_DEG / 360.0 * bank.rate_hz / 18_000.0
    twin = replace(bank, delay=bank.delay + late)  # type: ignore[arg-type]
    assert measured(wiring, setting, bank).phase_deg <= CONTRACT_PHASE_DEG
    assert measured(wiring, setting, twin).phase_deg > CONTRACT_PHASE_DEG
