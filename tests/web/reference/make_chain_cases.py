"""Write chain_cases.json: noise through every way by dsp, which the page's chain must equal.

    python tests/web/reference/make_chain_cases.py

The noise is the player's (`make_player_cases.py`), raised to the volts of a loud pickup.
"""

from __future__ import annotations

import json
from pathlib import Path

from make_player_cases import noise

from dsp.chain.chain_record import chain_record
from dsp.chain.run import Chain
from dsp.chain.ways import WAYS

FILE = Path(__file__).with_name("chain_cases.json")
RATE_HZ = 48_000.0
RAISED = 8.0
"""Samples up to half a volt: they bend the most in driven."""
LOWERED_DB = 2.5
SAMPLES, EVERY = 6000, 17


def main() -> None:
    """Write the file."""
    volts = RAISED * noise(5, SAMPLES)
    outputs = {}
    for name, way in WAYS.items():
        for lowered_db in (0.0, LOWERED_DB):
            chain = Chain(way, RATE_HZ, lowered_db=lowered_db)
            heard, _ = chain.run(volts, chain.initial_state())
            outputs[f"{name} {lowered_db:g}"] = heard[::EVERY].tolist()
    case = {"samples": SAMPLES, "raised": RAISED, "every": EVERY, "outputs": outputs}
    text = json.dumps({"chain": chain_record(RATE_HZ), **case})
    FILE.write_text(text + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
