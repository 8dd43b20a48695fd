"""The only schema of a position's facts: one name for each fact, printed or sent.

The ``facts`` command, the bench's page and the map of sounds use these names. All values are plain
numbers, texts, lists and mappings, ready for JSON. None replaces a value that JSON cannot hold.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from typing import Any

from dsp.circuit.hum_limits import CANCELLING_DB
from dsp.circuit.resonance import Resonance
from dsp.facts.apart import Nearest, nearest_record
from dsp.facts.connection import CoilLeaf, Tree
from dsp.facts.position import PositionFacts
from dsp.facts.words import WordInputs, sound_words
from dsp.sound.audible import least_shift_hz


def position_record(
    facts: PositionFacts,
    *,
    peaks: Sequence[Resonance],
    words: Sequence[str] = (),
    nearest: Nearest | None = None,
) -> dict[str, Any]:
    """Return the facts of a setting as a mapping from name to value.

    Parameters
    ----------
    peaks : sequence of Resonance
        Resonances to list: of all coils, or of the loudest alone.
    words : sequence of str
        How the setting sounds compared with the others; see `words_of`.
    nearest : Nearest or None
        The position most like it, if any were compared.

    Returns
    -------
    dict
        ``connection`` is a list of trees, one for each group of coils with its own way out.
        ``hum`` is ``none``, ``little``, ``hums`` or ``silent``; ``hum_db`` is the residual.
        ``meter_ohm`` is None for an open circuit, the levels for silence. ``resonances`` starts
        with the loudest coil's; the others follow by level.
    """
    return {
        "position": facts.setting.position,
        "label": facts.label,
        "settings": {"knobs": dict(facts.setting.knobs), "switches": dict(facts.setting.switches)},
        "coils": list(facts.coils),
        "connection": [tree_record(tree, facts.against) for tree in facts.groups],
        "connection_text": facts.joined,
        "out_of_phase": list(facts.against),
        "hum_db": finite(facts.hum_residual_db),
        "hum": facts.hum,
        "hum_cancelling": bool(facts.coils) and facts.hum_residual_db <= CANCELLING_DB,
        "level_db": finite(facts.level_db),
        "clean_level_db": finite(facts.clean_level_db),
        "brightness_hz": facts.brightness_hz if facts.coils else None,
        "meter_ohm": finite(facts.reading_ohm),
        "noise_volt": facts.noise_volt,
        "resonances": [_peak_record(peak) for peak in _loudest_first(facts, peaks)],
        "words": list(words),
        "nearest": nearest_record(nearest),
    }


def _loudest_first(facts: PositionFacts, peaks: Sequence[Resonance]) -> list[Resonance]:
    loudest = None if facts.resonance is None else facts.resonance.coil
    return sorted(peaks, key=lambda peak: (peak.coil != loudest, -peak.level_db))


def _peak_record(peak: Resonance) -> dict[str, Any]:
    return {
        "coil": peak.coil,
        "frequency_hz": peak.frequency_hz,
        "level_db": peak.level_db,
        "height_db": peak.height_db,
        "bandwidth_hz": peak.bandwidth_hz,
        "least_shift_hz": _least_shift_hz(peak),
    }


def _least_shift_hz(peak: Resonance) -> float | None:
    """Least shift that is heard; unknown of a shoulder, which has no width."""
    if peak.bandwidth_hz is None:
        return None
    return least_shift_hz(peak.frequency_hz, peak.frequency_hz / peak.bandwidth_hz)


def tree_record(tree: Tree, out_of_phase: Collection[str]) -> dict[str, Any]:
    """Return a coil, or a kind of connection with its members, as a mapping."""
    if isinstance(tree, CoilLeaf):
        return {
            "kind": "coil",
            "name": tree.name,
            "turned": tree.turned,
            "out_of_phase": tree.name in out_of_phase,
        }
    return {"kind": tree.kind, "members": [tree_record(member, out_of_phase) for member in tree.members]}


def words_of(facts: Sequence[PositionFacts]) -> tuple[tuple[str, ...], ...]:
    """Return the words for each position, chosen by comparing them all."""
    return sound_words(
        [WordInputs(one.brightness, one.low_share, one.middle_share, one.level_db, one.hum) for one in facts]
    )


def finite(value: float) -> float | None:
    """Return the value, or None if JSON cannot hold it."""
    return value if math.isfinite(value) else None
