"""Features of networks computed in bulk, against the circuit engine one by one."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from places import DEMO
from random_wirings import structured
from tolerances import RESONANCE_IN_BULK, SAME_NETWORK

from dsp.circuit.hum import HUM_HZ, hum_residual_db
from dsp.circuit.meter import jack_reading_ohm
from dsp.circuit.response import hum_weights, respond
from dsp.errors import InputError
from dsp.facts.position import position_facts
from dsp.parts.coil import Screening
from dsp.parts.expression import parse_expression
from dsp.parts.kinds import new_part
from dsp.parts.sketch import Sketch
from dsp.sound.spectra import band_energy, standard_notes, stem_spectra
from dsp.sound.timbre import ear_bands
from dsp.sounds.candidates import Candidates, find_candidates
from dsp.wiring.model import Coupling, Wiring
from server.wirings.text import load_wiring


@pytest.fixture(scope="module")
def sketch() -> Wiring:
    return load_wiring(DEMO / "baritone_sketch.yaml")


def as_wiring(wiring: Wiring, expression: str) -> Wiring:
    assert wiring.selector is not None
    parts = {**wiring.parts, wiring.selector: Sketch({"1": parse_expression(expression)})}
    return replace(wiring, parts=parts)


def compare(wiring: Wiring, found: Candidates, some: list[int]) -> None:
    for i in some:
        one = as_wiring(wiring, found.expression_text(i))
        setting = one.setting("1")
        energy = band_energy(one, [setting], found.bands)[0]
        np.testing.assert_allclose(found.energy[i], energy, rtol=0, atol=SAME_NETWORK * energy.max())
        hum_db = hum_residual_db(respond(one, [setting], HUM_HZ).coil[0], hum_weights(one))
        # where coils cancel to the last digits only the size is certain
        assert found.hum_db[i] == pytest.approx(hum_db, abs=1e-4 if hum_db > -90.0 else 20.0), (
            found.expression_text(i)
        )


def screened(wiring: Wiring) -> Wiring:
    """Return the wiring with two coils behind metal, unlike one another and coupled to open ones."""
    shelves = {"neck_a": Screening(0.45, 300.0), "bridge_b": Screening(0.8, 2e3)}
    coils = {
        name: replace(wiring.coils[name], screening=shelf, covered=True) for name, shelf in shelves.items()
    }
    return replace(wiring, parts={**wiring.parts, **coils})


def test_screened_networks_against_the_engine(sketch: Wiring) -> None:
    """The shelf acts on what strings and hum induce, not on what one winding induces in another."""
    wiring = screened(sketch)
    found = find_candidates(wiring)
    some = [int(i) for i in np.random.default_rng(3).choice(len(found), 30, replace=False)]
    compare(wiring, found, some)
    open_air = find_candidates(sketch)
    with pytest.raises(AssertionError):
        compare(wiring, replace(found, energy=open_air.energy), some)


@pytest.mark.parametrize("extra", [None, "bass_cut"])
def test_uncoupled_networks_against_the_engine(sketch: Wiring, extra: str | None) -> None:
    wiring = replace(sketch, couplings=())
    found = find_candidates(wiring, extra=extra)
    some = np.random.default_rng(1).choice(len(found), 40, replace=False)
    compare(wiring, found, [int(i) for i in some])


def test_coupled_networks_against_the_engine(sketch: Wiring) -> None:
    """This includes free coils that act through their coupling."""
    found = find_candidates(sketch)
    some = np.random.default_rng(2).choice(len(found), 40, replace=False)
    compare(sketch, found, [int(i) for i in some])


COEFFICIENTS = {
    "a chain": {("neck_a", "neck_b"): 0.4, ("neck_b", "bridge_a"): -0.3, ("bridge_a", "bridge_b"): 0.2},
    "a ring": {("neck_a", "neck_b"): 0.3, ("neck_b", "bridge_a"): 0.2, ("neck_a", "bridge_a"): 0.25},
    "all with one": {("neck_a", "neck_b"): 0.3, ("neck_a", "bridge_a"): 0.35, ("neck_a", "bridge_b"): -0.2},
}
"""Couplings that no pickup has: of coils in different housings, strong, of one coil with several."""


@pytest.mark.parametrize("name", COEFFICIENTS)
def test_any_coupling_against_the_engine(sketch: Wiring, name: str) -> None:
    """Free coils too, between coils that play, which carry a coupling on."""
    made = [Coupling(*pair, coefficient) for pair, coefficient in COEFFICIENTS[name].items()]
    wiring = replace(sketch, couplings=tuple(made))
    found = find_candidates(wiring)
    some = np.random.default_rng(3).choice(len(found), 40, replace=False)
    free = [i for i, network in enumerate(found.networks) if len(network.coils) == 2][:30:3]
    compare(wiring, found, [*map(int, some), *free])


def test_a_choke_coupled_to_a_coil_against_the_engine(sketch: Wiring) -> None:
    choke = new_part("inductor", inductance=1.5, resistance=90.0)
    wiring = replace(
        sketch,
        parts={**sketch.parts, "choke": choke},
        couplings=(*sketch.couplings, Coupling("choke", "neck_b", 0.3)),
    )
    found = find_candidates(wiring, coils=["neck_a", "neck_b", "bridge_a"], extra="choke")
    some = np.random.default_rng(4).choice(len(found), 30, replace=False)
    compare(
        replace(wiring, couplings=wiring.couplings[:1] + wiring.couplings[2:]), found, list(map(int, some))
    )


@pytest.mark.parametrize("coupled", [False, True])
def test_resonances_against_the_engine(sketch: Wiring, coupled: bool) -> None:
    """The resonance of the loudest coil, as in the facts of a position."""
    wiring = sketch if coupled else replace(sketch, couplings=())
    found = find_candidates(wiring)
    some = np.random.default_rng(5).choice(len(found), 40, replace=False)
    for i in map(int, some):
        one = as_wiring(wiring, found.expression_text(i))
        peak = position_facts(one, [one.setting("1")])[0].resonance
        assert peak is not None
        assert found.resonance_hz[i] == pytest.approx(peak.frequency_hz, rel=RESONANCE_IN_BULK)
    assert len(set(found.resonance_hz.round())) > 20


def test_a_response_that_only_falls_has_no_resonance(sketch: Wiring) -> None:
    """A volume of a few kilohms removes every peak: the engine finds none either."""
    volume = sketch.pots["volume"]
    dull = replace(
        sketch, couplings=(), parts={**sketch.parts, "volume": replace(volume, resistance_ohm=3e3)}
    )
    found = find_candidates(dull, coils=["neck_a", "bridge_a"])
    assert np.isnan(found.resonance_hz).all()
    for i in range(len(found)):
        one = as_wiring(dull, found.expression_text(i))
        assert position_facts(one, [one.setting("1")])[0].resonance is None


def test_the_two_ways_agree_without_coupling(sketch: Wiring) -> None:
    """A coupling too weak to matter sends the same networks the other way."""
    loose = replace(sketch, couplings=())
    weak = replace(sketch, couplings=tuple(replace(c, coefficient=1e-13) for c in sketch.couplings))
    by_formula, by_nodes = find_candidates(loose), find_candidates(weak)
    assert by_formula.signs.tolist() == by_nodes.signs.tolist()
    largest = by_formula.energy.max(axis=1, keepdims=True)
    np.testing.assert_allclose(by_nodes.energy / largest, by_formula.energy / largest, rtol=0, atol=1e-8)


def test_a_coupling_changes_the_features(sketch: Wiring) -> None:
    with_it, without = find_candidates(sketch), find_candidates(replace(sketch, couplings=()))
    assert np.max(np.abs(with_it.level_db - without.level_db)) > 0.3


def test_hum_of_known_pairs(sketch: Wiring) -> None:
    """Common practice, no source: coils of opposite winding and magnet cancel hum, in series and in
    parallel; coils of the same winding do not; nor does one on its own."""
    found = find_candidates(sketch, coils=["neck_a", "neck_b", "bridge_a"])
    hum = {found.expression_text(i): float(found.hum_db[i]) for i in range(len(found))}
    opposed = {found.expression_text(i): bool(found.opposed[i]) for i in range(len(found))}
    assert hum["neck_a + neck_b"] < -60.0
    assert hum["neck_a | neck_b"] < -30.0
    assert hum["neck_a + bridge_a"] > -1.0
    assert hum["neck_a"] > -1.0
    assert hum["neck_a + -neck_b"] > -1.0
    assert opposed["neck_a + -neck_b"]
    assert not opposed["neck_a + neck_b"]


def test_the_meter_reads_at_the_jack(sketch: Wiring) -> None:
    """The volume pot, 500 kΩ at 10, lies beside the coils; a capacitor in series leaves it alone."""
    found = find_candidates(sketch, coils=["neck_a", "bridge_a"], extra="bass_cut")
    reading = {found.expression_text(i): float(found.reading_ohm[i]) for i in range(len(found))}
    assert reading["(neck_a + bridge_a) | bass_cut"] == pytest.approx(1.0 / (1.0 / 9300.0 + 1.0 / 500e3))
    assert reading["neck_a + bass_cut"] == pytest.approx(500e3)
    assert reading["neck_a + (bridge_a | bass_cut)"] == reading["(neck_a + bridge_a) | bass_cut"]


@pytest.mark.parametrize("seed", range(24))
def test_the_meter_reads_the_same_as_of_the_whole_wiring(seed: int) -> None:
    """For any controls: backwards pots, drains, no pot at all."""
    rng = np.random.default_rng(seed)
    wiring = structured(rng)
    while wiring.sketch is None:
        wiring = structured(rng)
    wiring = replace(wiring, couplings=())
    found = find_candidates(wiring, coils=list(wiring.coils)[:3])
    for i in rng.choice(len(found), min(6, len(found)), replace=False):
        one = as_wiring(wiring, found.expression_text(int(i)))
        assert found.reading_ohm[i] == pytest.approx(jack_reading_ohm(one, one.setting("1")), rel=1e-9)


def test_the_meter_reads_what_facts_say_in_every_sound_of_the_demo(sketch: Wiring) -> None:
    found = find_candidates(sketch, coils=["neck_a", "neck_b", "bridge_a"])
    for i in range(len(found)):
        one = as_wiring(sketch, found.expression_text(i))
        assert found.reading_ohm[i] == pytest.approx(jack_reading_ohm(one, one.setting("1")), rel=1e-12)


def test_spectra_of_stems(sketch: Wiring) -> None:
    """Stems of one sine: all energy in one band, the coils' products with their signs."""
    bands = ear_bands()
    sine = np.sin(2.0 * np.pi * 440.0 * np.arange(48_000) / 48_000.0)
    spectra = stem_spectra([np.outer([1.0, -0.5, 0.0, 2.0], sine)], 48_000.0, bands)
    at = int(bands.sub_band(np.array([440.0]))[0])
    total = spectra.sum(axis=0)
    np.testing.assert_allclose(total[0, 1] / total[0, 0], -0.5, rtol=1e-6)
    assert spectra[at, 0, 0].real > 0.99 * total[0, 0].real
    heard = find_candidates(sketch, spectra=spectra)
    assert len(heard) == len(find_candidates(sketch, spectra=standard_notes(sketch, bands)))


def test_a_selector_that_is_a_switch_has_no_hot_and_cold() -> None:
    with pytest.raises(InputError, match="selector: got a switch; allowed: a sketch"):
        find_candidates(load_wiring(DEMO / "baritone.yaml"))
