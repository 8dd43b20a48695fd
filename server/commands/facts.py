"""`presolder facts`: what a technician decides by, per position."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from dsp.circuit.hum import NO_HUM_DB
from dsp.circuit.resonance import resonances
from dsp.units import show
from dsp.wiring.model import Wiring
from server.commands import common

if TYPE_CHECKING:
    from dsp.facts.position import PositionFacts


@click.command(epilog="\b\nExample:\n  presolder facts baritone.yaml --set volume=7")
@click.argument("file", type=common.EXISTING)
@common.position_option
@common.set_option
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def command(file: Path, position: str, controls: tuple[str, ...], as_json: bool) -> None:
    """Print coils, level, resonances, hum, noise and reading per position."""
    from dsp.facts.position import position_facts

    wiring = common.load(file)
    settings = common.settings_of(wiring, position, controls)
    found = [_facts(wiring, one) for one in position_facts(wiring, settings)]
    if as_json:
        click.echo(json.dumps({"facts": found}, indent=1, ensure_ascii=False))
        return
    for one in found:
        click.echo(f"position {one['position']}  {one['label']}".rstrip())
        if one["coils"]:
            click.echo(f"  coils                          {one['joined']}")
            click.echo(
                f"  an open chord                  {one['level_db']:.1f} dB re 1 V² s,"
                f" centre of its spectrum {show(one['brightness_hz'], 'frequency', 3)}"
            )
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
    """The hum that is left, in words where there is none."""
    if not one["coils"]:
        return "silent"
    left_db = one["hum_residual_db"]
    return "nothing" if left_db <= NO_HUM_DB else f"{left_db:.1f} dB"


def _facts(wiring: Wiring, one: PositionFacts) -> dict[str, Any]:
    return {
        "position": one.setting.position,
        "label": one.label,
        "settings": common.controls_of(one.setting),
        "coils": list(one.coils),
        "joined": one.joined,
        "level_db": None if math.isinf(one.level_db) else one.level_db,
        "brightness_hz": one.brightness_hz,
        "jack_reading_ohm": None if math.isinf(one.reading_ohm) else one.reading_ohm,
        "hum_residual_db": one.hum_residual_db,
        "noise_volt": one.noise_volt,
        "resonances": [vars(peak) for peak in resonances(wiring, one.setting)],
    }
