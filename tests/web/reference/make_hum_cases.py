"""Write hum_cases.json: noise in a room's hum by dsp, which the page's player must equal.

    python tests/web/reference/make_hum_cases.py

The noise and the setting are those of the player's sweep (`make_player_cases.py`).
"""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
from make_player_cases import ROOT, stems

from dsp.filters.design import design_bank
from dsp.filters.run import Runner
from dsp.sound.hum import Hum, add_hum, hum_record, pick_up_m2
from server.wirings.text import load_wiring

FILE = Path(__file__).with_name("hum_cases.json")
RATE_HZ = 48_000
SAMPLES, EVERY = 12_000, 37
HUMS = (Hum("quiet", 60.0), Hum("amplifier", 50.0))


def main() -> None:
    """Write the file."""
    wiring = load_wiring(ROOT / "demo_audio" / "baritone.yaml")
    bank = design_bank(wiring, wiring.setting("2", {"tone": 10.0}))
    outputs = {}
    for hum in HUMS:
        blocks = add_hum([stems(len(wiring.coils), SAMPLES)], wiring, hum, RATE_HZ)
        runner = Runner(bank)
        heard, _ = runner.run(np.concatenate(list(blocks), axis=1), runner.initial_state())
        outputs[f"{hum.room} {hum.mains_hz:g}"] = heard[::EVERY].tolist()
    case = {"samples": SAMPLES, "every": EVERY, "areas": pick_up_m2(wiring).tolist(), "outputs": outputs}
    FILE.write_text(json.dumps({"record": hum_record(RATE_HZ), **case}) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
