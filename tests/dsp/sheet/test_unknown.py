"""The sheet names what the file does not say, and what it assumes instead."""

from __future__ import annotations

from dataclasses import replace

from places import DEMO

from dsp.sheet.unknown import unknown_texts
from server.wirings.text import load_wiring


def test_a_place_a_timing_and_ratings_that_are_missing_are_told() -> None:
    wiring = load_wiring(DEMO / "twelve.yaml")
    coil = replace(wiring.parts["neck"], at_m=None)
    unknown = list(unknown_texts(replace(wiring, parts={**wiring.parts, "neck": coil})))
    for words in ("50 V and more", "The place of neck: default lengths", "What selector, phase does first"):
        assert any(words in text for text in unknown), unknown


def test_what_the_file_states_is_not_missing() -> None:
    wiring = load_wiring(DEMO / "twelve.yaml")
    switches = {name: replace(wiring.parts[name], timing="shorting") for name in ("selector", "phase")}
    told = unknown_texts(replace(wiring, parts={**wiring.parts, **switches}))
    assert not any("first" in text or "The place" in text for text in told)
