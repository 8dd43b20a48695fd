"""Describe the sounds of a proposal by the table of words, and its wirings by their parts."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from dsp.errors import InputError
from dsp.facts.position import PositionFacts, position_facts
from dsp.facts.record import words_of
from dsp.facts.words import BRIGHTNESS
from dsp.parts.pot import KNOB_TOP
from dsp.sheet.contents import PartCount, count_parts, list_joints, pickup_coils
from dsp.wiring.model import Setting, Wiring
from dsp.wiring.reading.wiring import read_wiring
from server.bench.hearing import Hearing
from server.commissions.versions import version_row
from server.database.store import Store
from server.files.yaml_text import parse_tree
from server.proposals.store import Item
from server.proposals.wirings import OfferedWiring

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


@dataclass(frozen=True)
class WiringRequest:
    """What the bench says of a wiring that it offers.

    Attributes
    ----------
    version : str
        Id of the version.
    name, price, when_ready : str
        In words; a name is found if this one is empty.
    kept : tuple of str or None
        Names of the parts that the instrument has; None for its pickups.
    farthest : str
        See `OfferedWiring`.
    """

    version: str
    name: str = ""
    price: str = ""
    when_ready: str = ""
    kept: tuple[str, ...] | None = None
    farthest: str = ""


def describe_wirings(
    store: Store, title: str, items: Sequence[Item], requests: Sequence[WiringRequest]
) -> list[OfferedWiring]:
    """Return the wirings of items, those requested first, in their order.

    Parameters
    ----------
    title : str
        Of the proposal, and the name of its only wiring.

    Raises
    ------
    InputError
        For a wiring without a sound, one that comes twice, or a part that it does not have.
    """
    versions = list(dict.fromkeys(item.version for item in items))
    asked = {one.version: one for one in requests}
    if len(asked) < len(requests) or any(one not in versions for one in asked):
        raise InputError(
            "wirings", "one that comes twice, or has no sound", "each wiring of the sounds, once"
        )
    ordered = [*asked.values(), *(WiringRequest(one) for one in versions if one not in asked)]
    with store.read() as db:
        texts = {one: str(version_row(db, one)["text"]) for one in versions}
    digests = {item.version: item.version_sha256 for item in items}
    names = [title] if len(ordered) == 1 else [f"Wiring {number}" for number in range(1, len(ordered) + 1)]
    return [
        _wiring(one, read_version(texts[one.version]), digests[one.version], name)
        for one, name in zip(ordered, names, strict=True)
    ]


def _wiring(request: WiringRequest, wiring: Wiring, sha256: str, name: str) -> OfferedWiring:
    kept = pickup_coils(wiring) if request.kept is None else request.kept
    if strangers := [one for one in kept if one not in wiring.parts]:
        raise InputError("kept", f"'{strangers[0]}'", ", ".join(wiring.parts))
    return OfferedWiring(
        version=request.version,
        version_sha256=sha256,
        name=request.name or name,
        price=request.price,
        when_ready=request.when_ready,
        bought=_told(count_parts(wiring, [one for one in wiring.parts if one not in kept])),
        kept=_told(count_parts(wiring, kept)),
        soldered=tuple(
            {**asdict(one), "parts": [plain_name(part) for part in one.parts]} for one in list_joints(wiring)
        ),
        farthest=request.farthest,
    )


def _told(parts: Sequence[PartCount]) -> tuple[dict[str, Any], ...]:
    return tuple(
        {"count": one.count, "text": one.text, "names": [plain_name(name) for name in one.names]}
        for one in parts
    )


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
    knobs = [f"{plain_name(name)} at {value:g}" for name, value in setting.knobs.items() if value != KNOB_TOP]
    switches = [
        f"{plain_name(name)} "
        + (f"jack: {position}" if name in wiring.jacks else f"switch in position {position}")
        for name, position in setting.switches.items()
        if position != wiring.stands[name][0]
    ]
    return (*knobs, *switches)


def plain_name(name: str) -> str:
    """Return the name of a part as people read it."""
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
