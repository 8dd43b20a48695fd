"""Five sounds of an instrument said in words, in ngspice: the netlist is written by hand.

A single coil at the neck, one in the middle (reverse wound), a two-coil pickup at the bridge; one volume of
500 kΩ, one tone of 500 kΩ with 22 nF, both at 10; 5 m of cable at 100 pF/m and an input of 1 MΩ and 150 pF.
The numbers of the coils are typed again here from the library's page, not read by the product.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from reference.spice import runner
from reference.spice.compare import agrees, deviation

from dsp.circuit.response import respond
from dsp.lugs.make import make_chart
from dsp.lugs.rules import ChartRules
from dsp.lugs.targets import targets_of
from server.searches.lugs import apply_chart
from server.wirings.charted import ChartedText
from server.wirings.in_words import make_text, words_from
from server.wirings.switches import load_switch

pytestmark = pytest.mark.reference

WORDS = {
    "answers": {"neck": "single", "middle": "single", "bridge": "humbucker"},
    "switch": "blade_5_four_pole",
}
COILS = {  # ohms, henries, farads, share of the inductance with eddy losses, their corner in Hz
    "neck": (5400.0, 2.2, 130e-12, 0.50, 16e3),
    "middle": (6100.0, 2.5, 125e-12, 0.50, 16e3),
    "bridge_a": (4300.0, 1.93, 165e-12, 0.48, 3.8e3),
    "bridge_b": (4300.0, 1.93, 165e-12, 0.48, 3.8e3),
}
SCREENED = {"bridge_a": (0.20, 2e3), "bridge_b": (0.20, 2e3)}
"""Share of the EMF that the pole pieces take away far above a corner in Hz."""
COUPLED = 0.18
POSITIONS = {  # start and finish of each coil that sounds; "hot" is the volume's lug 3
    "1": {"neck": ("hot", "0")},
    "2": {"neck": ("hot", "0"), "middle": ("hot", "0")},
    "3": {"middle": ("hot", "0")},
    "4": {"middle": ("hot", "0"), "bridge_a": ("hot", "0")},
    "5": {"bridge_a": ("hot", "link"), "bridge_b": ("link", "0")},
}
CONTROLS = """
Rvolume hot 0 500k
Rtone hot tone 500k
Ctone tone 0 22n
Ccable hot 0 500p
Rinput hot 0 1meg
Cinput hot 0 150p
"""


def deck(position: str) -> str:
    """Write the network of a position; the output is the volume's wiper, at lug 3."""
    lines = [f"* position {position}", ".option noopac", CONTROLS]
    sounding = POSITIONS[position]
    for name, (ohm, henry, farad, share, corner_hz) in COILS.items():
        start, finish = sounding.get(name, (f"{name}_free", f"{name}_free_end"))
        lossy = share * henry
        lost, slow_hz = SCREENED.get(name, (0.0, 1e3))
        lines += [
            f"VE_{name} {name}_emf 0 AC 0",
            f"Rslow_{name} {name}_emf {name}_slow 1k",
            f"Cslow_{name} {name}_slow 0 {1.0 / (2.0 * math.pi * slow_hz * 1e3)!r}",
            f"Efast_{name} {name}1 {name}0 {name}_emf 0 {1.0 - lost!r}",
            f"Eslow_{name} {name}0 {finish} {name}_slow 0 {lost!r}",
            f"R{name} {name}1 {name}2 {ohm!r}",
            f"L{name} {name}2 {name}3 {henry - lossy!r}",
            f"Leddy_{name} {name}3 {start} {lossy!r}",
            f"Reddy_{name} {name}3 {start} {2.0 * math.pi * corner_hz * lossy!r}",
            f"C{name} {start} {finish} {farad!r}",
        ]
        if name not in sounding:
            lines.append(f"Rtie_{name} {finish} 0 1meg")  # no current: the coil hangs by nothing else
    whole, lossless = 1.93, 0.52 * 1.93
    lines.append(f"Kbridge Lbridge_a Lbridge_b {COUPLED * whole / lossless!r}")
    return "\n".join([*lines, ".end", ""])


def test_the_five_sounds_said_in_words_are_those_of_a_netlist_by_hand() -> None:
    text, sounds = make_text(words_from(WORDS))
    assert [one.words for one in sounds][3:] == ["middle with bridge, one coil", "bridge, both coils"]
    sketched = ChartedText(text, "words")
    wiring = sketched.wiring()
    made = make_chart(
        targets_of(wiring),
        load_switch("blade_5_four_pole"),
        ChartRules("fixed", turning=False),
        time_s=60.0,
        progress=lambda stage, chart: True,
    )
    assert made.chart is not None
    apply_chart(sketched, wiring, targets_of(wiring), made.chart, "blade", ())
    charted = sketched.wiring()
    assert charted.sketch is None
    jobs = [
        runner.Job(deck(position), tuple(f"VE_{name}" for name in COILS), node="hot")
        for position in POSITIONS
    ]
    for position, answer in zip(POSITIONS, runner.run(jobs), strict=True):
        got = respond(charted, [charted.setting(position)], answer.freqs_hz)
        for name in POSITIONS[position]:
            mine = got.coil[0, list(got.coils).index(name)]
            assert agrees(deviation(mine, answer.voltage[f"VE_{name}"])), (position, name)
        silent = set(COILS) - set(POSITIONS[position])
        loudest = max(float(np.abs(one).max()) for one in answer.voltage.values())
        for name in silent - {"bridge_b"}:  # a hanging coil of the pair is still coupled to its twin
            assert float(np.abs(got.coil[0, list(got.coils).index(name)]).max()) < 1e-6 * loudest
