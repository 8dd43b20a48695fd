"""The steps of soldering a chart, in order, and the material for it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from dsp.lugs.chart import COLD_END, HOT_END, SWITCH, Chart, Net
from dsp.lugs.two_switches import same_member
from dsp.parts.kind import Terminal

TIE, LEAD, JOIN, LINK, WIRE = "tie", "lead", "join", "link", "wire"
KINDS: dict[str, str] = {
    TIE: "Tie lugs of the switch together with short wires, while it is still on the bench",
    LEAD: "Solder the leads to their lugs or joints",
    JOIN: "Join leads with one another and insulate the joint with sleeving",
    LINK: "Run wires from switch to switch",
    WIRE: "Run the wires to the controls and to ground",
}
"""Kinds of step, in the order of work: what is nearest to the switch comes first."""


@dataclass(frozen=True)
class Step:
    """One thing to solder.

    Attributes
    ----------
    number : int
        From 1.
    kind : str
        Key of `KINDS`.
    ends : tuple of Terminal
        The terminals to join.
    net : int
        Index of the chart's net.
    """

    number: int
    kind: str
    ends: tuple[Terminal, ...]
    net: int


def steps_of(chart: Chart) -> tuple[Step, ...]:
    """Return every step, in the order of work."""
    loose = [(kind, ends, i) for i, net in enumerate(chart.nets) for kind, ends in _of_net(net, chart)]
    order = list(KINDS)
    loose.sort(key=lambda step: order.index(step[0]))  # keeps the nets' order within a kind
    return tuple(Step(n, kind, ends, i) for n, (kind, ends, i) in enumerate(loose, 1))


def _of_net(net: Net, chart: Chart) -> Iterator[tuple[str, tuple[Terminal, ...]]]:
    place = {lug: i for i, lug in enumerate(chart.switch.lugs)}
    lugs = sorted((t for t in net if t[0] == SWITCH), key=lambda t: place[t[1]])
    ends = [t for t in net if t in (HOT_END, COLD_END)]
    leads = [t for t in net if t not in ends and t[0] != SWITCH]
    for a, b in pairwise(lugs):
        yield TIE if same_member(chart.switch, a[1], b[1]) else LINK, (a, b)
    if lugs or ends:
        for i, lead in enumerate(leads):  # spread over the lugs to crowd none
            yield LEAD, (lead, lugs[i % len(lugs)] if lugs else ends[0])
    elif len(leads) > 1:
        yield JOIN, tuple(leads)
    if lugs and ends:
        yield WIRE, (lugs[0], ends[0])


def shopping_list(chart: Chart) -> dict[str, int]:
    """Return what a chart needs besides parts: lugs, wires by kind, sleeving."""
    kinds = Counter(step.kind for step in steps_of(chart))
    return {
        "poles used": chart.poles,
        "lugs to solder": len(chart.lugs),
        "short wires between lugs": kinds[TIE],
        "wires from switch to switch": kinds[LINK],
        "wires to the controls and to ground": kinds[WIRE],
        "joints of leads, with sleeving": kinds[JOIN],
    }
