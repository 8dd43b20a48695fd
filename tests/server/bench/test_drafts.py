"""Drafts on the bench: edits on a version; equal content is read and designed once."""

from __future__ import annotations

from typing import Any

import pytest
from places import DEMO

from dsp.errors import InputError
from dsp.parts.kinds import KINDS
from dsp.wiring.editing.document import Edit
from dsp.wiring.reading.wiring import read_wiring
from server.bench.fields import steps_of
from server.bench.hearing import Bench, Draft, Hearing
from server.files.recent import Recent
from server.files.yaml_text import parse_tree
from server.wirings.text import WiringText


def no_take(*_: object) -> Any:
    raise AssertionError("these requests need no take")


def test_edits_are_those_of_the_file_with_comments_kept() -> None:
    text = (DEMO / "baritone.yaml").read_text("utf-8")
    bench = Bench(lambda version: text, no_take, no_take)
    read = bench.read(Draft("v", (Edit(("parts", "tone_cap", "capacitance"), "33 nF"),)))
    by_hand = WiringText(text, "wiring")
    by_hand.set(("parts", "tone_cap", "capacitance"), "33 nF")
    assert read.text == by_hand.dump()
    assert "# the coil nearer the neck" in read.text
    assert read.wiring == read_wiring(parse_tree(by_hand.dump(), "wiring"), "wiring")


def test_the_same_content_is_designed_once() -> None:
    text = (DEMO / "baritone.yaml").read_text("utf-8")
    bench = Bench(lambda version: text, no_take, no_take)
    first = bench.bank(Hearing(Draft("a"), "1", {"tone": 3.0}))
    assert bench.bank(Hearing(Draft("b"), "1", {"tone": 3.0})) is first
    assert bench.bank(Hearing(Draft("a"), "1", {"tone": 3.0, "volume": 10.0})) is first
    assert bench.bank(Hearing(Draft("a"), "1", {"tone": 3.1})) is not first


def test_a_refused_draft_is_not_kept() -> None:
    texts = iter(["broken", (DEMO / "baritone.yaml").read_text("utf-8")])
    bench = Bench(lambda version: next(texts), no_take, no_take)
    with pytest.raises(InputError):
        bench.read(Draft("v"))
    assert bench.wiring(Draft("v")).coils


def test_the_least_recently_used_goes_first() -> None:
    recent: Recent[str] = Recent(2)
    for key in ("a", "b", "a", "c"):
        recent.get_or_make(key, lambda key=key: key.upper())
    assert recent.get("a") == "A"
    assert recent.get("b") is None
    assert recent.get("c") == "C"


def test_steps_end_at_the_bounds_of_a_field() -> None:
    taper_end = next(field for field in KINDS["pot"].fields if field.name == "end_resistance")
    assert steps_of(taper_end, "0") is None
    assert steps_of(taper_end, "1 MΩ") == {"down": "910 kΩ", "up": None}
    place = next(field for field in KINDS["coil"].fields if field.name == "at")
    assert steps_of(place, "167.6 mm") == {"down": "167 mm", "up": "168 mm"}
    assert steps_of(place, "168 mm") == {"down": "167 mm", "up": "169 mm"}
    assert steps_of(place, "no length") is None
