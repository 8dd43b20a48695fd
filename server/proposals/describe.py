"""Sounds that are offered: checked, and described by the table of words."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from dsp.facts.position import PositionFacts, position_facts
from dsp.facts.words import BRIGHTNESS, Heard, plain_words
from dsp.parts.pot import KNOB_TOP
from dsp.wiring.model import Setting, Wiring
from dsp.wiring.reading.wiring import read_wiring
from server.commissions.versions import version_row
from server.database.store import Store
from server.files.yaml_text import parse_tree
from server.proposals.store import Item

ROUNDEST, BRIGHTEST = 2.2, 9.0
"""Brightness (centroid over mean pitch) at the two ends of the scale that the customer sees."""


@dataclass(frozen=True)
class Asked:
    """One sound as the bench asks for it to be offered.

    Attributes
    ----------
    version : str
    position : str
    knobs : mapping of str to float
        Those not named stand at 10.
    switches : mapping of str to str
    label : str
        The position's own where empty.
    words : tuple of str
        In place of those the table chooses; the table's where empty.
    """

    version: str
    position: str
    knobs: Mapping[str, float]
    switches: Mapping[str, str]
    label: str = ""
    words: tuple[str, ...] = ()


def offered(store: Store, asked: Sequence[Asked]) -> list[Item]:
    """Items of a proposal, described against one another.

    Parameters
    ----------
    store : Store
    asked : sequence of Asked

    Returns
    -------
    list of Item

    Raises
    ------
    Unknown
        For a version there is not.
    InputError
        For a wiring that cannot be read or a setting that it does not have.
    """
    with store.read() as db:
        rows = {one.version: version_row(db, one.version) for one in asked}
    wirings = {version: read_version(row["text"]) for version, row in rows.items()}
    settings = [wirings[one.version].setting(one.position, one.knobs, one.switches) for one in asked]
    facts = [
        position_facts(wirings[one.version], [setting])[0]
        for one, setting in zip(asked, settings, strict=True)
    ]
    words = plain_words([_heard(one) for one in facts])
    return [
        _item(one, wirings[one.version], setting, str(rows[one.version]["sha256"]), fact, said)
        for one, setting, fact, said in zip(asked, settings, facts, words, strict=True)
    ]


def read_version(text: str) -> Wiring:
    """The wiring of a version's text."""
    return read_wiring(parse_tree(text, "wiring"), "wiring")


def _heard(facts: PositionFacts) -> Heard:
    return Heard(facts.brightness, facts.low_share, facts.middle_share, facts.level_db, facts.hum)


def _item(
    asked: Asked, wiring: Wiring, setting: Setting, sha256: str, facts: PositionFacts, said: tuple[str, ...]
) -> Item:
    return Item(
        version=asked.version,
        version_sha256=sha256,
        position=setting.position,
        knobs=setting.knobs,
        switches=setting.switches,
        label=asked.label or wiring.labels.get(setting.position) or f"Position {setting.position}",
        words=asked.words or said,
        stands=_stands(wiring, setting),
        brightness=brightness_place(facts.brightness),
    )


def _stands(wiring: Wiring, setting: Setting) -> tuple[str, ...]:
    """Knobs and switches that are not at rest, in words."""
    knobs = [f"{_plain(name)} at {value:g}" for name, value in setting.knobs.items() if value != KNOB_TOP]
    switches = [
        f"{_plain(name)} switch in position {stand}"
        for name, stand in setting.switches.items()
        if stand != next(iter(wiring.switches[name].contacts))
    ]
    return (*knobs, *switches)


def _plain(name: str) -> str:
    return name.replace("_", " ")


def brightness_place(brightness: float) -> float:
    """Place from round (0) to bright (1), an equal share for each word.

    Parameters
    ----------
    brightness : float
        Centroid over mean pitch; 0 for silence.
    """
    limits = [ROUNDEST, *(limit for limit, _ in BRIGHTNESS if math.isfinite(limit)), BRIGHTEST]
    places = np.linspace(0.0, 1.0, len(limits))
    return round(float(np.interp(math.log(max(brightness, 1e-3)), np.log(limits), places)), 3)
