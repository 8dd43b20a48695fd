"""The reference answers: one ngspice process runs all cases of a network, once per session."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray
from reference.spice import cases_built, cases_by_hand, independent, runner, wiring_file
from reference.spice.cases_by_hand import HUM_BY_HAND, Case
from reference.spice.independent import INJECTION, emf

Complexes = NDArray[np.complex128]

BY_HAND = cases_by_hand.CASES
BUILT = cases_built.CASES
CASES = (*BY_HAND, *BUILT)


@dataclass(frozen=True)
class Reference:
    """ngspice's answer for one case; arrays of shape (n_freqs,)."""

    freqs_hz: NDArray[np.float64]
    coils: Mapping[str, Complexes]
    hum: Complexes
    output_impedance_ohm: Complexes


def drawn(case: Case) -> Reference:
    """The answer of the hand-written netlist."""
    return _drawn(case.network)[str(case)]


def built(case: Case) -> Reference:
    """The answer of the netlist built from the file, nothing merged."""
    return _built(case.network)[str(case)]


def reference(case: Case) -> Reference:
    """The hand-written netlist's answer where there is one, else the built one's."""
    return drawn(case) if case.by_hand else built(case)


def built_deck(case: Case) -> str:
    """The netlist built from the file for a case."""
    wiring = wiring_file.load(case.network)
    return independent.netlist(wiring, wiring_file.Setting(case.position, case.settings))


def _of(network: str, cases: tuple[Case, ...]) -> list[Case]:
    return [case for case in cases if case.network == network]


@cache
def _drawn(network: str) -> dict[str, Reference]:
    deck = (wiring_file.NETWORKS / f"{network}.cir").read_text(encoding="utf-8")
    weights = HUM_BY_HAND[network]
    sources = (*(emf(name) for name in weights), INJECTION)
    cases = _of(network, BY_HAND)
    answers = runner.run([runner.Job(deck, sources, params=case.by_hand) for case in cases])
    return {str(case): _reference(answer, weights) for case, answer in zip(cases, answers, strict=True)}


@cache
def _built(network: str) -> dict[str, Reference]:
    weights = wiring_file.hum_weights(wiring_file.load(network))
    sources = (*(emf(name) for name in weights), INJECTION)
    cases = _of(network, CASES)
    answers = runner.run([runner.Job(built_deck(case), sources) for case in cases])
    return {str(case): _reference(answer, weights) for case, answer in zip(cases, answers, strict=True)}


def _reference(answer: runner.Answer, weights: Mapping[str, float]) -> Reference:
    coils = {name: answer.voltage[emf(name)] for name in weights}
    hum = np.zeros(answer.freqs_hz.shape, dtype=np.complex128)
    for name, weight in weights.items():
        hum += weight * coils[name]
    return Reference(answer.freqs_hz, coils, hum, answer.voltage[INJECTION])
