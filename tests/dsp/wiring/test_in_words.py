"""A new instrument in words: the sounds on offer, the usual ones, and the wiring that is written."""

from __future__ import annotations

from dataclasses import replace

import pytest

from dsp.errors import InputError
from dsp.facts.position import position_facts
from dsp.lugs.make import make_chart
from dsp.lugs.rules import ChartRules
from dsp.lugs.targets import targets_of
from dsp.wiring.in_words.file_text import wiring_text
from dsp.wiring.in_words.sounds import find_sounds, sounds_of, usual_sounds
from dsp.wiring.in_words.words import COMMON_LAYOUTS, InstrumentWords
from dsp.wiring.model import Wiring
from server.wirings.in_words import counts_of, make_text
from server.wirings.switches import load_switches
from server.wirings.text import WiringText

TWO_SINGLES_AND_PAIR = COMMON_LAYOUTS["humbucker_two_singles"].words


def said(switch: str = "", second: str = "", scale: str = "", **answers: str) -> InstrumentWords:
    return InstrumentWords(answers, switch=switch, second=second, scale=scale)


def wiring_of(words: InstrumentWords) -> Wiring:
    text, _ = make_text(words)
    return WiringText(text, "words").wiring()


def test_the_five_sounds_of_a_pair_and_two_singles() -> None:
    sounds = sounds_of(TWO_SINGLES_AND_PAIR, 5)
    assert [(one.words, one.expression) for one in sounds] == [
        ("neck", "neck"),
        ("neck with middle", "neck | middle"),
        ("middle", "middle"),
        ("middle with bridge, one coil", "middle | bridge_a"),
        ("bridge, both coils", "bridge_a + bridge_b"),
    ]


@pytest.mark.parametrize("layout", COMMON_LAYOUTS.values(), ids=lambda one: one.name)
def test_every_common_layout_is_a_wiring_that_its_switch_makes(layout: object) -> None:
    words = layout.words  # type: ignore[attr-defined]
    wiring = wiring_of(words)
    facts = position_facts(wiring, [wiring.setting(position) for position in wiring.positions])
    assert all(one.groups for one in facts), "a position that is silent"
    assert not any(one.against for one in facts)
    if not words.switch:
        assert wiring.selector is None
        return
    switch = load_switches([words.switch, *([words.second] if words.second else [])], "selector")
    wanted = targets_of(wiring)
    assert len(wanted.targets) == len(switch.positions)
    made = make_chart(wanted, switch, ChartRules("fixed"), time_s=60.0, progress=lambda stage, chart: True)
    assert made.chart is not None, made.words(switch)


def test_neighbours_cancel_hum_and_are_in_phase() -> None:
    wiring = wiring_of(said("blade_5_four_pole", neck="humbucker", middle="single", bridge="humbucker"))
    coils = wiring.coils
    assert {name: (coil.winding, coil.magnet) for name, coil in coils.items()} == {
        "neck_a": (1, 1), "neck_b": (-1, -1), "middle": (-1, -1), "bridge_a": (1, 1), "bridge_b": (-1, -1),
    }  # fmt: skip
    two = wiring_of(said("toggle_3_selector", neck="single", bridge="humbucker"))
    assert "neck | bridge_b" in {
        one.expression for one in find_sounds(said(neck="single", bridge="humbucker"))
    }
    assert two.coils["neck"].winding != two.coils["bridge_b"].winding


def test_coils_stand_at_their_share_of_the_scale() -> None:
    at = {name: coil.at_m for name, coil in wiring_of(TWO_SINGLES_AND_PAIR).coils.items()}
    assert at == pytest.approx({"neck": 0.156, "middle": 0.101, "bridge_a": 0.054, "bridge_b": 0.036})
    longer = replace(TWO_SINGLES_AND_PAIR, scale="686 mm")
    assert wiring_of(longer).coils["neck"].at_m == pytest.approx(0.165)
    baritone = said("blade_5_two_pole", neck="single", bridge="single", strings="baritone")
    assert wiring_of(baritone).instrument.scale_m == pytest.approx(0.686)


def test_values_follow_pickups_and_words() -> None:
    def pot_and_cap(**answers: str) -> tuple[object, object]:
        parts = wiring_of(said(**answers)).parts
        return parts["tone"].resistance_ohm, parts["tone_cap"].capacitance_f  # type: ignore[attr-defined]

    assert pot_and_cap(bridge="single") == (250e3, 47e-9)
    assert pot_and_cap(bridge="humbucker") == (500e3, 22e-9)
    assert pot_and_cap(bridge="humbucker", values="bright") == (1e6, 10e-9)


