"""`presolder response`: coil responses as JSON, CSV or a plot."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path
from typing import Any

import click
import numpy as np

from dsp.circuit.reduction import Complex, Floats
from dsp.circuit.response import Responses, check_frequencies, respond
from dsp.units import parse
from server.commands import common
from server.documents.response_plot import plot
from server.files.whole import write_text

DEFAULT_HZ = np.geomspace(20.0, 20_000.0, 241)
TABLE_HZ = np.array([100.0, 500.0, 1e3, 2e3, 3e3, 5e3, 8e3])
PLOT_HZ = np.geomspace(20.0, 20_000.0, 721)
EPILOG = """\b
Examples:
  presolder response baritone.yaml                      level per coil at a few frequencies
  presolder response baritone.yaml -p 1 --set tone=4 --json --frequencies 100,1k,5k
  presolder response baritone.yaml --svg response.svg --phase
"""


@click.command(epilog=EPILOG)
@click.argument("file", type=common.EXISTING)
@common.position_option
@common.set_option
@click.option(
    "--frequencies",
    metavar="HZ,HZ,...",
    help="Frequencies; unless given, 241 from 20 Hz to 20 kHz (7 in the table).",
)
@click.option("--json", "as_json", is_flag=True, help="Print JSON: complex responses, hum, output impedance.")
@click.option("--csv", "as_csv", is_flag=True, help="Print level and phase as CSV.")
@click.option("--svg", type=common.EXISTING, metavar="FILE", help="Write a plot with one panel per position.")
@click.option("--phase", is_flag=True, help="Plot phase too.")
def command(
    file: Path,
    position: str,
    controls: tuple[str, ...],
    frequencies: str | None,
    as_json: bool,
    as_csv: bool,
    svg: Path | None,
    phase: bool,
) -> None:
    """Print or plot each coil's response, from its EMF to the amplifier."""
    if as_json and as_csv:
        raise click.UsageError("--json or --csv, not both")
    wiring = common.load(file)
    settings = common.settings_of(wiring, position, controls)
    hz = DEFAULT_HZ if frequencies is None else _parse_frequencies(frequencies)
    with common.report_errors():
        responses = respond(wiring, settings, hz)
        if svg is not None:
            drawn = responses if frequencies else respond(wiring, settings, PLOT_HZ)
            write_text(svg, plot(wiring, drawn, phase=phase))
    if as_json:
        click.echo(json.dumps({"responses": to_json(responses)}))
    elif as_csv:
        click.echo(_csv(responses), nl=False)
    elif svg is None:
        click.echo(_table(responses if frequencies else respond(wiring, settings, TABLE_HZ)))


def _parse_frequencies(text: str) -> Floats:
    """Read frequencies as people write them: 100, 1k, 2.5 kHz."""
    with common.report_wrong_usage():
        values = [parse(part.strip(), "frequency", "--frequencies") for part in text.split(",")]
        return check_frequencies(np.array(values))


def to_json(responses: Responses) -> list[dict[str, Any]]:
    """The responses as ``response --json`` prints them; the form is fixed."""
    return [
        {
            "position": setting.position,
            "settings": common.controls_of(setting),
            "frequencies_hz": responses.frequencies_hz.tolist(),
            "coils": {name: _parts(responses.coil[i, k]) for k, name in enumerate(responses.coils)},
            "hum": _parts(responses.hum[i]),
            "output_impedance_ohm": _parts(responses.output_impedance_ohm[i]),
        }
        for i, setting in enumerate(responses.settings)
    ]


def _parts(values: Complex) -> dict[str, list[float]]:
    return {"real": values.real.tolist(), "imag": values.imag.tolist()}


def level_db(values: Complex) -> Floats:
    """Level in dB, same shape; minus infinity where the response is zero."""
    with np.errstate(divide="ignore"):
        level: Floats = 20.0 * np.log10(np.abs(values))
    return level


def _csv(responses: Responses) -> str:
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    columns = [f"{name}_{what}" for name in responses.coils for what in ("db", "deg")]
    writer.writerow(["position", "frequency_hz", *columns])
    for i, setting in enumerate(responses.settings):
        level = level_db(responses.coil[i])
        degrees = np.angle(responses.coil[i], deg=True)
        for f, hz in enumerate(responses.frequencies_hz):
            pairs = [f"{x:.6f}" for k in range(len(level)) for x in (level[k, f], degrees[k, f])]
            writer.writerow([setting.position, f"{hz:.6g}", *pairs])
    return stream.getvalue()


def _table(responses: Responses) -> str:
    """A table of a few levels."""
    width = max(len(name) for name in responses.coils) + 2
    heads = "".join(f"{_short(hz):>9}" for hz in responses.frequencies_hz)
    lines = []
    for i, setting in enumerate(responses.settings):
        controls = " ".join(f"{name}={value}" for name, value in common.controls_of(setting).items())
        lines.append(f"position {setting.position}   {controls}")
        lines.append(f"  {'dB re EMF':<{width}}{heads}")
        for k, name in enumerate(responses.coils):
            row = level_db(responses.coil[i, k])
            if np.all(np.isfinite(row)):
                lines.append(f"  {name:<{width}}" + "".join(f"{level:>9.2f}" for level in row))
        lines.append("")
    return "\n".join(lines).rstrip()


def _short(hz: float) -> str:
    return f"{hz:g} Hz" if hz < 1000 else f"{hz / 1000:g} kHz"
