"""What would wire the sounds that a switch cannot: another order on it, or another switch."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from dsp.lugs.chart import poles_of
from dsp.lugs.explain import Clock, is_possible
from dsp.lugs.rules import FIXED, FREE, ChartRules
from dsp.lugs.solve import effective_rules
from dsp.lugs.targets import Targets, assign_positions
from dsp.parts.switch import Switch

MOST_REMEDIES = 2
"""Other switches that are named."""
WORK_PER_TRY = 0.6
"""Most work on one switch, in the solver's own count, which does not depend on the machine's load."""


@dataclass(frozen=True)
class Remedy:
    """A way to get the sounds.

    Attributes
    ----------
    switch : str
        Name of the other switch; empty for the one asked for.
    free : bool
        The sounds must change places.
    """

    switch: str = ""
    free: bool = False


def find_remedies(
    wanted: Targets,
    switch: Switch,
    rules: ChartRules,
    others: Mapping[str, Switch],
    *,
    time_s: float = 20.0,
) -> tuple[Remedy, ...]:
    """Return ways to wire what a switch cannot, the nearest first.

    Parameters
    ----------
    others : mapping of str to Switch
        Switches to try. Those with the fewest lugs and positions come first; poles that the sounds
        leave free count as lugs.
    time_s : float
        The limit by the clock, for a very busy machine.
    """
    found = []
    clock = Clock(time_s)
    count = len(wanted.targets)
    if rules.order == FIXED and count <= len(switch.positions):
        free = replace(rules, order=FREE)
        if effective_rules(free, wanted, switch).order == FREE and _does(wanted, switch, free, clock):
            found.append(Remedy(free=True))
    enough = {name: one for name, one in others.items() if len(one.positions) >= count and one != switch}
    ranked = sorted(enough, key=lambda name: _size(enough[name], count))
    switches: list[Switch] = []
    for name in ranked:
        one = enough[name]
        if len(switches) >= MOST_REMEDIES or clock.left_s <= 0.0:
            break
        if not any(_alike(one, other) for other in switches) and _does(wanted, one, rules, clock):
            switches.append(one)
            found.append(Remedy(name))
    return tuple(found)


def _does(wanted: Targets, switch: Switch, rules: ChartRules, clock: Clock) -> bool:
    rules = effective_rules(rules, wanted, switch)
    outcome, _ = is_possible(assign_positions(wanted, switch), switch, rules, WORK_PER_TRY, clock)
    return outcome in ("best", "some")


def _size(switch: Switch, count: int) -> tuple[int, int, int]:
    """Return positions too many, lugs, poles: what makes a switch larger than it needs to be."""
    return len(switch.positions) - count, len(switch.lugs), len(poles_of(switch))


def _alike(one: Switch, other: Switch) -> bool:
    """Whether two switches join the same lugs: a rotary and a slide of equal table."""
    return one.contacts == other.contacts
