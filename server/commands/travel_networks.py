"""Networks for a tone knob, as `presolder travel` tells them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from dsp.units import show

if TYPE_CHECKING:
    from dsp.knobs.advice import Suggestion
    from dsp.wiring.change import Edit
    from dsp.wiring.model import Setting, Wiring

MOST_OF_FRONT = 5


def networks_told(wiring: Wiring, setting: Setting, knob: str, edits: list[Edit]) -> dict[str, Any]:
    """Networks that no other beats, and the best of each kind.

    Parameters
    ----------
    wiring : Wiring
    setting : Setting
    knob : str
    edits : list of Edit
        The changes told are added, in the order of their numbers.
    """
    from dsp.knobs.advice import picked, suggestions
    from dsp.knobs.place import stand_of
    from server.commands import common

    if stand_of(wiring, knob) is None:
        return {"networks": [], "no_networks": "it is no variable resistor between two joints"}
    with common.shown(f"networks for {knob}") as progress:
        found = suggestions(wiring, setting, knob, progress=progress)
    best = picked(found, MOST_OF_FRONT)
    edits += [one.edit(wiring) for one, _ in best]
    told = [_network(wiring, one, in_front=in_front) for one, in_front in best]
    return {"networks": told, "networks_tried": len(found)}


def _network(wiring: Wiring, one: Suggestion, *, in_front: bool) -> dict[str, Any]:
    return {
        "kind": one.tried.kind,
        "network": one.tried.text,
        "taper": one.taper,
        "pot": show(one.resistance_ohm, "resistance", 3),
        "width_db": round(one.travel.width_db, 2),
        "evenness": round(one.travel.evenness, 3),
        "level_drop_db": round(one.drop_db, 1),
        "at_ten_db": round(one.at_ten_db, 2),
        "coils": list(one.coils),
        "unbeaten": in_front,
        "edit": list(one.edit(wiring).words(wiring)),
    }


def print_networks(entry: dict[str, Any]) -> None:
    """The networks of one knob, in words.

    Parameters
    ----------
    entry : dict
        What `networks_told` gave, among other things.
    """
    from dsp.knobs.networks import KINDS

    if "no_networks" in entry:
        click.echo(f"  no tone network to try: {entry['no_networks']}")
    rows = entry.get("networks", [])
    last = sum(row["unbeaten"] for row in rows) - 1
    for i, row in enumerate(rows):
        if i == 0:
            click.echo(f"  of {entry['networks_tried']} networks and pots none beats these in both:")
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
