"""Networks that lead a knob to a goal against decks drawn by hand, in ngspice.

The ohms are worked out by hand: share x resistance between lugs 1 and 2, the rest between 2 and 3. Reverse
audio (85 % at half travel) at 4: 68 %, so 160 k of 500 k are left between 2 and 3. Audio (15 %) at 4: 12 %.
An eddy share of 25 % at 3.5 kHz: 0.5 H of 2.0 H beside 2 pi 3500 x 0.5 = 10.9956 k.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import pytest
from reference.spice import runner
from reference.spice.compare import agrees, deviation
from tenor import tenor
from tolerances import LEVEL_DB, TWIN_FACTOR

from dsp.circuit.response import respond
from dsp.knobs.goal_networks import fit_across, goal_networks
from dsp.knobs.networks import NetworkVariant
from dsp.knobs.tracks import Track
from dsp.parts.taper import from_points, named
from dsp.wiring.model import Wiring

pytestmark = pytest.mark.reference

COILS = """\
* one coil of a pair; pas, pa_end its start and finish, pbs, pbf those of the other
.option noopac
VE_pa pae pa_end DC 0 AC 0
Rpa pae pa1 4.3k
Lpa pa1 pa2 1.5
Lpae pa2 pas 0.5
Rpae pa2 pas 10.99557k
Cpa pas pa_end 150p
"""
OTHER = """\
VE_pb pbe pbf DC 0 AC 0
Rpb pbe pb1 4.2k
Lpb pb1 pb2 1.4625
Lpbe pb2 pbs 0.4875
Rpbe pb2 pbs 10.72068k
Cpb pbs pbf 150p
"""
LOAD = """\
Rvolume out 0 500k
Ccable out 0 500p
Camp out 0 20p
Ramp out 0 1meg
.end
"""
WIRE = "V{0}{1} {0} {1} 0\n"


def wires(*pairs: tuple[str, str]) -> str:
    return "".join(WIRE.format(*pair) for pair in pairs)


BRIDGED = COILS + wires(("pa_end", "0")) + "Cx pas out 470p\nRx pas out 160k\n" + LOAD
TAPERED = COILS + wires(("pa_end", "0")) + "Cx pas out 470p\nRx pas out 160k\nRt pas out 220k\n" + LOAD
AGAINST = (
    COILS
    + OTHER
    + wires(("pas", "out"), ("pbf", "pa_end"), ("pbs", "0"))
    + "Cx pa_end 0 4.7n\nRx pa_end 0 12k\n"
    + LOAD
)
BESIDE = (
    COILS
    + OTHER
    + wires(("pas", "out"), ("pa_end", "0"), ("pbf", "out"))
    + "Cx pbs x 3.3n\nRx x 0 12k\n"
    + LOAD
)
CURVE = COILS + wires(("pas", "out"), ("pa_end", "0")) + "Rx out x 14.2k\nCx x 0 1n\n" + LOAD
EVEN = from_points([(0.0, 0.0), (0.25, 0.07), (0.5, 0.19), (0.75, 0.42), (1.0, 1.0)])


@pytest.fixture(scope="module")
def networks() -> Mapping[tuple[str, str, tuple[str, int] | tuple[()]], NetworkVariant]:
    wiring = tenor()
    found = goal_networks(wiring, wiring.setting("2"), "tone")
    return {(one.text, one.only, one.fades): one for one in found}


CASES = {
    "bridged": (("470 pF bridged by the knob", "", ()), Track(500e3, named("reverse audio")), BRIDGED),
    "tapered": (
        ("470 pF bridged by the knob", "", ()),
        Track(500e3, named("reverse audio"), across_ohm=220e3),
        TAPERED,
    ),
    "against": (
        ("pb in series, bridged by the knob and 4.7 nF", "2", ("pb", -1)),
        Track(100e3, named("audio")),
        AGAINST,
    ),
    "beside": (("pb in parallel through 3.3 nF", "2", ("pb", -1)), Track(100e3, named("audio")), BESIDE),
    "curve": (("1 nF", "2", ()), Track(100e3, EVEN), CURVE),
}


@pytest.mark.parametrize("case", CASES)
def test_a_network_for_a_goal_in_ngspice(
    case: str, networks: Mapping[tuple[str, str, tuple[str, int] | tuple[()]], NetworkVariant]
) -> None:
    key, track, deck = CASES[case]
    wiring: Wiring = tenor()
    tried = networks[key]
    change = tried.change
    if track.across_ohm is not None:
        change = fit_across(change, wiring, tried, "tone", track.across_ohm)
    built = change.apply(wiring)
    pot = replace(wiring.pots["tone"], taper=track.taper, resistance_ohm=track.resistance_ohm)
    built = replace(built, parts={**built.parts, "tone": pot})
    names = [name for name in ("pa", "pb") if f"VE_{name}" in deck]
    (answer,) = runner.run([runner.Job(deck, tuple(f"VE_{name}" for name in names))])
    found = respond(built, [built.setting("2", {"tone": 4.0})], answer.freqs_hz)
    for name in names:
        got, want = found.coil[0, found.coils.index(name)], answer.voltage[f"VE_{name}"]
        assert agrees(deviation(got, want)), (name, deviation(got, want))
        assert not agrees(deviation(got * 10.0 ** (LEVEL_DB * TWIN_FACTOR / 20.0), want))
    elsewhere = respond(built, [built.setting("2", {"tone": 4.1})], answer.freqs_hz)
    other = elsewhere.coil[0, found.coils.index("pa")]
    assert not agrees(deviation(other, answer.voltage["VE_pa"])), "another setting is another curve"
    assert np.abs(other).max() > 0.0
