"""The facts of every position as the page shows them in rows."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from dsp.facts.apart import nearest_positions
from dsp.facts.findings.table import Finding
from dsp.facts.position import position_facts
from dsp.facts.record import position_record, words_of
from dsp.wiring.model import Setting, Wiring
from server.bench.parts import finding_json


def facts_json(
    wiring: Wiring, settings: Sequence[Setting], findings: Sequence[Finding]
) -> list[dict[str, Any]]:
    """Return a record per setting, with resonance and nearest setting.

    Parameters
    ----------
    settings : sequence of Setting
        One per position.
    findings : sequence of Finding
        Of the whole wiring; each row gets those that name its position.
    """
    facts = position_facts(wiring, settings)
    rows = []
    for one, words, nearest in zip(facts, words_of(facts), nearest_positions(wiring, settings), strict=True):
        peaks = () if one.resonance is None else (one.resonance,)
        named = [finding for finding in findings if one.setting.position in finding.positions]
        rows.append(
            {
                **position_record(one, peaks=peaks, words=words, nearest=nearest),
                "findings": list(map(finding_json, named)),
            }
        )
    return rows
