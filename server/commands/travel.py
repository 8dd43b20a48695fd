"""`presolder travel`: how evenly a knob changes the sound, and which parts change it more evenly."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from dsp.errors import nearest
from dsp.units import show
from server.commands import common

if TYPE_CHECKING:
    from dsp.search.bypass import Bypass
    from dsp.search.evenness import Advice, Travel
    from dsp.wiring.model import Setting, Wiring

MOST_ADVICE = 5
SILENT_DB = -30.0
"""A knob whose bottom is so far down is a volume; only such a one has treble to lose."""
EPILOG = """\b
Examples:
  presolder travel baritone.yaml
  presolder travel twelve.yaml --position 3 --knob tone --capacitor tone_cap
  presolder travel twelve.yaml --position 3 --knob volume

Evenness is 1 when every half unit of the knob changes the timbre alike, and 1/20 when one of the
twenty steps does it all.
"""


@click.command(epilog=EPILOG)
@click.argument("file", type=common.EXISTING)
@common.position_option
@common.set_option
@click.option("--knob", "knobs", multiple=True, help="This knob only; several times.")
@click.option("--capacitor", help="Try other values of it with the knob.")
@click.option("--json", "as_json", is_flag=True, help="As JSON.")
def command(
    file: Path,
    position: str,
    stands: tuple[str, ...],
    knobs: tuple[str, ...],
    capacitor: str | None,
    as_json: bool,
) -> None:
    """What each knob does along its travel.

    For a knob named by itself: tapers, values and bypass parts that make it more even.
    """
    wiring = common.load(file)
    _known(knobs, wiring.pots, "--knob", "knob")
    if capacitor is not None:
        _known([capacitor], wiring.parts, "--capacitor", "part")
    with common.told():
        found = [
            _entry(wiring, setting, knob, capacitor, advised=bool(knobs))
            for setting in common.settings_of(wiring, position, stands)
            for knob in knobs or tuple(wiring.pots)
        ]
    if as_json:
        click.echo(json.dumps({"travels": found}, indent=1, ensure_ascii=False))
        return
    for one in found:
        _print(one)


def _known(names: Sequence[str], known: Any, option: str, what: str) -> None:
    for name in names:
        if name not in known:
            hint = nearest(name, known) or f"there are {', '.join(known) or 'none'}"
            raise click.UsageError(f"{option}: no {what} '{name}'; {hint}")


def _entry(
    wiring: Wiring, setting: Setting, knob: str, capacitor: str | None, *, advised: bool
) -> dict[str, Any]:
    from dsp.search.bypass import bypasses
    from dsp.search.evenness import advise, travel

    own = travel(wiring, setting, knob)
    entry = {"position": setting.position, **_travel(own)}
    if advised:
        tried = sorted(advise(wiring, setting, knob, capacitor), key=lambda one: -one.travel.evenness)
        entry["advice"] = [_advice(one) for one in tried if one.changes][:MOST_ADVICE]
        if own.level_db[0] < SILENT_DB:
            tried_parts = list(bypasses(wiring, setting, knob))
            best = sorted(tried_parts, key=lambda one: one.wander_db)
            entry["bypass"] = [_bypass(one) for one in best[:MOST_ADVICE]]
            entry["treble_lost_db"] = _treble(tried_parts[0])
    return entry


def _travel(one: Travel) -> dict[str, Any]:
    return {
        "knob": one.knob,
        "width_db": round(one.width_db, 2),
        "evenness": round(one.evenness, 3),
        "level_evenness": round(one.level_evenness, 3),
        "values": [float(value) for value in one.values],
        "step_db": [round(float(step), 3) for step in one.step_db],
        "level_db": [round(float(level), 2) for level in one.level_db],
    }


def _advice(one: Advice) -> dict[str, Any]:
    return {
        "changes": dict(one.changes),
        "evenness": round(one.travel.evenness, 3),
        "width_db": round(one.travel.width_db, 2),
    }


def _treble(one: Bypass) -> float:
    return round(float(one.treble_db.min()), 2)


def _bypass(one: Bypass) -> dict[str, Any]:
    parts = [] if one.capacitance_f is None else [show(one.capacitance_f, "capacitance")]
    parts += [] if one.resistance_ohm is None else [show(one.resistance_ohm, "resistance")]
    return {"parts": parts, "wander_db": round(one.wander_db, 2), "treble_lost_db": _treble(one)}


BARS = " ▁▂▃▄▅▆▇█"


def _print(one: dict[str, Any]) -> None:
    most = max(one["step_db"]) or 1.0
    bars = "".join(BARS[round(8.0 * step / most)] for step in one["step_db"])
    click.echo(
        f"position {one['position']}  {one['knob']:<12} 0 [{bars}] 10   timbre {one['width_db']:.1f} dB from"
        f" end to end, evenness {one['evenness']:.2f}; level evenness {one['level_evenness']:.2f}"
    )
    for advice in one.get("advice", []):
        changes = ", ".join(f"{place} = {value}" for place, value in advice["changes"].items())
        click.echo(f"  {changes}: evenness {advice['evenness']:.2f}, {advice['width_db']:.1f} dB")
    if "bypass" in one:
        click.echo(f"  treble lost on the way down: {-one['treble_lost_db']:.1f} dB")
    for bypass in one.get("bypass", []):
        parts = " with ".join(bypass["parts"]) or "no bypass"
        click.echo(
            f"  lug 3 to wiper, {parts}: timbre wanders {bypass['wander_db']:.1f} dB,"
            f" treble {bypass['treble_lost_db']:+.1f} dB"
        )
