"""What leads a knob to a goal, as rows for the command and the page."""

from __future__ import annotations

from collections.abc import Mapping
from math import isfinite
from typing import TYPE_CHECKING, Any

from dsp.parts.pot import KNOB_TOP
from dsp.units import show
from dsp.wiring.model import Setting, Wiring
from server.searches.knobs import SAME_DB, as_edits, changed, known_knob, travel_json
from server.searches.sounds import FILE, read
from server.wirings.changed import EditedText

if TYPE_CHECKING:
    from dsp.knobs.goal_search import Answer, Candidate, Elsewhere
    from dsp.knobs.tracks import Track
    from server.processes.reports import Report


def run(text: str, options: Mapping[str, Any], report: Report) -> None:
    """Search the networks of a knob for a goal.

    Parameters
    ----------
    options : mapping
        ``position``, ``knobs``, ``switches``, ``knob``, ``to``, ``at_least_db``, ``within_db``,
        ``evenness``, ``keep_pot``.

    Raises
    ------
    InputError
        For a position, knob or goal that is not possible.
    """
    from dsp.knobs.goal import Goal
    from dsp.knobs.goal_search import search_goal
    from dsp.knobs.travel import compute_travel

    wiring = read(text)
    setting = wiring.setting(options["position"], options["knobs"], options["switches"])
    knob = known_knob(wiring, options["knob"])
    goal = Goal(
        tuple(options["to"]),
        options["at_least_db"],
        options["within_db"],
        options["evenness"],
        options["keep_pot"],
    )
    report(travel=travel_json(compute_travel(wiring, setting, knob)))
    seen = 0

    def progress(share: float) -> None:
        nonlocal seen
        if int(20.0 * share) > seen:
            seen = int(20.0 * share)
            report(share=round(share, 2))

    answer = search_goal(wiring, setting, knob, goal, progress=progress)
    whole, rows = EditedText(text, FILE), []
    for one in answer.candidates:
        row = candidate_json(wiring, setting, one)
        edits = whole.changes(wiring, one.change(wiring))
        if not _does(text, edits, setting, one):
            continue
        asked = one.change_with_curve(wiring)
        row["edits"] = as_edits(edits)
        row["curve_edits"] = None if asked is None else as_edits(whole.changes(wiring, asked))
        rows.append(row)
    report(goal={**answer_json(answer), "candidates": rows})


def _does(text: str, edits: Any, setting: Setting, one: Candidate) -> bool:
    """Whether the edited text does what the search predicts."""
    from dsp.knobs.travel import compute_travel

    edited, stands = changed(text, edits, setting)
    moved = compute_travel(edited, stands, one.knob)
    if one.of_level:
        return abs(moved.level_evenness - one.evenness) <= SAME_DB
    return abs(moved.width_db - one.change_db) <= SAME_DB


def answer_json(answer: Answer) -> dict[str, Any]:
    """What was asked and how much was computed."""
    return {
        "to": list(answer.goal.to),
        "at_least_db": answer.goal.at_least_db,
        "within_db": answer.goal.within_db,
        "evenness": answer.goal.evenness,
        "keep_pot": answer.goal.keep_pot,
        "networks": answer.networks,
        "computed": answer.computed,
        "meeting": answer.meeting,
    }


def candidate_json(wiring: Wiring, setting: Setting, one: Candidate) -> dict[str, Any]:
    """A candidate's parts and figures, along the way and elsewhere."""
    from dsp.knobs.goal_networks import GOAL_KINDS
    from dsp.knobs.goal_search import compute_along, compute_elsewhere
    from dsp.parts.kinds import kind_of, positioned_of

    change = one.change(wiring)
    along = compute_along(wiring, setting, one)
    re_start_db = float(along.level_db[-1 if one.start else 0])
    parts = [
        {"name": name, "value": kind_of(part).value_text(part)}
        for name, part in change.parts.items()
        if name not in wiring.parts or (name != one.knob and positioned_of(part) is None)
    ]
    figures = travel_json(along)
    return {
        **figures,
        "level_db": [round(float(level) - re_start_db, 2) for level in along.level_db],
        "kind": one.kind,
        "about": GOAL_KINDS[one.kind],
        "network": one.variant.text,
        "parts": parts,
        "only": one.variant.only,
        "by": one.variant.by,
        "pot": _pot(one.track),
        "start": one.start,
        "start_db": round(one.start_db, 2),
        "change_db": round(one.change_db, 2),
        "spread_db": round(one.spread_db, 2),
        "even": round(one.evenness, 3),
        "bass_db": round(one.bass_db, 1),
        "treble_db": round(one.treble_db, 1),
        "hum_db": _hum(wiring, setting, one),
        "meets": one.meets,
        "unbeaten": one.unbeaten,
        "curve": None if one.curve is None else _curve(one.curve),
        "curve_evenness": round(one.curve_evenness, 3),
        "elsewhere": [_elsewhere(wiring, other) for other in compute_elsewhere(wiring, setting, one)],
        "edit": list(change.instructions(wiring)),
    }


def _hum(wiring: Wiring, setting: Setting, one: Candidate) -> list[float | None]:
    """Hum left at the start and at the other end; None where it is silent."""
    from dsp.facts.position import position_facts

    built = one.change(wiring).apply(wiring)
    ends = [
        built.setting(setting.position, {**setting.knobs, one.knob: value}, setting.switches)
        for value in (one.start, KNOB_TOP - one.start)
    ]
    return [
        None
        if facts.hum == "silent" or not isfinite(facts.hum_residual_db)
        else round(facts.hum_residual_db, 1)
        for facts in position_facts(built, ends)
    ]


def _pot(track: Track) -> str:
    """The pot in words, with the resistor across it."""
    taper = track.name or "a curve to ask for: " + ", ".join(
        f"{100.0 * share:g} % at {10.0 * at:g}" for at, share in _curve(track)
    )
    across = "" if track.across_ohm is None else f", {show(track.across_ohm, 'resistance')} across its lugs"
    return f"{show(track.resistance_ohm, 'resistance', 3)}, {taper}{across}"


def _curve(track: Track) -> list[tuple[float, float]]:
    return [(float(at), float(share)) for at, share in track.taper.points]


def _elsewhere(wiring: Wiring, one: Elsewhere) -> dict[str, Any]:
    level_db = one.travel.level_db
    return {
        "position": one.position,
        "label": wiring.labels.get(one.position, ""),
        "same": one.same,
        "width_db": round(one.travel.width_db, 2),
        "spread_db": round(float(level_db.max() - level_db.min()), 2),
        "evenness": round(one.travel.evenness, 3),
        "at_ten_db": round(one.at_ten_db, 2),
        "at_ten_level_db": round(one.at_ten_level_db, 2),
        "today_width_db": round(one.today.width_db, 2),
    }
