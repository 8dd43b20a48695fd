"""Coils soldered together for good: found, searched and wired, never undone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from charts import SOUNDS, cheapest_charts, wanted
from places import DEMO
from small_wirings import wiring_of
from tolerances import SAME_NETWORK

from dsp.errors import InputError
from dsp.lugs.annealing import Annealer
from dsp.lugs.chart import Chart
from dsp.lugs.make import verify
from dsp.lugs.rules import FIXED, ChartRules
from dsp.lugs.solve import IMPOSSIBLE, PROVED, solve
from dsp.lugs.targets import layouts_of, targets_of
from dsp.lugs.verify_nodal import find_wrong_positions
from dsp.lugs.verify_partition import find_faults
from dsp.parts.expression import parse_expression
from dsp.parts.sketch import Sketch
from dsp.parts.switch import on_on, shorthand
from dsp.sound.spectra import band_energy
from dsp.sounds.candidates import find_candidates
from dsp.sounds.pins import find_pinned
from dsp.sounds.rules import SetRules as Keeping
from dsp.wiring.linked_coils import Link, Unit, links_of, units_of
from dsp.wiring.model import Joint, Wiring
from server.wirings.text import load_wiring

LINK = (("a", "finish"), ("b", "start"))
RULES = ChartRules(order=FIXED, spare_joints=3)
HOT, COLD = "selector.hot, output.tip", "selector.cold, output.sleeve"


def sketched(joints: str, positions: str = "{1: a + b, 2: c}") -> Wiring:
    parts = f"a: {{COIL}}\nb: {{COIL}}\nc: {{COIL}}\nselector: {{kind: sketch, positions: {positions}}}"
    return wiring_of(f"{parts}\noutput: {{kind: jack}}", f"{HOT}\n{COLD}\n{joints}")


def linked(wiring: Wiring, *pairs: tuple[str, str]) -> Wiring:
    """Return the wiring with series links soldered between coils."""
    links = (Joint(((one, "finish"), (other, "start"))) for one, other in pairs)
    return replace(wiring, joints=(*wiring.joints, *links))


# --- found


def test_a_joint_of_coil_leads_alone_is_a_link() -> None:
    wiring = sketched("a.finish, b.start")
    assert [(one.leads, one.out) for one in links_of(wiring, "abc")] == [(LINK, False)]
    assert links_of(wiring, "c") == ()
    (out,) = links_of(wiring, "a", [("b", "start")])
    assert out.out


@pytest.mark.parametrize(
    ("joints", "units"),
    [
        ("a.finish, b.start", [Unit(("a", "b"), (1, 1)), Unit(("c",), (1,))]),
        ("a.finish, b.finish", [Unit(("a", "b"), (1, -1)), Unit(("c",), (1,))]),
        ("a.start, b.start", [Unit(("b", "a"), (-1, 1)), Unit(("c",), (1,))]),
        ("c.finish, a.start\na.finish, b.finish", [Unit(("c", "a", "b"), (1, 1, -1))]),
        (
            "a.start, b.finish\na.finish, b.start",
            [Unit(("a", "b"), (1, -1), series=False), Unit(("c",), (1,))],
        ),
    ],
)
def test_coils_are_grouped_into_elements(joints: str, units: list[Unit]) -> None:
    wiring = sketched(joints)
    assert list(units_of("abc", links_of(wiring, "abc"), wiring)) == units


@pytest.mark.parametrize(
    ("joints", "message"),
    [
        ("a.start, b.start\nb.finish, c.start\nc.finish, a.finish", "at least two leads of a, b, c left"),
        ("a.start, a.finish", "shorted for good"),
        ("a.finish, output.tip", "allowed: no joint of a"),
    ],
)
def test_joints_that_leave_nothing_to_solder(joints: str, message: str) -> None:
    with pytest.raises(InputError, match=message):
        targets_of(sketched(joints))


def test_a_sound_that_undoes_a_link_is_refused_unless_it_comes_out() -> None:
    wiring = sketched("a.finish, b.start", "{1: a + b, 2: a, 3: c}")
    with pytest.raises(InputError, match=r"position 2: got 'a', where a\.finish – b\.start is soldered"):
        targets_of(wiring)
    assert targets_of(wiring, [("a", "finish")]).links[0].out
    with pytest.raises(InputError, match=r"got a\.start; allowed: a\.finish, b\.start"):
        targets_of(wiring, [("a", "start")])
    with pytest.raises(InputError, match=r"position 1: got 'a \| b'"):
        targets_of(sketched("a.finish, b.start", "{1: a | b, 2: c}"), [("a", "finish")])


def test_an_order_that_a_link_shorts_is_refused_with_the_right_one() -> None:
    """In ``b + a`` the joint of a.finish and b.start would tie hot to ground."""
    with pytest.raises(InputError, match=r"got 'b \+ a', whose order shorts .*; allowed: 'a \+ b'"):
        targets_of(sketched("a.finish, b.start", "{1: b + a, 2: c}"))
    with pytest.raises(InputError, match=r"allowed: 'a \+ b \+ c'"):
        targets_of(sketched("a.finish, b.start", "{1: a + c + b}"))


# --- searched


@pytest.fixture(scope="module")
def four() -> Wiring:
    return linked(load_wiring(DEMO / "baritone_sketch.yaml"), ("neck_a", "neck_b"), ("bridge_a", "bridge_b"))


@pytest.mark.parametrize("coupled", [True, False])
def test_a_pickup_of_two_leads_is_one_element(four: Wiring, coupled: bool) -> None:
    """Two two-lead humbuckers make the six networks of two coils; each agrees with the engine, joints
    and all."""
    wiring = four if coupled else replace(four, couplings=())
    found = find_candidates(wiring)
    texts = {found.expression_text(i) for i in range(len(found))}
    assert len(found) == 6
    assert "neck_a + neck_b + bridge_a + bridge_b" in texts
    assert "(neck_a + neck_b) | (-bridge_b + -bridge_a)" in texts
    for i in range(len(found)):
        one = replace(
            wiring,
            parts={**wiring.parts, "selector": Sketch({"1": parse_expression(found.expression_text(i))})},
        )
        energy = band_energy(one, [one.setting("1")], found.bands)[0]
        np.testing.assert_allclose(found.energy[i], energy, rtol=0, atol=SAME_NETWORK * energy.max())
    assert find_pinned(found, "bridge_b + bridge_a") == find_pinned(found, "-(bridge_a + bridge_b)")


def test_a_pickup_of_three_leads_has_its_coils_apart_but_never_in_parallel(four: Wiring) -> None:
    found = find_candidates(four, coils=["neck_a", "neck_b"], link_leads=[("neck_a", "finish")])
    assert {found.expression_text(i) for i in range(len(found))} == {
        "neck_a",
        "neck_b",
        "neck_a + neck_b",
        "neck_a | -neck_b",
    }
    both = find_candidates(four, link_leads=[("neck_a", "finish")])
    assert (
        len(find_candidates(four)) < len(both) < len(find_candidates(replace(four, joints=four.joints[:-2])))
    )


def test_half_a_pickup_cannot_be_searched(four: Wiring) -> None:
    with pytest.raises(InputError, match="neck_a without neck_b; allowed: both"):
        find_candidates(four, coils=["neck_a", "bridge_a", "bridge_b"])


def test_an_extra_part_stands_beside_pickups(four: Wiring) -> None:
    """Two elements and a part anywhere give 20 networks, as for two coils."""
    assert len(find_candidates(four, extra="bass_cut")) == 20


def test_charts_at_random_keep_links(four: Wiring) -> None:
    found = find_candidates(four)
    search = Annealer(
        found,
        range(len(found)),
        Keeping(2),
        shorthand(2, 2),
        links=[((1, 2), False), ((5, 6), False)],
    )
    looks = iter(range(40))
    sounds, _, looked = search.search(lambda: next(looks, None) is None)
    assert looked > 0
    assert len(set(sounds)) == 2


# --- wired


def keeping(out: bool) -> object:
    """Return whether a division joins a's finish and b's start, and nothing else to them."""

    def keeps(block: Sequence[int]) -> bool:
        return block[3] == block[4] and (out or list(block).count(block[3]) == 2)

    return keeps


@pytest.mark.slow
@pytest.mark.parametrize("out", [False, True])
def test_search_keeps_a_link_and_finds_what_trying_everything_finds(out: bool) -> None:
    switch = on_on(1)
    table = cheapest_charts(switch, RULES, keeping(out))  # type: ignore[arg-type]
    link = (Link(LINK, out),)
    possible = 0
    for row in product(SOUNDS, repeat=2):
        sounds = replace(wanted(row, coils="ab"), links=link)
        layouts = [layouts_of(target, sounds.parts, link) for target in sounds.targets]
        costs = [
            cost
            for given, cost in table.items()
            if tuple(name for name, _ in given) == row and len(set(given)) == len(set(row))
        ]
        if not all(one.upright or one.turned for one in layouts):
            assert not costs, row
            continue
        got = solve(sounds, switch, RULES, time_s=30.0)
        if not costs:
            assert got.outcome == IMPOSSIBLE, row
            continue
        possible += 1
        assert got.chart is not None, row
        assert (got.outcome, got.chart.poles, got.chart.wires) == (PROVED, *min(costs)), row
        verify(sounds, got.chart, RULES)
    assert possible == (1 if not out else possible)
    assert possible > 0


def test_both_verifiers_know_the_link() -> None:
    sounds = replace(wanted(("a + b",), coils="ab"), links=(Link(LINK, False),))
    chart = solve(sounds, on_on(1)).chart
    assert chart is not None
    assert not any(lead in net for net in chart.nets for lead in LINK), "already soldered"
    for verifier in (
        lambda w: find_faults(w, chart, ChartRules()),
        lambda w: find_wrong_positions(w, chart),
    ):
        assert not verifier(sounds)
        assert verifier(replace(sounds, links=())), "silent without it"


def test_a_humbucker_splits_at_a_link_that_comes_out() -> None:
    """Common practice: series and one coil, the link grounded (or the other half shorted)."""
    sounds = replace(wanted(("a + b", "a"), coils="ab"), links=(Link(LINK, True),))
    chart = solve(sounds, on_on(1), ChartRules(order=FIXED)).chart
    assert isinstance(chart, Chart)
    verify(sounds, chart, ChartRules(order=FIXED))
    assert chart.poles == 1
