"""Write player_cases.json: small cases rendered by dsp, which the page's player must equal.

    python tests/web/reference/make_player_cases.py

The stems are noise of a generator simple enough to be written again in JavaScript (the minimal
standard generator of S. K. Park, K. W. Miller, Comm. ACM 31 (1988) 1192-1201), so that the file
holds filters and outputs only.
"""

from __future__ import annotations

import json
from base64 import b64encode
from pathlib import Path

import numpy as np

from dsp.filters.design import design_bank
from dsp.filters.run import Runner
from dsp.sound.movement import Step
from dsp.sound.render import Renderer, warm_up_samples
from server.bench.hearing import frame_of
from server.wirings.text import load_wiring

ROOT = Path(__file__).parents[3]
FILE = Path(__file__).with_name("player_cases.json")
FADE = 960
EVERY = 61
"""Interval of the samples kept of a long output; no fade or block is a multiple of it."""


def noise(seed: int, n: int) -> np.ndarray:
    """Return samples between -1/16 and 1/16, too small for the player's guard."""
    found, state = np.empty(n), seed
    for i in range(n):
        state = state * 16807 % 2147483647
        found[i] = (state / 2147483647 - 0.5) / 8.0
    return found.astype(np.float32).astype(float)


def stems(n_coils: int, n: int) -> np.ndarray:
    """Return a row of noise per coil."""
    return np.array([noise(1 + k, n) for k in range(n_coils)])


Stand = tuple[str, dict[str, float]]
"""Position and knobs."""


def case(file: str, settings: list[Stand], starts: list[int], n: int) -> dict[str, object]:
    """Render a chain of settings whose fades begin, in the player, at the given samples.

    The player's output lags by the filters' delay, and the renderer moves its fades along.
    """
    wiring = load_wiring(ROOT / "demo_audio" / file)
    banks = [design_bank(wiring, wiring.setting(position, knobs)) for position, knobs in settings]
    delay = banks[0].delay
    chain = [Step(0, 0, wiring.setting(*settings[0]))] + [
        Step(at - delay, FADE, wiring.setting(*one)) for at, one in zip(starts, settings[1:], strict=True)
    ]
    left = list(banks)
    signal = stems(len(wiring.coils), n)
    whole = np.concatenate(list(Renderer(chain, lambda setting: left.pop(0), 48_000.0).render([signal])))
    return {
        "file": file,
        "coils": len(wiring.coils),
        "samples": n,
        "delay": delay,
        "every": EVERY,
        "starts": starts,
        "frames": [b64encode(frame_of(i + 1, bank, 0.0)).decode() for i, bank in enumerate(banks)],
        "warm": [warm_up_samples(bank) for bank in banks],
        "output": whole[::EVERY].tolist(),
    }


def bank_case() -> dict[str, object]:
    """Render one bank over a short stretch, sample by sample."""
    wiring = load_wiring(ROOT / "demo_audio" / "twelve.yaml")
    bank = design_bank(wiring, wiring.setting("2", {"volume": 6.0}))
    runner = Runner(bank)
    output, _ = runner.run(stems(len(wiring.coils), 512), runner.initial_state())
    frame = b64encode(frame_of(9, bank, -3.5)).decode()
    return {"coils": len(wiring.coils), "frame": frame, "output": output.tolist()}


def main() -> None:
    """Write the file."""
    sweep = [("2", {"tone": tone}) for tone in (10.0, 7.5, 5.0, 2.5, 0.0)]
    cases = {
        "bank": bank_case(),
        "still": case("baritone.yaml", [("1", {})], [], 24_000),
        "flip": case("baritone.yaml", [("1", {"tone": 4.0}), ("4", {"tone": 3.0})], [9600], 24_000),
        "sweep": case("baritone.yaml", sweep, [4096, 6144, 8192, 10_240], 24_000),
    }
    FILE.write_text(json.dumps(cases) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
