"""`presolder travel`: measure how evenly a knob changes the sound; suggest parts."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from dsp.errors import nearest
from dsp.knobs.ends import ENDS
from dsp.units import show
from server.commands import common

if TYPE_CHECKING:
    from dsp.knobs.advice import Suggestion
    from dsp.knobs.bypass import Bypass
    from dsp.knobs.travel import ValueSuggestion
    from dsp.wiring.change import Change
    from dsp.wiring.model import Setting, Wiring

MOST_ADVICE = 5
MOST_OF_FRONT = 5
SILENT_DB = -30.0
"""A knob that is softer than this at 0 is a volume. Only a volume has treble to lose."""
EPILOG = """\b
Examples:
  presolder travel baritone.yaml
  presolder travel twelve.yaml --position 3 --knob tone --capacitor tone_cap
  presolder travel twelve.yaml --position 3 --knob volume
  presolder travel twelve.yaml --position 3 --knob tone --choose 2 --out other.yaml
  presolder travel baritone_sketch.yaml --position 1 --knob tone --to thin --to clear --at-least 4 --within 6

Evenness is 1 if every half unit of the knob changes the timbre alike, and 1/20 if one of the twenty
steps does it all. Networks are numbered: first those that no other beats in both width and evenness,
then the best compromise of each kind. Their level falls by 12 dB at most along the travel.

