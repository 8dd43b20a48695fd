"""A take loud enough to exceed full scale, and `presolder render` on it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile
from click.testing import CliRunner, Result
from places import DEMO
from render_case import COILS, Render

from server.cli import main


@pytest.fixture
def take(tmp_path: Path) -> Path:
    """Make two seconds of decaying noise bursts that exceed full scale after a resonance."""
    rng = np.random.default_rng(7)
    n = 2 * 48_000
    envelope = np.exp(-np.arange(n) % 24_000 / 9_000.0)
    burst = rng.standard_normal(n) * envelope
    stems = np.stack([burst * gain for gain in (0.30, 0.28, 0.22, 0.2)], axis=1)
    soundfile.write(tmp_path / "stems.wav", stems, 48_000, "FLOAT")
    file = tmp_path / "bursts.yaml"
    file.write_text(
        f"format: 1\nname: Bursts\nkind: coils\naudio: stems.wav\nchannels: [{', '.join(COILS)}]\n"
    )
    return file


@pytest.fixture
def render(take: Path, tmp_path: Path) -> Render:
    def run(*more: str, wiring: Path = DEMO / "baritone.yaml") -> Result:
        arguments = ["render", str(wiring), "--take", str(take), "--out", str(tmp_path / "out"), *more]
        return CliRunner().invoke(main, arguments, catch_exceptions=False)

    return run
