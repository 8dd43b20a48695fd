"""The one place where the reference tests touch the product: its public commands, in process."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from click.testing import CliRunner
from numpy.typing import NDArray
from reference.spice.cases_by_hand import text_of

Complexes = NDArray[np.complex128]


@dataclass(frozen=True)
class Response:
    """The output of `presolder response` for one setting; arrays of shape (n_freqs,)."""

    coils: Mapping[str, Complexes]
    hum: Complexes
    output_impedance_ohm: Complexes


def product_response(
    file: Path, position: int | None, settings: Mapping[str, float | str], freqs_hz: Iterable[float]
) -> Response:
    """Return the product's response of one setting from `presolder response --json`.

    Raises
    ------
    AssertionError
        If the command fails or answers for another setting or other frequencies.
    """
    freqs = [float(f) for f in freqs_hz]
    listed = ",".join(map(repr, freqs))
    said = _command("response", file, position, settings, ["--frequencies", listed, "--json"])
    (answer,) = json.loads(said)["responses"]
    np.testing.assert_allclose(answer["frequencies_hz"], freqs, rtol=1e-12, atol=0.0)
    for name, value in settings.items():
        assert text_of(value) == text_of(_plain(answer["settings"][name])), f"{name}: asked {value}"
    if position is not None:
        assert answer["position"] == str(position)
    coils = {name: _complex(values) for name, values in answer["coils"].items()}
    return Response(coils, _complex(answer["hum"]), _complex(answer["output_impedance_ohm"]))


def product_netlist(
    file: Path, position: int | None, settings: Mapping[str, float | str], *, coil: str | None = None
) -> str:
    """The SPICE deck that `presolder netlist` prints for one setting."""
    return _command("netlist", file, position, settings, ["--coil", coil] if coil else [])


def _command(
    name: str, file: Path, position: int | None, settings: Mapping[str, float | str], more: list[str]
) -> str:
    from server.cli import main  # imported late: the references are tested without the product

    place = [] if position is None else ["--position", str(position)]
    knobs = [word for knob, value in settings.items() for word in ("--set", f"{knob}={text_of(value)}")]
    arguments = [name, str(file), *place, *knobs, *more]
    done = CliRunner().invoke(main, arguments, catch_exceptions=False)
    assert done.exit_code == 0, (
        f"presolder {' '.join(arguments[:8])} ...: exit {done.exit_code}\n{done.output}"
    )
    return done.stdout


def _plain(value: float | str) -> float | str:
    try:
        return float(value)
    except ValueError:
        return value


def _complex(values: Mapping[str, Any]) -> Complexes:
    return np.asarray(values["real"], dtype=float) + 1j * np.asarray(values["imag"], dtype=float)