--to asks for networks that lead from today's sound to another one. A network acts in every position, or
only in the one named by --position: in a sketch's expression, or by a spare pole of the selector. Every
network is computed with every pot, taper and resistor across the pot in the lists of preferred values.
So the answer is the best of that grid; the number of travels computed is printed. If no taper that is
sold meets the goal, curves to ask a maker for are listed. --curve writes such a curve with --choose.
A volume (--knob volume --to quieter) is searched among pots, tapers and resistors from a lug to its wiper.
A knob of two tracks gets the same parts on each; --to serves one track.
"""


@click.command(epilog=EPILOG)
@click.argument("file", type=common.EXISTING)
@common.position_option
@common.set_option
@click.option("--knob", "knobs", multiple=True, help="This knob only; repeatable.")
@click.option("--capacitor", help="Try other values of this capacitor.")
@click.option(
    "--to", "ends", multiple=True, metavar="END", help=f"Sound to lead to: {', '.join(ENDS)}; repeatable."
)
@click.option("--at-least", default=3.0, show_default=True, metavar="DB", help="Least change.")
@click.option(
    "--within", default=9.0, show_default=True, metavar="DB", help="Most change of level on the way."
)
@click.option("--evenness", default=0.6, show_default=True, metavar="SHARE", help="Least evenness, 0 to 1.")
@click.option("--keep-pot", is_flag=True, help="With --to: leave the pot as it is.")
@click.option("--curve", is_flag=True, help="With --choose: write the curve to ask for.")
@click.option("--choose", type=int, metavar="N", help="Number of the change to make, for --out.")
@click.option("--out", type=common.EXISTING, metavar="FILE", help="Write the wiring with the chosen change.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def command(
    file: Path,
    position: str,
    controls: tuple[str, ...],
    knobs: tuple[str, ...],
    capacitor: str | None,
    ends: tuple[str, ...],
    at_least: float,
    within: float,
    evenness: float,
    keep_pot: bool,
    curve: bool,
    choose: int | None,
    out: Path | None,
    as_json: bool,
) -> None:
    """Measure what each knob does along its travel.

    For a knob named by --knob the command suggests tapers and values that make it more even. It adds
    networks for a tone knob (a capacitor, a resistor or choke with it, a second coil faded in) and
    bypass parts for a volume. With --to it searches for networks that lead the knob to another sound.
    """
    wiring = common.load(file)
    if (choose is None) != (out is None):
        raise click.UsageError("--choose and --out go together: which change, and where to")
    _check_names(knobs, wiring.knobs, "--knob", "knob")
    if capacitor is not None:
        _check_names([capacitor], wiring.parts, "--capacitor", "part")
    with common.report_errors():
        settings = common.settings_of(wiring, position, controls)
        if choose is not None and (len(settings), len(knobs)) != (1, 1):
            raise click.UsageError("--choose: name one --position and one --knob")
        edits: list[Change | None] = []
        if ends:
            from server.commands import travel_goal

            knobs = knobs or travel_goal.usable_knobs(wiring)
            goal = travel_goal.read_goal(ends, at_least, within, evenness, keep_pot=keep_pot)
            found = [
                travel_goal.search(wiring, setting, knob, goal, edits, curve=curve)
                for setting in settings
                for knob in knobs
            ]
        else:
            found = [
                _entry(wiring, setting, knob, capacitor, edits, advised=bool(knobs))
                for setting in settings
                for knob in knobs or tuple(wiring.knobs)
            ]
        if choose is not None and out is not None:
            _write(file, out, wiring, edits, choose)
    if as_json:
        click.echo(json.dumps({"travels": found}, indent=1, ensure_ascii=False))
        return
    for one in found:
        _print(one)
        if "goal" in one:
            travel_goal.print_goal(one["goal"], wiring)


def _write(file: Path, out: Path, wiring: Wiring, edits: Sequence[Change | None], choose: int) -> None:
    """Write the wiring with one change; reading it again checks it."""
    from server.wirings.changed import EditedText

    if not 1 <= choose <= len(edits):
        raise click.UsageError(f"--choose: got {choose}; allowed: 1 to {len(edits)}, the changes listed")
    if out.resolve() == file.resolve():
        raise click.UsageError("--out: the file that was read; allowed: another name")
    change = edits[choose - 1]
    if change is None:
        raise click.UsageError(f"--curve: candidate {choose} has no curve that makes it more even")
    text = EditedText.of(file)
    text.put_change(wiring, change)
    text.save(out)


def _check_names(names: Sequence[str], known: Any, option: str, what: str) -> None:
    for name in names:
        if name not in known:
            hint = nearest(name, known) or f"there are {', '.join(known) or 'none'}"
            raise click.UsageError(f"{option}: no {what} '{name}'; {hint}")


def _entry(
    wiring: Wiring,
    setting: Setting,
    knob: str,
    capacitor: str | None,
    edits: list[Change | None],
    *,
    advised: bool,
) -> dict[str, Any]:
    """The record of one knob; its numbered changes are appended to ``edits``."""
    from dsp.knobs.travel import compute_travel, suggest_values
    from server.searches.knobs import travel_json

    own = compute_travel(wiring, setting, knob)
    entry = {"position": setting.position, **travel_json(own)}
    if not advised:
        return entry
    tried = sorted(suggest_values(wiring, setting, knob, capacitor), key=lambda one: -one.travel.evenness)
    entry["advice"] = [_advice(one) for one in tried if one.changes][:MOST_ADVICE]
    if own.level_db[0] < SILENT_DB:
        entry |= _bypasses(wiring, setting, knob, edits)
    else:
        entry |= _networks(wiring, setting, knob, edits)
    return entry


def _bypasses(wiring: Wiring, setting: Setting, knob: str, edits: list[Change | None]) -> dict[str, Any]:
    from dsp.knobs.bypass import try_bypasses

    own, *others = try_bypasses(wiring, setting, knob)
    best = sorted(others, key=lambda one: one.wander_db)[:MOST_ADVICE]
    edits += [one.change for one in best]
    return {
        "bypass": [_bypass(one, wiring) for one in best],
        "wander_db": round(own.wander_db, 2),
        "treble_lost_db": _treble(own),
    }


def _advice(one: ValueSuggestion) -> dict[str, Any]:
    return {
        "changes": dict(one.changes),
        "evenness": round(one.travel.evenness, 3),
        "width_db": round(one.travel.width_db, 2),
    }


def _treble(one: Bypass) -> float:
    return round(float(one.treble_db.min()), 2)


def _bypass(one: Bypass, wiring: Wiring) -> dict[str, Any]:
    parts = [] if one.capacitance_f is None else [show(one.capacitance_f, "capacitance")]
    parts += [] if one.resistance_ohm is None else [show(one.resistance_ohm, "resistance")]
    return {
        "parts": parts,
        "beside": one.parallel,
        "wander_db": round(one.wander_db, 2),
        "treble_lost_db": _treble(one),
        "edit": list(one.change.instructions(wiring)),
    }


BARS = " ▁▂▃▄▅▆▇█"


def _print(one: dict[str, Any]) -> None:
    most = max(one["step_db"]) or 1.0
    bars = "".join(BARS[round(8.0 * step / most)] for step in one["step_db"])
    click.echo(
        f"position {one['position']}  {one['knob']:<12} 0 [{bars}] 10   timbre {one['width_db']:.1f} dB from"
        f" end to end ({one['heard']}), evenness {one['evenness']:.2f};"
        f" level evenness {one['level_evenness']:.2f}"
    )
    for advice in one.get("advice", []):
        changes = ", ".join(f"{place} = {value}" for place, value in advice["changes"].items())
        click.echo(f"  {changes}: evenness {advice['evenness']:.2f}, {advice['width_db']:.1f} dB")
    if "bypass" in one:
        click.echo(
            f"  as it is: timbre wanders {one['wander_db']:.1f} dB on the way down to 2,"
            f" treble {one['treble_lost_db']:+.1f} dB"
        )
    for number, bypass in enumerate(one.get("bypass", []), 1):
        parts = (" beside " if bypass["beside"] else " in line with ").join(bypass["parts"]) or "no bypass"
        click.echo(
            f"  {number:>2}  lug 3 to wiper, {parts}: timbre wanders {bypass['wander_db']:.1f} dB,"
            f" treble {bypass['treble_lost_db']:+.1f} dB"
        )
        click.echo(f"      {'; '.join(bypass['edit'])}")
    _print_networks(one)


def _networks(wiring: Wiring, setting: Setting, knob: str, edits: list[Change | None]) -> dict[str, Any]:
    """Networks that no other beats, and the best of each kind; changes go to ``edits``."""
    from dsp.knobs.advice import pick_suggestions, suggest_networks
    from dsp.knobs.place import why_no_place

    reason = why_no_place(wiring, knob)
    if reason:
        return {"networks": [], "no_networks": reason}
    with common.show_progress(f"networks for {knob}") as progress:
        found = suggest_networks(wiring, setting, knob, progress=progress)
    best = pick_suggestions(found, MOST_OF_FRONT)
    edits += [one.change(wiring) for one, _ in best]
    rows = [_network(wiring, one, in_front=in_front) for one, in_front in best]
    return {"networks": rows, "networks_tried": len(found)}


def _network(wiring: Wiring, one: Suggestion, *, in_front: bool) -> dict[str, Any]:
    return {
        "kind": one.variant.kind,
        "network": one.variant.text,
        "taper": one.taper,
        "pot": show(one.resistance_ohm, "resistance", 3),
        "width_db": round(one.travel.width_db, 2),
        "evenness": round(one.travel.evenness, 3),
        "level_drop_db": round(one.drop_db, 1),
        "at_ten_db": round(one.at_ten_db, 2),
        "coils": list(one.coils),
        "unbeaten": in_front,
        "edit": list(one.change(wiring).instructions(wiring)),
    }


def _print_networks(entry: dict[str, Any]) -> None:
    """Print the networks of one knob."""
    from dsp.knobs.networks import KINDS

    if "no_networks" in entry:
        click.echo(f"  no tone network to try: {entry['no_networks']}")
    rows = entry.get("networks", [])
    last = sum(row["unbeaten"] for row in rows) - 1
    for i, row in enumerate(rows):
        if i == 0:
            click.echo(f"  of {entry['networks_tried']} networks and pots, no other beats these in both:")
        elif i == last + 1:
            click.echo("  the best compromise of the other kinds:")
        mark = {0: "widest: ", last: "most even: "}.get(i, "") if row["unbeaten"] and last else ""
        fades = f", fades in {' and '.join(row['coils'])}" if row["coils"] else ""
        click.echo(
            f"  {i + 1:>2}  {mark}{row['network']}{fades}; pot {row['pot']}, {row['taper']}: timbre"
            f" {row['width_db']:.1f} dB, evenness {row['evenness']:.2f}, level {row['level_drop_db']:.0f} dB"
            f" on the way, {row['at_ten_db']:.1f} dB from today's sound at 10"
        )
        click.echo(f"      ({KINDS[row['kind']]}) {'; '.join(row['edit'])}")
