"""What a chain changes between positions: levels and distances, two demos, four ways, three takes.

It measures no speed: it prints a table for tests/README.md, and takes a minute.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from numpy.typing import NDArray
from places import DEMO
from scipy.stats import spearmanr

from dsp.chain.run import Chain
from dsp.chain.stream import Stream
from dsp.chain.ways import WAYS
from dsp.filters.design import design_bank
from dsp.filters.run import Runner
from dsp.parts.load import Load
from dsp.sound.loudness import integrated_lufs
from dsp.sound.spectra import stem_spectra
from dsp.sound.timbre import ear_bands, loudness_weighted_distance, timbre, timbre_distance
from dsp.wiring.model import Setting, Wiring
from server.takes.load import load_take
from server.wirings.text import load_wiring

pytestmark = pytest.mark.benchmark

Floats = NDArray[np.float64]
RATE_HZ = 48_000
TAKES = ("open_chords", "lead_line", "low_riff")
VALVE_INPUT = Load(amplifier_ohm=1e6, amplifier_f=150e-12)
SIZE = 1 << 14
PAIRS = 15


def settings_of(wiring: Wiring) -> list[Setting]:
    """Return every position, and of the twelve-string the middle one with a coil turned round."""
    turned = [wiring.setting("2", switches={"phase": "2"})] if "phase" in wiring.stands else []
    return [*(wiring.setting(position) for position in wiring.positions), *turned]


def heard(wiring: Wiring, take: str) -> dict[str, list[Floats]]:
    """Return what each position sounds like, by way; the drive as for a set."""
    stems = np.concatenate(list(load_take(DEMO / f"{take}.yaml").stems(wiring, RATE_HZ)), axis=1)
    volts = []
    for setting in settings_of(wiring):
        runner = Runner(design_bank(wiring, setting, RATE_HZ))
        volts.append(runner.run(stems, runner.initial_state())[0])
    found = {}
    for name, way in WAYS.items():
        streams = [Stream(Chain(way, RATE_HZ)) for _ in volts]
        sounds = [np.concatenate(list(one.run([volt]))) for one, volt in zip(streams, volts, strict=True)]
        lowered_db = max(one.excess_db for one in streams)
        if lowered_db > 0.0:
            again = Chain(way, RATE_HZ, lowered_db=lowered_db)
            sounds = [np.concatenate(list(Stream(again).run([volt]))) for volt in volts]
        found[name] = sounds
    return found


def energies(sound: Floats) -> Floats:
    bands = ear_bands()
    whole = len(sound) - len(sound) % SIZE
    spectra = stem_spectra((one[None, :] for one in sound[:whole].reshape(-1, SIZE)), RATE_HZ, bands)
    return spectra[:, 0, 0].real.reshape(bands.n_bands, -1).sum(axis=1)


def distances(sounds: list[Floats]) -> tuple[Floats, Floats]:
    """Return the distances of all pairs: root mean square, and weighted by loudness, dB."""
    bands = [energies(one) for one in sounds]
    pairs = list(combinations(bands, 2))
    plain = [float(timbre_distance(timbre(a), timbre(b))) for a, b in pairs]
    return np.array(plain), np.array([loudness_weighted_distance(a, b) for a, b in pairs])


@pytest.mark.parametrize("name", ["baritone", "twelve"])
def test_what_the_chain_changes(name: str) -> None:
    wiring = replace(load_wiring(DEMO / f"{name}.yaml"), load=VALVE_INPUT)
    for take in TAKES:
        sounds = heard(wiring, take)
        apart = {way: distances(one) for way, one in sounds.items()}
        lufs = {way: [integrated_lufs(one, RATE_HZ) for one in some] for way, some in sounds.items()}
        for way in WAYS:
            levels = np.array(lufs[way]) - lufs[way][0]
            ranks = [float(spearmanr(apart["direct"][k], apart[way][k]).statistic) for k in (0, 1)]
            medians = [float(np.median(one)) for one in apart[way]]
            print(
                f"{name:9} {take:12} {way:7} LU {' '.join(f'{one:+.1f}' for one in levels)}"
                f" | median {medians[0]:.2f} / {medians[1]:.2f} dB | rank {ranks[0]:.2f} / {ranks[1]:.2f}"
            )
        if len(apart["direct"][1]) >= PAIRS:  # of a few pairs, two nearly alike may change places
            assert spearmanr(apart["direct"][1], apart["clean"][1]).statistic >= 0.85
        gained = (np.array(lufs["clean"]) - lufs["clean"][0]) - (np.array(lufs["direct"]) - lufs["direct"][0])
        assert max(np.abs(gained)) > 1.0, "levels between positions do not hold"
