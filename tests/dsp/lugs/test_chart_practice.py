"""Facts of the trade, on charts made by the search. Common practice, no source.

Sketched, charted, read back from the written file, and judged by the findings and responses of the
charted wiring: the sketch itself is not looked at.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from small_wirings import COIL, LOAD
from tolerances import CANCELLED, LIGHT_LOAD

from dsp.circuit.response import respond
from dsp.facts.findings.check import check
from dsp.lugs.chart import COLD_END, HOT_END, SWITCH, Chart
from dsp.lugs.make import make_chart
from dsp.lugs.rules import ChartRules
from dsp.lugs.targets import targets_of
from dsp.parts.switch import Switch, bridging, on_on, push_pull, shorthand
from dsp.wiring.model import Wiring
from server.wirings.charted import ChartedText

OPPOSITE = "winding: reverse, magnet: south"


def charted(
    tmp_path: Path,
    sounds: dict[str, str],
    switch: Switch,
    *,
    coils: dict[str, str],
    rules: ChartRules | None = None,
) -> tuple[Wiring, Chart]:
    """Write a sketch, chart it and read the wiring back."""
    lines = [f"  {name}: {{{COIL}{', ' * bool(more)}{more}}}" for name, more in coils.items()]
    positions = [f"      {name}: {text}" for name, text in sounds.items()]
    head = ["format: 1", "parts:", *lines, "  selector:", "    kind: sketch", "    positions:", *positions]
    joints = ["joints:", "  - [selector.hot, output.tip]", "  - [selector.cold, output.sleeve]"]
    text = "\n".join([*head, "  output: {kind: jack}", *joints, LOAD])
    path = tmp_path / "sketch.yaml"
    path.write_text(text, encoding="utf-8")
    file = ChartedText.of(path)
    made = make_chart(targets_of(file.wiring()), switch, rules, time_s=8.0)
    assert made.chart is not None, made.words(switch)
    file.put_chart("selector", made.chart, {p: p for p in made.chart.sounds})
    return file.wiring(), made.chart


def hum(wiring: Wiring) -> dict[str, str]:
    """Return whether hum cancels, per position."""
    kinds = {
        "hum-cancelling": "hum-cancelling",
        "mostly hum-cancelling": "hum-cancelling",
        "not hum-cancelling": "not hum-cancelling",
    }
    said = [one for one in check(wiring) if one.finding in kinds]
    return {position: kinds[one.finding] for one in said for position in one.positions}


def by_sound(chart: Chart, said: dict[str, str]) -> dict[str, str]:
    return {chart.sounds[position]: word for position, word in said.items()}


@pytest.mark.parametrize("other", [OPPOSITE, ""], ids=["opposite winding and magnet", "same winding"])
def test_two_coils_cancel_hum_if_wound_and_magnetised_opposite(tmp_path: Path, other: str) -> None:
    sounds = {"1": "a", "2": "a + b", "3": "a | b"}
    wiring, chart = charted(tmp_path, sounds, shorthand(3, 3), coils={"a": "", "b": other})
    cancels = "hum-cancelling" if other else "not hum-cancelling"
    want = {"1": "not hum-cancelling", "2": cancels, "3": cancels}
    assert by_sound(chart, hum(wiring)) == want


def test_a_middle_coil_reversed_cancels_in_the_in_between_positions(tmp_path: Path) -> None:
    """Five-position blade, three coils: 2 and 4 are quiet if the middle one is opposite."""
    sounds = {"1": "neck", "2": "neck | middle", "3": "middle", "4": "middle | bridge", "5": "bridge"}
    coils = {"neck": "", "middle": OPPOSITE, "bridge": ""}
    wiring, chart = charted(tmp_path, sounds, bridging(2, 5), coils=coils)
    quiet = {name for name, word in by_sound(chart, hum(wiring)).items() if word == "hum-cancelling"}
    assert quiet == {"2", "4"}
    assert (chart.poles, chart.wires) == (1, 1), "one pole does it: the usual way"


def test_a_humbucker_splits_at_its_series_link(tmp_path: Path) -> None:
    """Under a push-pull pot: one pole takes the link of the two coils to hot or ground, or lets it go."""
    sounds = {"down": "a + b", "up": "a"}
    wiring, chart = charted(tmp_path, sounds, push_pull(2), coils={"a": "", "b": OPPOSITE})
    assert chart.poles == 1
    ends = (HOT_END, COLD_END)
    link = next(n for n in chart.nets if {"a", "b"} <= {part for part, _ in n} and not set(ends) & set(n))
    (lug,) = [lead for part, lead in link if part == SWITCH]
    closed = [group for group in chart.switch.contacts["up"] if lug in group]
    partners = {other for group in closed for other in group} - {lug}
    outer = [terminal for net in chart.nets if set(ends) & set(net) for terminal in net]
    assert partners
    assert partners <= {lead for part, lead in outer if part == SWITCH}
    assert by_sound(chart, hum(wiring)) == {"down": "hum-cancelling", "up": "not hum-cancelling"}


def test_a_split_without_shorting_lets_the_other_coil_hang(tmp_path: Path) -> None:
    sounds = {"down": "a + b", "up": "a"}
    coils = {"a": "", "b": OPPOSITE}
    wiring, _ = charted(tmp_path, sounds, push_pull(2), coils=coils, rules=ChartRules(shorted=False))
    said = {one.finding for one in check(wiring)}
    assert "coil shorted" not in said
    assert "hot end left as aerial" not in said


def test_series_and_parallel_take_two_poles(tmp_path: Path) -> None:
    wiring, chart = charted(tmp_path, {"1": "a + b", "2": "a | b"}, on_on(2), coils={"a": "", "b": OPPOSITE})
    assert chart.poles == 2
    level = np.abs(respond(wiring, [wiring.setting(p) for p in ("1", "2")], np.array([100.0])).coil[:, :, 0])
    series, parallel = (level[list(chart.sounds.values()).index(name)] for name in ("1", "2"))
    # Into a light load each coil gives its whole voltage in series and half in parallel.
    assert np.allclose(series / parallel, 2.0, rtol=LIGHT_LOAD)


def test_phase_is_turned_by_crossing_two_poles(tmp_path: Path) -> None:
    sounds = {"1": "a | b", "2": "a | -b"}
    wiring, chart = charted(tmp_path, sounds, on_on(2), coils={"a": "", "b": ""})
    assert chart.poles == 2
    sums = np.abs(
        respond(wiring, [wiring.setting(p) for p in ("1", "2")], np.array([100.0])).coil.sum(axis=1)
    )
    levels = dict(zip(chart.sounds.values(), sums[:, 0], strict=True))
    assert levels["2"] < CANCELLED < levels["1"], "equal coils out of phase cancel"


def test_no_position_hangs_a_coil_from_hot_unless_asked(tmp_path: Path) -> None:
    sounds = {"1": "a", "2": "b", "3": "a | b"}
    wiring, _ = charted(tmp_path, sounds, shorthand(2, 3), coils={"a": "", "b": ""})
    assert "hot end left as aerial" not in {one.finding for one in check(wiring)}
