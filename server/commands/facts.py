"""`presolder facts`: what a technician decides by, per position."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import click

from dsp.circuit.hum import NO_HUM_DB
from dsp.circuit.resonance import resonances
from dsp.units import show
from server.commands import common

EPILOG = """\b
Examples:
  presolder facts baritone.yaml --set volume=7
  presolder facts baritone.yaml --take low_riff.yaml
"""


@click.command(epilog=EPILOG)
@click.argument("file", type=common.EXISTING)
@common.position_option
@common.set_option
@click.option(
    "--take",
    type=common.EXISTING,
    help="Tell how loud this take is in each position too, heard through clean too.",
)
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def command(file: Path, position: str, controls: tuple[str, ...], take: Path | None, as_json: bool) -> None:
    """Print coils, level, resonances, hum, noise and reading per position.

    In this release --json prints some facts under their old names too. They will go in the next
    one: joined (now connection_text), hum_residual_db (hum_db), jack_reading_ohm (meter_ohm), and
    each knob and switch directly in settings (settings.knobs, settings.switches).
    """
    from dsp.facts.apart import nearest_positions
    from dsp.facts.position import position_facts
    from dsp.facts.record import finite, position_record, words_of
    from server.takes.load import take_loudness

    wiring = common.load(file)
    settings = common.settings_of(wiring, position, controls)
    facts = position_facts(wiring, settings)
    with common.report_errors():
        loudness = None if take is None else take_loudness(take, wiring, settings)
    records = [
        position_record(one, peaks=resonances(wiring, one.setting), words=words, nearest=nearest)
        for one, words, nearest in zip(
            facts, words_of(facts), nearest_positions(wiring, settings), strict=True
        )
    ]
    if loudness is not None:
        for record, lufs in zip(records, loudness, strict=True):
            record["take"] = {name: finite(value) for name, value in lufs.items()}
    if as_json:
        found = [_with_old_names(record) for record in records]
        click.echo(json.dumps({"facts": found}, indent=1, ensure_ascii=False))
        return
    wired_db, clean_db = (_loudest(records, name) for name in ("level_db", "clean_level_db"))
    for one in records:
        click.echo(f"position {one['position']}  {one['label']}".rstrip())
        if one["coils"]:
            click.echo(f"  coils                          {one['connection_text']}")
            click.echo(
                f"  an open chord                  {one['level_db']:.1f} dB re 1 V² s,"
                f" centre of its spectrum {show(one['brightness_hz'], 'frequency', 3)}"
            )
            if len(records) > 1:
                click.echo(
                    f"  the same, below the loudest    {one['level_db'] - wired_db:.1f} dB as wired,"
                    f" {one['clean_level_db'] - clean_db:.1f} LU through clean"
                )
            if loudness is not None:
                click.echo(f"  the take, below the loudest    {_take_text(records, one)}")
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
            click.echo(
                f"  the same through clean         {near['clean']['distance_db']:.2f} dB of timbre,"
                f" weighted by loudness, level {near['clean']['level_db']:+.1f} LU"
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


def _loudest(records: Sequence[dict[str, Any]], name: str) -> float:
    return max((one[name] for one in records if one[name] is not None), default=0.0)


def _take_text(records: Sequence[dict[str, Any]], one: dict[str, Any]) -> str:
    """Return how loud the take is in a position, beside the loudest of several."""
    words = []
    if len(records) == 1:
        lufs = one["take"]["loudness_lufs"]
        return "silent" if lufs is None else f"{lufs:.1f} LUFS as wired, 1 V as full scale"
    for name, where in (("loudness_lufs", "as wired"), ("clean_loudness_lufs", "through clean")):
        lufs = one["take"][name]
        loudest = _loudest([record["take"] for record in records], name)
        words.append("silent" if lufs is None else f"{lufs - loudest:.1f} LU {where}")
    return ", ".join(words)


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
