"""Candidate sounds as the page shows them: places on a plane, words, numbers, timbres."""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from typing import TYPE_CHECKING, Any

from dsp.circuit.hum_limits import CANCELLING_DB
from dsp.sound.audible import largest_difference, limits_record
from dsp.sound.timbre import timbre_distance
from dsp.wiring.model import Wiring
from server.wirings.labels import key_of

if TYPE_CHECKING:
    from dsp.sounds.candidates import Candidates
    from dsp.sounds.topology import Topology

MOST_SHOWN = 1500
"""More dots than so many hide one another, and take the page too long."""
SEED = 1
HUNDREDTHS = 100.0


class Facts:
    """What a technician would read of candidates, worked out when wanted."""

    def __init__(self, wiring: Wiring, found: Candidates) -> None:
        self._wiring, self._found = wiring, found
        self._known: dict[int, dict[str, Any]] = {}
        self._keys: dict[int, str] = {}

    def work_out(self, members: Sequence[int]) -> None:
        """Work out what is not known yet of some candidates."""
        from dsp.facts.position import position_facts
        from dsp.facts.words import WordInputs, sound_words
        from dsp.lugs.best_set import sketch_of

        new = [i for i in dict.fromkeys(members) if i not in self._known]
        if not new:
            return
        wiring = sketch_of(self._wiring, [self._found.expression_text(i) for i in new])
        facts = position_facts(wiring, [wiring.setting(position) for position in wiring.positions])
        for i, one in zip(new, facts, strict=True):
            # the tone alone: level and hum stand beside it as numbers
            (words,) = sound_words(
                [WordInputs(one.brightness, one.low_share, one.middle_share, 0.0, one.hum)]
            )
            self._known[i] = {"words": [words[0]], "out_of_phase": list(one.against)}

    def key(self, i: int) -> str:
        """Return the text that all expressions of one's sound share."""
        if i not in self._keys:
            self._keys[i] = key_of(self._wiring, self._found.expression_text(i))
        return self._keys[i]

    def of(self, i: int) -> dict[str, Any]:
        """Return words and coils out of phase of one, None before they are known."""
        return self._known.get(i, {"words": [], "out_of_phase": None})


def row_json(found: Candidates, i: int, facts: Facts) -> dict[str, Any]:
    """Return one candidate's facts, by the names of `position_record`.

    ``in_phase`` is known of every candidate; which coils are out of phase is worked out later, and
    is None before.
    """
    peak_hz = _finite(round(float(found.resonance_hz[i]), 1))
    return {
        "index": i,
        "expression": found.expression_text(i),
        "sound": facts.key(i),
        "connection": [_tree(found, i)],
        "level_below_loudest_db": round(float(found.level_db[i] - found.level_db.max()), 2),
        "clean_level_below_loudest_db": round(float(found.clean_level_db[i] - found.clean_level_db.max()), 2),
        "hum_db": round(float(found.hum_db[i]), 1),
        "hum_cancelling": bool(found.hum_db[i] <= CANCELLING_DB),
        "brightness_hz": round(float(found.brightness_hz[i]), 1),
        "resonances": [] if peak_hz is None else [{"frequency_hz": peak_hz}],
        "meter_ohm": _finite(float(found.reading_ohm[i])),
        "in_phase": not found.opposed[i],
        **facts.of(i),
    }


def set_json(found: Candidates, chosen: Sequence[int], facts: Facts) -> dict[str, Any]:
    """A set in its order, and how far each is from its nearest other."""
    points = found.timbre[list(chosen)]
    apart = timbre_distance(points[:, None], points[None, :])
    rows = []
    for k, i in enumerate(chosen):
        others = [(float(apart[k, j]), j) for j in range(len(chosen)) if j != k]
        away, j = min(others, default=(None, k))
        row = {"nearest_db": None if away is None else round(away, 2), "nearest_largest_db": None}
        if away is not None:
            row["nearest_largest_db"] = round(float(largest_difference(points[k], points[j])), 2)
        rows.append({**row_json(found, i, facts), **row})
    smallest = min((row["nearest_db"] for row in rows if row["nearest_db"] is not None), default=None)
    whole = [float(apart[a, b]) for a in range(len(chosen)) for b in range(a)]
    return {"rows": rows, "distance_db": round(min(whole), 4) if whole else smallest}


def shown_of(found: Candidates, more: Sequence[int], before: Sequence[int] = ()) -> tuple[int, ...]:
    """Candidates to be shown: all, or a fair sample with those that matter.

    Parameters
    ----------
    more : sequence of int
        Must be among them.
    before : sequence of int, optional
        Shown already; they stay.
    """
    import numpy as np

    if len(found) <= MOST_SHOWN:
        return tuple(range(len(found)))
    base = before or np.random.default_rng(SEED).choice(len(found), MOST_SHOWN, replace=False).tolist()
    return tuple(sorted({*base, *more}))


def map_json(
    found: Candidates, shown: Sequence[int], allowed: Collection[int], facts: Facts
) -> dict[str, Any]:
    """The map: candidates with their places, dB, and their timbres.

    Parameters
    ----------
    allowed : collection of int
        Those that keep the rules each for itself.

    Returns
    -------
    dict
        ``points`` in the order of ``shown``; ``timbre`` per point, hundredths of a decibel, whole
        numbers: the distance of two is the root mean square of their differences. ``heard`` has the
        limits and words for the largest of them.
    """
    from dsp.sounds.alternatives import map_on_plane

    plane = map_on_plane(found)
    points = [
        {
            **row_json(found, i, facts),
            "x": round(float(plane[i, 0]), 3),
            "y": round(float(plane[i, 1]), 3),
            "allowed": i in allowed,
        }
        for i in shown
    ]
    timbre = [[round(HUNDREDTHS * float(level)) for level in found.timbre[i]] for i in shown]
    return {
        "sounds": len(found),
        "points": points,
        "timbre": timbre,
        "hum_cancelling_db": CANCELLING_DB,
        "heard": limits_record(),
    }


def _tree(found: Candidates, i: int) -> dict[str, Any]:
    """How a candidate's coils are joined, as the page draws it."""
    row = [int(sign) for sign in found.signs[i]]
    return _branch(found.networks[i], found.names, row)


def _branch(network: Topology, names: Sequence[str], signs: Sequence[int]) -> dict[str, Any]:
    if not network.members:
        (k,) = network.coils
        return {"kind": "coil", "name": names[k], "turned": signs[k] < 0}
    return {"kind": network.kind, "members": [_branch(one, names, signs) for one in network.members]}


def _finite(value: float) -> float | None:
    """The value, or None for what reads open."""
    return round(value, 1) if math.isfinite(value) else None
