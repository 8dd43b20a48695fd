"""The facts of every position as the page shows them in rows."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from dsp.circuit.hum import CANCELLING_DB
from dsp.facts.connection import CoilLeaf, Tree
from dsp.facts.findings.table import Finding
from dsp.facts.position import PositionFacts, position_facts
from dsp.facts.words import Heard, plain_words
from dsp.wiring.model import Setting, Wiring
from server.bench.parts import finding_json


def facts_json(
    wiring: Wiring, settings: Sequence[Setting], findings: Sequence[Finding]
) -> list[dict[str, Any]]:
    """A row per setting.

    Parameters
    ----------
    wiring : Wiring
    settings : sequence of Setting
        One per position.
    findings : sequence of Finding
        Of the whole wiring; each row gets those that name its position.
    """
    facts = position_facts(wiring, settings)
    words = plain_words(
        [Heard(one.brightness, one.low_share, one.middle_share, one.level_db, one.hum) for one in facts]
    )
    return [_row(one, spoken, findings) for one, spoken in zip(facts, words, strict=True)]


def finite(value: float) -> float | None:
    """The value, or None for what JSON cannot say."""
    return value if math.isfinite(value) else None


def _row(one: PositionFacts, words: Sequence[str], findings: Sequence[Finding]) -> dict[str, Any]:
    position = one.setting.position
    peak = one.resonance
    return {
        "position": position,
        "label": one.label,
        "joined": [tree_json(tree, one.against) for tree in one.groups],
        "joined_text": one.joined,
        "coils": list(one.coils),
        "against": list(one.against),
        "hum_db": finite(one.hum_residual_db),
        "hums": one.hum,
        "hum_cancelling": bool(one.coils) and one.hum_residual_db <= CANCELLING_DB,
        "level_db": finite(one.level_db),
        "resonance_hz": None if peak is None else peak.frequency_hz,
        "resonance_height_db": None if peak is None else peak.height_db,
        "brightness_hz": one.brightness_hz if one.coils else None,
        "reading_ohm": finite(one.reading_ohm),
        "noise_volt": one.noise_volt,
        "words": list(words),
        "findings": [finding_json(found) for found in findings if position in found.positions],
    }


def tree_json(tree: Tree, against: Sequence[str]) -> dict[str, Any]:
    """How coils are joined, as the page draws it."""
    if isinstance(tree, CoilLeaf):
        return {
            "kind": "coil",
            "name": tree.name,
            "turned": tree.turned,
            "against": tree.name in against,
        }
    return {"kind": tree.kind, "members": [tree_json(member, against) for member in tree.members]}
