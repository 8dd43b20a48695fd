"""How evenly a knob changes the sound, and what would make it more even, as edits to try."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from dsp.errors import InputError, nearest
from dsp.knobs.place import why_no_place
from dsp.parts.capacitor import Capacitor
from dsp.parts.kinds import parts_of
from dsp.units import show
from dsp.wiring.model import Setting, Wiring
from server.searches.sounds import FILE, read
from server.wirings.changed import Changes, EditedText

if TYPE_CHECKING:
    from dsp.knobs.bypass import Bypass
    from dsp.knobs.travel import Travel
    from server.processes.reports import Report

MOST_ADVICE = 5
SAME_DB = 0.01
"""An edit and the advice it stands for differ by less."""
SILENT_DB = -30.0
"""A knob whose bottom is so far down is a volume: only such a one has treble to lose."""


def run(text: str, options: Mapping[str, Any], report: Report) -> None:
    """A knob's travel at a setting, then advice.

    Parameters
    ----------
    options : mapping
        ``position``, ``knobs``, ``switches``, ``knob``, ``capacitor`` (a name, or empty).

    Raises
    ------
    InputError
        For a position, knob or capacitor that is not there.
    """
    from dsp.knobs.travel import compute_travel, suggest_values

    wiring = read(text)
    knob, capacitor = known_knob(wiring, options["knob"]), options["capacitor"] or None
    setting = wiring.setting(options["position"], options["knobs"], options["switches"])
    capacitors = list(parts_of(wiring.parts, Capacitor))
    if capacitor is not None and capacitor not in capacitors:
        raise InputError("capacitor", f"'{capacitor}'", ", ".join(capacitors) or "none here")
    own = compute_travel(wiring, setting, knob)
    volume = float(own.level_db[0]) < SILENT_DB
    report(travel=travel_json(own), capacitors=capacitors, volume=volume)
    tried = [one for one in suggest_values(wiring, setting, knob, capacitor) if one.changes]
    better = [one for one in tried if _even(one.travel, volume) > _even(own, volume)]
    better.sort(key=lambda one: -_even(one.travel, volume))
    whole = EditedText(text, FILE)
    advice = [(as_edits(whole.values(one.changes)), one.travel) for one in better[:MOST_ADVICE]]
    report(advice=[{"edits": edits, **travel_json(moved)} for edits, moved in advice])
    if volume:
        _report_bypasses(text, wiring, setting, knob, report)
    else:
        reason = why_no_place(wiring, knob)
        if reason:
            report(no_networks=reason)
        else:
            _report_networks(text, wiring, setting, knob, report)


def known_knob(wiring: Wiring, knob: str) -> str:
    """The knob, if the wiring has it.

    Raises
    ------
    InputError
    """
    if knob not in wiring.knobs:
        raise InputError(
            "knob", f"'{knob}'", ", ".join(wiring.knobs) or "none here", nearest(knob, wiring.knobs)
        )
    return knob


def _report_bypasses(text: str, wiring: Wiring, setting: Setting, knob: str, report: Report) -> None:
    """Report parts that keep a volume's treble, if the edits do what the search predicts."""
    from dsp.knobs.bypass import try_bypasses

    whole = EditedText(text, FILE)
    own, *tried = try_bypasses(wiring, setting, knob)
    found: list[dict[str, Any]] = []
    for one in sorted((one for one in tried if one.capacitance_f is not None), key=lambda one: one.wander_db):
        if len(found) == MOST_ADVICE:
            break
        edits = whole.changes(wiring, one.change)
        edited, stands = changed(text, edits, setting)
        if abs(next(try_bypasses(edited, stands, knob)).wander_db - one.wander_db) <= SAME_DB:
            found.append(_bypass(one, edits))
    treble_lost_db = round(-float(own.treble_db.min()), 1)
    report(bypass=found, treble_lost_db=treble_lost_db, wander_db=round(own.wander_db, 2))


def _report_networks(text: str, wiring: Wiring, setting: Setting, knob: str, report: Report) -> None:
    """Report networks for a tone knob, if the edits do what the search predicts."""
    from dsp.knobs.advice import pick_suggestions, suggest_networks
    from dsp.knobs.networks import KINDS
    from dsp.knobs.travel import compute_travel

    whole, found = EditedText(text, FILE), []
    for one, unbeaten in pick_suggestions(suggest_networks(wiring, setting, knob), MOST_ADVICE):
        edits = whole.changes(wiring, one.change(wiring))
        edited, stands = changed(text, edits, setting)
        if abs(compute_travel(edited, stands, knob).width_db - one.travel.width_db) <= SAME_DB:
            found.append({
                "kind": KINDS[one.variant.kind],
                "network": one.variant.text,
                "pot": f"{show(one.resistance_ohm, 'resistance', 3)}, {one.taper}",
                "coils": list(one.coils),
                "unbeaten": unbeaten,
                "width_db": round(one.travel.width_db, 2),
                "evenness": round(one.travel.evenness, 3),
                "at_ten_db": round(one.at_ten_db, 2),
                "edits": as_edits(edits),
            })  # fmt: skip
    report(networks=found)


def changed(text: str, edits: Changes, setting: Setting) -> tuple[Wiring, Setting]:
    """The wiring with edits in it, and the same setting of it."""
    edited = EditedText(text, FILE)
    edited.change(edits)
    changed = edited.wiring()
    return changed, changed.setting(setting.position, setting.knobs, setting.switches)


def as_edits(changes: Changes) -> list[dict[str, Any]]:
    """Changes as a draft has them."""
    return [{"path": path, "value": value} for path, value in changes]


def _even(one: Travel, volume: bool) -> float:
    """What a knob is judged by: a volume by its level, any other by its timbre."""
    return one.level_evenness if volume else one.evenness


def travel_json(one: Travel) -> dict[str, Any]:
    """A travel as the page draws it."""
    return {
        "knob": one.knob,
        "width_db": round(one.width_db, 2),
        "largest_db": round(one.largest_db, 2),
        "heard": one.heard,
        "evenness": round(one.evenness, 3),
        "level_evenness": round(one.level_evenness, 3),
        "values": [float(value) for value in one.values],
        "step_db": [round(float(step), 3) for step in one.step_db],
        "level_db": [round(float(level), 2) for level in one.level_db],
    }


def _bypass(one: Bypass, edits: Changes) -> dict[str, Any]:
    return {
        "parts": [
            *([] if one.capacitance_f is None else [show(one.capacitance_f, "capacitance")]),
            *([] if one.resistance_ohm is None else [show(one.resistance_ohm, "resistance")]),
        ],
        "beside": one.parallel,
        "wander_db": round(one.wander_db, 2),
        "treble_lost_db": round(-float(one.treble_db.min()), 1),
        "edits": as_edits(edits),
    }
