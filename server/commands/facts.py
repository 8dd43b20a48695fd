"""`presolder facts`: what a technician decides by, per position."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import click
import numpy as np

from dsp.circuit.hum import HUM_HZ, NO_HUM_DB, hum_residual_db
from dsp.circuit.meter import jack_reading_ohm
from dsp.circuit.noise import weighted_noise_volt
from dsp.circuit.resonance import resonances
from dsp.circuit.response import hum_weights, respond
from dsp.units import show
from dsp.wiring.model import Setting, Wiring
from server.commands import common


@click.command(epilog="\b\nExample:\n  presolder facts baritone.yaml --set volume=7")
@click.argument("file", type=common.EXISTING)
@common.position_option
@common.set_option
@click.option("--json", "as_json", is_flag=True, help="As JSON.")
def command(file: Path, position: str, stands: tuple[str, ...], as_json: bool) -> None:
    """Per position: coils heard, resonance, hum, noise, meter reading."""
    wiring = common.load(file)
    found = [_facts(wiring, setting) for setting in common.settings_of(wiring, position, stands)]
    if as_json:
        click.echo(json.dumps({"facts": found}, indent=1, ensure_ascii=False))
        return
    for one in found:
        click.echo(f"position {one['position']}  {one['label']}".rstrip())
        reading = one["jack_reading_ohm"]
        click.echo(
            f"  meter at the jack, cable out   {'open' if reading is None else show(reading, 'resistance')}"
        )
        click.echo(f"  hum left of the coils' own     {_hum(one)}")
        click.echo(f"  thermal noise, A-weighted      {1e6 * one['noise_volt']:.2f} µV")
        for coil in one["resonances"]:
            width = (
                "" if coil["bandwidth_hz"] is None else f", {show(coil['bandwidth_hz'], 'frequency', 3)} wide"
            )
            click.echo(
                f"  {coil['coil']:<14} peak {show(coil['frequency_hz'], 'frequency', 4)}, "
                f"{coil['level_db']:+.1f} dB re EMF, {coil['height_db']:.1f} dB above 100 Hz{width}"
            )


def _hum(one: dict[str, Any]) -> str:
    """What is left of the hum, in words where there is none."""
    if not one["coils"]:
        return "silent"
    left_db = one["hum_residual_db"]
    return "nothing" if left_db <= NO_HUM_DB else f"{left_db:.1f} dB"


def _facts(wiring: Wiring, setting: Setting) -> dict[str, Any]:
    reading = jack_reading_ohm(wiring, setting)
    coil = respond(wiring, [setting], HUM_HZ).coil[0]
    heard = [name for name, row in zip(wiring.coils, coil, strict=True) if np.any(row)]
    return {
        "position": setting.position,
        "label": wiring.labels.get(setting.position, ""),
        "settings": common.stands_of(setting),
        "coils": heard,
        "jack_reading_ohm": None if math.isinf(reading) else reading,
        "hum_residual_db": hum_residual_db(coil, hum_weights(wiring)),
        "noise_volt": weighted_noise_volt(wiring, setting),
        "resonances": [vars(one) for one in resonances(wiring, setting)],
    }