def test_a_volume_at_nought_leaves_the_other_pickup() -> None:
    both = {"neck": "humbucker", "bridge": "humbucker", "volumes": "each"}
    levels = {}
    for alone in ("one", "each"):
        wiring = wiring_of(said("toggle_3_selector", alone=alone, **both))
        full, off = (
            position_facts(wiring, [wiring.setting("2", {"neck_volume": knob})])[0].level_db
            for knob in (10.0, 0.0)
        )
        levels[alone] = (full, off)
    assert levels["one"][1] > levels["one"][0] - 6.0
    assert levels["each"][1] < levels["each"][0] - 40.0


def test_a_second_switch_gives_each_usual_sound_its_answer() -> None:
    pull = COMMON_LAYOUTS["two_humbuckers_pull"].words
    assert usual_sounds(pull, 3, 2) == (
        "neck, both coils", "neck, one coil",
        "neck, both coils, with bridge, both coils", "neck, one coil, with bridge, one coil",
        "bridge, both coils", "bridge, one coil",
    )  # fmt: skip
    ten = usual_sounds(said(neck="single", middle="single", bridge="single"), 5, 2)
    assert len(set(ten)) == len(ten) == 10
    assert ten[::2] == ("neck", "neck with middle", "middle", "middle with bridge", "bridge")
    assert ten[1] == "neck with bridge"


def test_no_sound_is_offered_twice() -> None:
    for answers in (
        {"neck": "humbucker", "middle": "humbucker", "bridge": "humbucker"},
        {"neck": "stacked", "bridge": "single"},
        {"neck": "single", "bridge": "humbucker", "tones": "each"},
    ):
        found = find_sounds(said(**answers))
        assert len({one.words for one in found}) == len({one.expression for one in found}) == len(found)


def test_of_stacked_coils_the_upper_one_plays_alone() -> None:
    words = said("rotary_6_four_pole", neck="stacked", middle="stacked", bridge="single")
    assert {one.expression for one in find_sounds(words) if one.words.endswith("one coil")} >= {
        "neck_a",
        "middle_a",
    }
    coils = wiring_of(words).coils
    assert [coils[name].winding for name in ("neck_a", "neck_b", "middle_a", "middle_b")] == [1, -1, -1, 1]
    assert coils["middle_a"].magnet == coils["middle_b"].magnet == -1


def test_one_sound_without_a_switch_is_soldered() -> None:
    words = InstrumentWords({"neck": "single", "bridge": "humbucker"}, sounds=("neck with bridge, one coil",))
    text = wiring_text(words, sounds_of(words, *counts_of(words)))
    assert "selector" not in text
    assert "[neck.start, bridge_b.start, volume.3, tone.2]" in text
    facts = position_facts(wiring := WiringText(text, "x").wiring(), [wiring.setting(wiring.positions[0])])
    assert sorted(facts[0].coils) == ["bridge_b", "neck"]


@pytest.mark.parametrize(
    ("words", "text"),
    [
        ({"answers": {"neck": "humbuker"}}, "did you mean 'humbucker'?"),
        ({"answers": {"nek": "single"}}, "nek: got 'single'"),
        ({"answers": {}}, "a pickup at one place at least"),
        ({"answers": {"neck": "single"}, "switch": "blade_5"}, "switch: got 'blade_5'"),
        ({"answers": {"neck": "single"}, "second": "push_pull"}, "a switch before it"),
        ({"answers": {"neck": "single"}, "scale": "648 kg"}, "scale: got '648 kg'"),
        ({"answers": {"neck": "single"}, "scale": "9 m"}, "from 200 mm to 2 m"),
    ],
)
def test_what_cannot_be_is_refused_in_words(words: dict[str, object], text: str) -> None:
    with pytest.raises(InputError) as found:
        InstrumentWords(**words)  # type: ignore[arg-type]
    assert text in str(found.value)


def test_sounds_that_cannot_be_are_refused_in_words() -> None:
    for wished, text in (
        (("neck",) * 2, "twice"),
        (("neck with brige",), "did you mean 'neck with bridge'"),
        ((), "one at least"),
        (("neck", "bridge", "neck with bridge", "neck and bridge in series"), "4 sounds for 3 positions"),
    ):
        words = InstrumentWords(
            {"neck": "single", "bridge": "single"}, switch="toggle_3_selector", sounds=wished
        )
        with pytest.raises(InputError, match=text):
            make_text(words)
