"""How coils of drawn guitars are wound, by an exciter's recordings as files: the whole way of the command."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile
from exciter_rig import COILS, TEXT, drawn_guitar, record
from rig import RATE_HZ
from small_wirings import read

from server.verifying.excited import load_windings

pytestmark = pytest.mark.benchmark
GUITARS, SEED, LEAST = 100, 5200, 0.90
ROWS = (("neck", "1"), ("neck", "2"), ("bridge", "2"))


def test_truths_of_recorded_guitars(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    wiring = read(TEXT)
    files = [f"{coil}{at}.wav" for coil, at in ROWS]
    rows = [f"{coil},,{at},{file}" for (coil, at), file in zip(ROWS, files, strict=True)]
    table = tmp_path / "over.csv"
    table.write_text("\n".join(["coil,string,setting,recording", *rows]), encoding="utf-8")
    found_db, true_db, within_db, odd, taken_db = [], [], [], [], []
    for seed in range(SEED, SEED + GUITARS):
        rng = np.random.default_rng(seed)
        guitar = drawn_guitar(rng)
        more_db = 3.0 * rng.standard_normal()
        lies_db = 2.0 / np.sqrt(2.0) * rng.standard_normal(2)
        own_h = 2e-4 * 10 ** ((lies_db + np.array([0.0, more_db])) / 20)
        mutual_h = dict(zip(COILS, own_h, strict=True))
        for (coil, at), file in zip(ROWS, files, strict=True):
            samples = record(coil, at, seed, guitar=guitar, mutual_h=mutual_h[coil])
            soundfile.write(tmp_path / file, samples.T, RATE_HZ, subtype="PCM_24")
        bridge = load_windings(wiring, table, reference="neck")[1].coils[1]
        found_db.append(bridge.found.level.db)
        within_db.append(bridge.found.level.within_db)
        true_db.append(more_db)
        taken_db.append(lies_db[1] - lies_db[0] + more_db)
        odd.append(not bridge.found.level.told or bridge.turned is not False)
    off = np.abs(np.array(found_db) - true_db)
    held = float(np.mean(off <= within_db))
    own = np.abs(np.array(found_db) - taken_db)
    exact = float(np.mean(off <= 1.96 * own.std()))
    with capsys.disabled():
        print(
            f"\n{GUITARS} recorded guitars: within {held:.0%} (±{np.median(within_db):.1f} dB), error"
            f" {np.median(off):.1f} dB, of it without the exciter's place {np.median(own):.2f} dB (at most"
            f" {own.max():.2f}); not told or a sign wrong {np.mean(odd):.0%};"
            f" place taken for exact {exact:.0%}"
        )
    assert held >= LEAST
    assert np.mean(odd) <= 0.05
    assert exact < LEAST, "the twin"
