"""Impulses rendered to clips, and their spectra against ngspice: the whole path at once.

A take of one impulse per coil, far enough apart to ring out, is rendered by the command. The
spectrum of the clip after each impulse is that coil's response, and ngspice computes the same from
a netlist that the tests draw or build themselves.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile
from click.testing import CliRunner
from numpy.typing import NDArray
from reference.spice import references
from reference.spice.cases_built import CASES as BUILT
from reference.spice.cases_by_hand import CASES as DRAWN
from reference.spice.cases_by_hand import Case
from reference.spice.wiring_file import NETWORKS
from tolerances import CLIP_LEVEL_DB, CLIP_PHASE_DEG, CLIP_TOP_DB

from server.cli import main

pytestmark = pytest.mark.reference
RATE_HZ = 48_000
APART = 48_000
"""Samples between impulses: one second, after which the slowest mode here has died away."""
BEFORE = 1_000
BLOCK = 200
"""Samples that one step of the transform takes; a whole number of them is APART."""
SILENT_V = 1e-9
"""Per volt of EMF: ngspice leaves 1e-16 of a coil that is not heard."""


def _cases() -> list[Case]:
    """Return two settings of every network, the first and one from the middle."""
    found: dict[str, list[Case]] = {}
    for case in (*DRAWN, *BUILT):
        found.setdefault(case.network, []).append(case)
    return [cases[i] for cases in found.values() for i in sorted({0, len(cases) // 2})]


def _take(folder: Path, coils: list[str]) -> Path:
    stems = np.zeros((BEFORE + APART * len(coils), len(coils)))
    for k in range(len(coils)):
        stems[BEFORE + APART * k, k] = 1.0
    soundfile.write(folder / "stems.wav", stems, RATE_HZ, "FLOAT")
    take = folder / "impulses.yaml"
    take.write_text(
        f"format: 1\nname: Impulse test\nkind: coils\naudio: stems.wav\nchannels: [{', '.join(coils)}]\n"
    )
    return take


def _clip(folder: Path, case: Case, coils: list[str]) -> NDArray[np.float64]:
    arguments = ["render", str(NETWORKS / f"{case.network}.yaml"), "--take", str(_take(folder, coils))]
    arguments += ["--position", "all" if case.position is None else str(case.position)]
    for name, value in case.settings.items():
        arguments += ["--set", f"{name}={value if isinstance(value, str) else repr(value)}"]
    done = CliRunner().invoke(main, [*arguments, "--out", str(folder / "clips")], catch_exceptions=False)
    assert done.exit_code == 0, done.output
    (file,) = (folder / "clips").glob("*.wav")
    clip, rate_hz = soundfile.read(file)
    assert rate_hz == RATE_HZ
    assert len(clip) == BEFORE + APART * len(coils)
    return clip


def _response(clip: NDArray[np.float64], k: int, freqs_hz: NDArray[np.float64]) -> NDArray[np.complex128]:
    """Return the Fourier transform of the clip around impulse k, with time from the impulse.

    The sum over samples goes block by block: the turns of a phase within a block are the same in all.
    """
    start = APART * k + BEFORE // 2
    blocks = clip[start : start + APART].reshape(-1, BLOCK)
    turns = -2j * np.pi * freqs_hz[:, None] / RATE_HZ
    within = np.exp(turns * np.arange(BLOCK)) @ blocks.T
    starts = BLOCK * np.arange(len(blocks)) - BEFORE // 2
    return np.sum(np.exp(turns * starts) * within, axis=1)


def _errors(
    got: NDArray[np.complex128], want: NDArray[np.complex128], freqs_hz: NDArray[np.float64]
) -> tuple[float, float, float]:
    """Largest errors in dB and degrees up to 18 kHz, and in dB up to 20 kHz, within 60 dB of the peak."""
    counts = np.abs(want) >= np.max(np.abs(want)) * 1e-3
    if np.max(np.abs(want)) < SILENT_V:
        assert np.max(np.abs(got)) < SILENT_V
        return 0.0, 0.0, 0.0
    ratio = got[counts] / want[counts]
    low = freqs_hz[counts] <= 18_000.0
    level = np.abs(20.0 * np.log10(np.abs(ratio)))
    return (
        float(level[low].max(initial=0.0)),
        float(np.abs(np.angle(ratio[low], deg=True)).max(initial=0.0)),
        float(level.max(initial=0.0)),
    )


@pytest.mark.parametrize("case", _cases(), ids=lambda case: f"{case.network}-{case.position}")
def test_clip_of_impulses_is_the_circuit(case: Case, tmp_path: Path) -> None:
    want = references.reference(case)
    coils = list(want.coils)
    clip = _clip(tmp_path, case, coils)
    for k, coil in enumerate(coils):
        freqs_hz = want.freqs_hz
        level, phase, top = _errors(_response(clip, k, freqs_hz), want.coils[coil], freqs_hz)
        assert (level <= CLIP_LEVEL_DB, phase <= CLIP_PHASE_DEG, top <= CLIP_TOP_DB) == (True, True, True), (
            coil, level, phase, top,
        )  # fmt: skip


def test_a_clip_a_little_off_is_refused(tmp_path: Path) -> None:
    """The twin: 0.02 dB of gain, or a twentieth of a sample of delay, is found."""
    case = _cases()[0]
    want = references.reference(case)
    coil = next(iter(want.coils))
    got = _response(_clip(tmp_path, case, list(want.coils)), 0, want.freqs_hz)
    late = got * np.exp(-2j * np.pi * want.freqs_hz * 0.05 / RATE_HZ)
    assert _errors(got * 10.0 ** (0.02 / 20.0), want.coils[coil], want.freqs_hz)[0] > CLIP_LEVEL_DB
    assert _errors(late, want.coils[coil], want.freqs_hz)[1] > CLIP_PHASE_DEG
