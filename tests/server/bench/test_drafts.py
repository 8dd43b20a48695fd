"""Drafts: edits on top of a version, read and designed once for the same content."""

from __future__ import annotations

import pytest
from places import DEMO

from dsp.errors import InputError
from dsp.parts.fields import KINDS
from dsp.wiring.reading.wiring import read_wiring
from server.bench.hearing import Draft, Drafts, Edit, Kept
from server.bench.steps import steps_of
from server.files.yaml_text import parse_tree
from server.wirings.text import WiringText


def test_edits_are_those_of_the_file_with_comments_kept() -> None:
    text = (DEMO / "baritone.yaml").read_text("utf-8")
    drafts = Drafts(lambda version: text)
    read = drafts.read(Draft("v", (Edit(("parts", "tone_cap", "capacitance"), "33 nF"),)))
    by_hand = WiringText(text, "wiring")
    by_hand.set(("parts", "tone_cap", "capacitance"), "33 nF")
    assert read.text == by_hand.dump()
    assert "# the coil nearer the neck" in read.text
    assert read.wiring == read_wiring(parse_tree(by_hand.dump(), "wiring"), "wiring")


def test_the_same_content_is_designed_once() -> None:
    text = (DEMO / "baritone.yaml").read_text("utf-8")
    drafts = Drafts(lambda version: text)
    setting = drafts.wiring(Draft("a")).setting("1", {"tone": 3.0})
    assert drafts.bank(Draft("a"), setting) is drafts.bank(Draft("b"), setting)
    other = drafts.wiring(Draft("a")).setting("1", {"tone": 3.1})
    assert drafts.bank(Draft("a"), setting) is not drafts.bank(Draft("a"), other)


def test_a_refused_draft_is_not_kept() -> None:
    texts = iter(["broken", (DEMO / "baritone.yaml").read_text("utf-8")])
    drafts = Drafts(lambda version: next(texts))
    with pytest.raises(InputError):
        drafts.read(Draft("v"))
    assert drafts.wiring(Draft("v")).coils


def test_the_least_recently_used_goes_first() -> None:
    kept: Kept[str] = Kept(2)
    for key in ("a", "b", "a", "c"):
        kept.of(key, lambda key=key: key.upper())
    assert kept.get("a") == "A"
    assert kept.get("b") is None
    assert kept.get("c") == "C"


def test_steps_end_at_the_bounds_of_a_field() -> None:
    taper_end = next(field for field in KINDS["pot"] if field.name == "end_resistance")
    assert steps_of(taper_end, "0") is None
    assert steps_of(taper_end, "1 MΩ") == {"down": "910 kΩ", "up": None}
    place = next(field for field in KINDS["coil"] if field.name == "at")
    assert steps_of(place, "167.6 mm") == {"down": "167 mm", "up": "168 mm"}
    assert steps_of(place, "168 mm") == {"down": "167 mm", "up": "169 mm"}
    assert steps_of(place, "no length") is None
