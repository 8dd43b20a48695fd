"""Describe the sounds of a proposal by the table of words."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from dsp.facts.position import PositionFacts, position_facts
from dsp.facts.record import words_of
from dsp.facts.words import BRIGHTNESS
from dsp.parts.pot import KNOB_TOP
from dsp.wiring.model import Setting, Wiring
from dsp.wiring.reading.wiring import read_wiring
from server.bench.hearing import Hearing
from server.commissions.versions import version_row
from server.database.store import Store
from server.files.yaml_text import parse_tree
from server.proposals.store import Item

ROUNDEST, BRIGHTEST = 2.2, 9.0
"""Brightness (centroid over mean pitch) at the two ends of the customer's scale."""


@dataclass(frozen=True)
class SoundRequest:
    """A sound that the bench wants to offer.

    Attributes
    ----------
    hearing : Hearing
        Of a saved version.
    label : str
        Empty for the position's own.
    words : tuple of str
        Empty for those of the table.
    """

    hearing: Hearing
    label: str = ""
    words: tuple[str, ...] = ()

    @property
    def version(self) -> str:
        """Id of the version."""
        return self.hearing.draft.version


def describe_sounds(store: Store, requests: Sequence[SoundRequest]) -> list[Item]:
    """Return the items of a proposal, described against one another.

    Raises
    ------
    Unknown
        For a version that does not exist.
    InputError
        For a wiring that cannot be read or a setting that it does not have.
    """
    with store.read() as db:
        rows = {one.version: version_row(db, one.version) for one in requests}
    wirings = {version: read_version(row["text"]) for version, row in rows.items()}
    settings = [
        wirings[one.version].setting(one.hearing.position, one.hearing.knobs, one.hearing.switches)
        for one in requests
    ]
    facts = [
        position_facts(wirings[one.version], [setting])[0]
        for one, setting in zip(requests, settings, strict=True)
    ]
    words = words_of(facts)
    return [
        _item(one, wirings[one.version], setting, str(rows[one.version]["sha256"]), fact, table_words)
        for one, setting, fact, table_words in zip(requests, settings, facts, words, strict=True)
    ]


def read_version(text: str) -> Wiring:
    """Read the wiring of a version's text."""
    return read_wiring(parse_tree(text, "wiring"), "wiring")


def _item(
    request: SoundRequest,
    wiring: Wiring,
    setting: Setting,
    sha256: str,
    facts: PositionFacts,
    table_words: tuple[str, ...],
) -> Item:
    return Item(
        version=request.version,
        version_sha256=sha256,
        position=setting.position,
        knobs=setting.knobs,
        switches=setting.switches,
        label=request.label or wiring.labels.get(setting.position) or f"Position {setting.position}",
        words=request.words or table_words,
        stands=settings_text(wiring, setting),
        brightness=brightness_place(facts.brightness),
    )


def settings_text(wiring: Wiring, setting: Setting) -> tuple[str, ...]:
    """Return the knobs and switches that are not at rest, in words."""
    knobs = [f"{_plain(name)} at {value:g}" for name, value in setting.knobs.items() if value != KNOB_TOP]
    switches = [
        f"{_plain(name)} {f'jack: {position}' if name in wiring.jacks else f'switch in position {position}'}"
        for name, position in setting.switches.items()
        if position != wiring.stands[name][0]
    ]
    return (*knobs, *switches)


def _plain(name: str) -> str:
    return name.replace("_", " ")


def brightness_place(brightness: float) -> float:
    """Return a place from round (0) to bright (1), an equal share per word.

    Parameters
    ----------
    brightness : float
        Centroid over mean pitch; 0 for silence.
    """
    limits = [ROUNDEST, *(limit for limit, _ in BRIGHTNESS if math.isfinite(limit)), BRIGHTEST]
    places = np.linspace(0.0, 1.0, len(limits))
    return round(float(np.interp(math.log(max(brightness, 1e-3)), np.log(limits), places)), 3)
