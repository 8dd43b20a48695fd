"""The reference program itself, first: ngspice through the runner against closed forms."""

from __future__ import annotations

import numpy as np
import pytest
from reference.spice import quantities, runner
from tolerances import CLOSED_FORM

pytestmark = pytest.mark.reference


def _run(*lines: str, sources: tuple[str, ...] = ("VIN",), **options: object) -> runner.Answer:
    deck = "\n".join(["* closed form", ".option noopac", *lines, ".end", ""])
    return runner.run([runner.Job(deck, sources, **options)])[0]  # type: ignore[arg-type]


def _omega(answer: runner.Answer) -> np.ndarray:
    return 2j * np.pi * answer.freqs_hz


def test_the_sweep_has_both_ends() -> None:
    answer = _run("VIN out 0 DC 0 AC 0", "R1 out 0 1")
    np.testing.assert_allclose(answer.freqs_hz, 20.0 * 10 ** (np.arange(61) / 20.0), rtol=CLOSED_FORM)
    assert np.all(answer.voltage["VIN"] == 1.0)


def test_rc_low_pass() -> None:
    """1/(1 + sRC), any textbook."""
    answer = _run("VIN in 0 DC 0 AC 0", "R1 in out 220k", "C1 out 0 470p")
    want = 1.0 / (1.0 + _omega(answer) * 220e3 * 470e-12)
    np.testing.assert_allclose(answer.voltage["VIN"], want, rtol=CLOSED_FORM)


def test_coil_with_capacitance_and_load() -> None:
    """Series R, L into C beside R: the base model of a coil with its load."""
    answer = _run("VIN in 0 DC 0 AC 0", "R1 in a 6k", "L1 a out 2.4", "C1 out 0 610p", "R2 out 0 200k")
    s = _omega(answer)
    shunt = 1.0 / (1.0 / 200e3 + s * 610e-12)
    np.testing.assert_allclose(answer.voltage["VIN"], shunt / (shunt + 6e3 + s * 2.4), rtol=CLOSED_FORM)


@pytest.mark.parametrize("k", [0.3, -0.3])
def test_coupled_inductors_aid_and_oppose(k: float) -> None:
    """Series aiding L1 + L2 + 2M, M = k sqrt(L1 L2); a negative k opposes (textbook)."""
    answer = _run("VIN in 0 DC 0 AC 0", "L1 in m 2", "L2 m out 3", f"K1 L1 L2 {k}", "R1 out 0 10k")
    total = 5.0 + 2.0 * k * np.sqrt(6.0)
    np.testing.assert_allclose(answer.voltage["VIN"], 1e4 / (1e4 + _omega(answer) * total), rtol=CLOSED_FORM)


def test_swapping_the_nodes_of_an_inductor_is_a_negative_k() -> None:
    answer = _run("VIN in 0 DC 0 AC 0", "L1 m in 2", "L2 m out 3", "K1 L1 L2 0.3", "R1 out 0 10k")
    total = 5.0 - 0.6 * np.sqrt(6.0)
    np.testing.assert_allclose(answer.voltage["VIN"], 1e4 / (1e4 + _omega(answer) * total), rtol=CLOSED_FORM)


def test_an_injected_ampere_reads_the_impedance() -> None:
    answer = _run("IOUT 0 out DC 0 AC 0", "R1 out 0 47k", "C1 out 0 1n", sources=("IOUT",))
    want = 1.0 / (1.0 / 47e3 + _omega(answer) * 1e-9)
    np.testing.assert_allclose(answer.voltage["IOUT"], want, rtol=CLOSED_FORM)


def test_one_tie_on_an_island_disturbs_nothing() -> None:
    """Through the only resistor of a floating loop no current flows, whatever its value."""
    lines = (
        "VIN in 0 DC 0 AC 0",
        "R1 in p 5k",
        "L1 p out 2",
        "R2 out 0 100k",
        "L2 x y 1",
        "K1 L1 L2 0.5",
        "C2 x y 90p",
    )
    loose, tight = (_run(*lines, f"RTIE y 0 {ohm}").voltage["VIN"] for ohm in ("1e9", "1e3"))
    np.testing.assert_allclose(loose, tight, rtol=CLOSED_FORM)


def test_sources_are_raised_one_at_a_time_and_parameters_reach_the_deck() -> None:
    deck = "\n".join(
        [
            "* two sources",
            ".param r=1k which=1",
            ".option noopac",
            "VA a 0 DC 0 AC 0",
            "VB b 0 DC 0 AC 0",
            "R1 a out 1k",
            ".if (which == 2)",
            "R2 b out {r}",
            ".endif",
            "R3 out 0 1k",
            ".end",
            "",
        ]
    )
    job = runner.Job(deck, ("VA", "VB"), ("lin 1 1000 1000",))
    first, second = runner.run(
        [job, runner.Job(deck, ("VA", "VB"), runner.at([50, 60]), {"which": 2, "r": 3e3})]
    )
    assert first.voltage["VA"] == pytest.approx([0.5])
    assert first.voltage["VB"] == pytest.approx([0.0])
    assert second.freqs_hz == pytest.approx([50.0, 60.0])
    assert second.voltage["VA"] == pytest.approx([3 / 7] * 2)
    assert second.voltage["VB"] == pytest.approx([1 / 7] * 2)


def test_ngspice_errors_are_raised() -> None:
    with pytest.raises(RuntimeError, match="ngspice"):
        _run("VIN in 0 DC 0 AC 0", "R1 in out {nothing}", "R2 out 0 1k")
    with pytest.raises(RuntimeError, match="ngspice"):
        _run("VIN out 0 DC 0 AC 0", "V2 out 0 0", "R2 out 0 1k")  # a ring of ideal sources


def test_a_missing_program_fails_in_ci_and_skips_elsewhere(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(runner.shutil, "which", lambda name: None)
    monkeypatch.setenv("CI", "true")
    with pytest.raises(pytest.fail.Exception):
        runner.program()
    monkeypatch.delenv("CI")
    with pytest.raises(pytest.skip.Exception):
        runner.program()


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("4.1 kΩ", 4100.0),
        ("4k7", 4700.0),
        ("2H5", 2.5),
        ("3n3", 3.3e-9),
        (".022uF", 22e-9),
        ("130p", 130e-12),
        ("250k", 250e3),
        ("2M2", 2.2e6),
        ("18 %", 0.18),
        ("5 m", 5.0),
        ("168 mm", 0.168),
        ("100 pF/m", 100e-12),
        ("180 in", 4.572),
        (0.2, 0.2),
    ],
)
def test_the_reference_reads_quantities(text: object, value: float) -> None:
    assert quantities.si(text) == pytest.approx(value, rel=1e-14)


def test_the_reference_refuses_what_it_cannot_read() -> None:
    with pytest.raises(ValueError, match="cannot read"):
        quantities.si("4.7 kilo")
