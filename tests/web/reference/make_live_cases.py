"""Write live_cases.json: models of positions, and what dsp computes of them for some knob values.

python tests/web/reference/make_live_cases.py
"""

from __future__ import annotations

import json
from base64 import b64encode
from pathlib import Path

import numpy as np

from dsp.circuit.response import respond
from dsp.filters.design import design_bank
from dsp.live.model import make_model, pack_model
from dsp.sound.live_level import take_spectra
from server.wirings.text import load_wiring

ROOT = Path(__file__).parents[3]
FILE = Path(__file__).with_name("live_cases.json")
CASES = (
    (ROOT / "demo_audio/baritone.yaml", "5", ({"volume": 8.3, "tone": 4.0}, {"volume": 10.0, "tone": 0.2})),
    (
        ROOT / "tests/reference/networks/twelve_blend.yaml",  # a tap, a no-load track, tracks on one shaft
        "1",
        (
            {"volume": 2.5, "blend": 3.0, "tone": 6.0},
            {"volume": 4.0, "blend": 9.0, "tone": 10.0},
            {"volume": 7.0, "blend": 5.0, "tone": 0.0},
        ),
    ),
)
MOST_BYTES = 130_000
HZ = np.geomspace(25.0, 18_000.0, 40)
RATE_HZ = 48_000


def _complex(values: np.ndarray) -> dict[str, list[list[float]]]:
    return {"re": np.round(values.real, 9).tolist(), "im": np.round(values.imag, 9).tolist()}


def _case(file: Path, position: str, settings: tuple[dict[str, float], ...]) -> dict[str, object]:
    wiring = load_wiring(file)
    model = make_model(wiring, wiring.setting(position, settings[0]), most_bytes=MOST_BYTES)
    rng = np.random.default_rng(1)
    stems = rng.normal(0.0, 0.1, (len(wiring.coils), RATE_HZ))
    spectra = take_spectra(stems, RATE_HZ)
    rows = []
    for knobs in settings:
        at = {**knobs, **{name: model.setting.knobs[name] for name in model.still}}
        setting = wiring.setting(position, at)
        rows.append(
            {
                "knobs": knobs,
                "model": _complex(model.respond(at)[:, ::9]),
                "circuit": _complex(respond(wiring, [setting], HZ).coil[0]),
                "lufs": spectra.loudness_lufs(design_bank(wiring, setting)),
            }
        )
    hz, values = spectra.loud_powers(design_bank(wiring, model.setting))
    return {
        "name": file.stem,
        "model": b64encode(pack_model(model)).decode(),
        "still": list(model.still),
        "powers": {"hz": np.round(hz, 2).tolist(), "values": [float(f"{one:.4g}") for one in values]},
        "settings": rows,
    }


def main() -> None:
    """Write the file."""
    found = {"hz": HZ.tolist(), "every": 9, "cases": [_case(*case) for case in CASES]}
    FILE.write_text(json.dumps(found) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
