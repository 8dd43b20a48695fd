"""`presolder facts`: what a technician decides by, per position."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import click

from dsp.circuit.hum import NO_HUM_DB
from dsp.circuit.resonance import resonances
from dsp.units import show
from server.commands import common


@click.command(epilog="\b\nExample:\n  presolder facts baritone.yaml --set volume=7")
@click.argument("file", type=common.EXISTING)
@common.position_option
@common.set_option
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def command(file: Path, position: str, controls: tuple[str, ...], as_json: bool) -> None:
    """Print coils, level, resonances, hum, noise and reading per position.

    In this release --json prints some facts under their old names too. They will go in the next
    one: joined (now connection_text), hum_residual_db (hum_db), jack_reading_ohm (meter_ohm), and
    each knob and switch directly in settings (settings.knobs, settings.switches).
    """
    from dsp.facts.apart import nearest_positions
    from dsp.facts.position import position_facts
    from dsp.facts.record import position_record, words_of

    wiring = common.load(file)
    settings = common.settings_of(wiring, position, controls)
    facts = position_facts(wiring, settings)
    records = [
        position_record(one, peaks=resonances(wiring, one.setting), words=words, nearest=nearest)
        for one, words, nearest in zip(
            facts, words_of(facts), nearest_positions(wiring, settings), strict=True
        )
    ]
    if as_json:
        found = [_with_old_names(record) for record in records]
        click.echo(json.dumps({"facts": found}, indent=1, ensure_ascii=False))
        return
    for one in records:
        click.echo(f"position {one['position']}  {one['label']}".rstrip())
        if one["coils"]:
            click.echo(f"  coils                          {one['connection_text']}")
            click.echo(
                f"  an open chord                  {one['level_db']:.1f} dB re 1 V² s,"
                f" centre of its spectrum {show(one['brightness_hz'], 'frequency', 3)}"
            )
        reading = one["meter_ohm"]
        click.echo(
            f"  meter at the jack, cable out   {'open' if reading is None else show(reading, 'resistance')}"
        )
        click.echo(f"  hum re coils all adding up     {_hum(one)}")
        click.echo(f"  thermal noise, A-weighted      {1e6 * one['noise_volt']:.2f} µV")
        if near := one["nearest"]:
            click.echo(
                f"  most like position {near['position']:<12}{near['distance_db']:.2f} dB of timbre,"
                f" {near['largest_db']:.1f} dB in the band that differs most,"
                f" level {near['level_db']:+.1f} dB: {near['heard']}"
            )
        for coil in one["resonances"]:
            width = (
                "" if coil["bandwidth_hz"] is None else f", {show(coil['bandwidth_hz'], 'frequency', 3)} wide"
            )
            shift = coil["least_shift_hz"]
            heard = "" if shift is None else f"; a shift below {show(shift, 'frequency', 2)} is not heard"
            click.echo(
                f"  {coil['coil']:<14} peak {show(coil['frequency_hz'], 'frequency', 4)}, "
                f"{coil['level_db']:+.1f} dB re EMF, {coil['height_db']:.1f} dB above 100 Hz{width}{heard}"
            )


def _hum(one: dict[str, Any]) -> str:
    """Return what is left of the hum, in words if there is none."""
    if not one["coils"]:
        return "silent"
    left_db = one["hum_db"]
    return "nothing" if left_db is None or left_db <= NO_HUM_DB else f"{left_db:.1f} dB"


def _with_old_names(record: dict[str, Any]) -> dict[str, Any]:
    """Return a record with the facts that had other names before; for one release."""
    settings = record["settings"]
    return {
        **record,
        "settings": {**settings["knobs"], **settings["switches"], **settings},
        "joined": record["connection_text"],
        "hum_residual_db": record["hum_db"],
        "jack_reading_ohm": record["meter_ohm"],
    }
