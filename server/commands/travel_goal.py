"""What leads a knob to a goal, for `presolder travel --to`."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from dsp.wiring.model import Setting, Wiring
from server.commands import common

if TYPE_CHECKING:
    from dsp.knobs.goal import Goal
    from dsp.wiring.change import Change

SILENT_DB = 60.0
"""A level that falls so far is silence."""
SHOWN_AT = (0, 5, 10, 15, 20)
"""Steps of the travel whose levels are printed."""


def usable_knobs(wiring: Wiring) -> tuple[str, ...]:
    """Return the knobs that a network can be searched for.

    Raises
    ------
    click.UsageError
        If there is none, with the reason for each.
    """
    from dsp.knobs.goal_search import why_no_goal
    from dsp.knobs.place import why_no_place

    reasons = {knob: why_no_goal(wiring, knob) for knob in wiring.knobs}
    found = tuple(knob for knob, reason in reasons.items() if not reason)
    if not found:
        told = "; ".join(f"{knob}: {reason}" for knob, reason in reasons.items()) or "no knob"
        raise click.UsageError(f"--to: no knob has one track to search for ({told})")
    # a volume is searched only where it is named, or where there is nothing else
    return tuple(knob for knob in found if not why_no_place(wiring, knob)) or found


def read_goal(
    ends: tuple[str, ...], at_least_db: float, within_db: float, evenness: float, *, keep_pot: bool
) -> Goal:
    """Return the goal; wrong usage if it is none."""
    from dsp.knobs.goal import Goal

    with common.report_wrong_usage():
        return Goal(ends, at_least_db, within_db, evenness, keep_pot)


def search(
    wiring: Wiring, setting: Setting, knob: str, goal: Goal, edits: list[Change | None], *, curve: bool
) -> dict[str, Any]:
    """The record of one knob; candidates' changes go to ``edits``."""
    from dsp.knobs.goal_search import search_goal
    from dsp.knobs.travel import compute_travel
    from server.searches.goals import answer_json, candidate_json
    from server.searches.knobs import travel_json

    own = compute_travel(wiring, setting, knob)
    with common.show_progress(f"networks for {knob}") as progress:
        answer = search_goal(wiring, setting, knob, goal, progress=progress)
    edits += [one.change_with_curve(wiring) if curve else one.change(wiring) for one in answer.candidates]
    rows = [candidate_json(wiring, setting, one) for one in answer.candidates]
    entry = {"position": setting.position, **travel_json(own)}
    return {**entry, "goal": {**answer_json(answer), "candidates": rows}}


def print_goal(goal: dict[str, Any], wiring: Wiring) -> None:
    """Print the candidates, or the nearest ones."""
    softer = goal["to"] == ["quieter"]
    change, spread = ("level", "timbre") if softer else ("timbre", "level")
    click.echo(
        f"  to {' and '.join(goal['to'])}: {change} at least {goal['at_least_db']:g} dB, {spread} within"
        f" {goal['within_db']:g} dB, evenness at least {goal['evenness']:g}"
    )
    click.echo(
        f"  {goal['networks']} networks, {goal['computed']} travels: every value of the lists computed,"
        f" {goal['meeting']} meet the goal"
    )
    rows = goal["candidates"]
    if not goal["meeting"]:
        click.echo("  none meets it; the nearest that lead there:" if rows else "  none leads there")
    for number, row in enumerate(rows, 1):
        if row["meets"] and number == 1:
            click.echo("  no travel of the grid beats these in both change and evenness:")
        elif row["meets"] and not row["unbeaten"] and rows[number - 2]["unbeaten"]:
            click.echo("  the best compromise of the other kinds and places:")
        _print_row(number, row, wiring, change=change, spread=spread)


def _print_row(number: int, row: dict[str, Any], wiring: Wiring, *, change: str, spread: str) -> None:
    where = f"only in {row['only']}" if row["only"] else "in every position"
    wide = "to silence" if row["change_db"] >= SILENT_DB else f"{row['change_db']:.1f} dB"
    click.echo(
        f"  {number:>2}  {row['network']}, {where}; pot {row['pot']}: {change} {wide},"
        f" evenness {row['even']:.2f}, {spread} {row['spread_db']:.1f} dB"
    )
    at = [SHOWN_AT[-1 - k] if row["start"] else SHOWN_AT[k] for k in range(len(SHOWN_AT))]
    levels = ", ".join(f"{_signed(row['level_db'][k])} dB at {row['values'][k]:g}" for k in at)
    tilt = f"bass {_signed(row['bass_db'])}, treble {_signed(row['treble_db'])} dB re the total; "
    click.echo(
        f"      today's sound at {row['start']:g} ({row['start_db']:.1f} dB off);"
        f" {tilt if change == 'timbre' else ''}level {levels}"
    )
    hums = [
        f"{round(hum)} dB at {at:g}"
        for hum, at in zip(row["hum_db"], (row["start"], 10.0 - row["start"]), strict=True)
        if hum is not None
    ]
    if hums:
        click.echo(f"      hum, re the same coils adding up: {', '.join(hums)}")
    if row["parts"]:
        parts = ", ".join(f"{one['name']} {one['value']}" for one in row["parts"])
        click.echo(f"      parts: {parts}")
    if row["by"]:
        click.echo(f"      by {row['by']}")
    if row["curve"]:
        points = ", ".join(f"{100.0 * share:g} % at {10.0 * x:g}" for x, share in row["curve"])
        click.echo(f"      ask for this curve: {points}: evenness {row['curve_evenness']:.2f}")
    for text in elsewhere_texts(row["elsewhere"]):
        click.echo(f"      {text}")
    click.echo(f"      ({row['about']}) {'; '.join(row['edit'])}")


def elsewhere_texts(rows: list[dict[str, Any]]) -> list[str]:
    """What the knob does in the other positions, a line each."""
    same = [row["position"] for row in rows if row["same"]]
    texts = [f"in {', '.join(same)}: as today"] if same else []
    for row in rows:
        if not row["same"]:
            knob = (
                "the knob does nothing"
                if row["width_db"] < 0.1 and row["spread_db"] < 0.1
                else f"timbre {row['width_db']:.1f} dB, level {row['spread_db']:.1f} dB along the knob,"
                f" evenness {row['evenness']:.2f}"
            )
            texts.append(
                f"in {row['position']}: {knob}; at 10 {row['at_ten_db']:.1f} dB of timbre and"
                f" {_signed(row['at_ten_level_db'])} dB of level from today's"
            )
    return texts


def _signed(db: float) -> str:
    """Decibels with their sign; 0.0 where they round to nothing."""
    return f"{db:+.1f}" if abs(db) >= 0.05 else "0.0"
