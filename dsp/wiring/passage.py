"""What a switch joins on its way from one position to the next."""

from __future__ import annotations

from dsp.parts.switch import Groups, Switch
from dsp.wiring.union import Merge


def common_contacts(switch: Switch, a: str, b: str) -> Groups:
    """Return the groups of lugs that both positions join: breaks first."""
    pairs = ((one, other) for one in switch.contacts[a] for other in switch.contacts[b])
    shared = (tuple(lug for lug in one if lug in other) for one, other in pairs)
    return tuple(group for group in shared if len(group) > 1)


def combined_contacts(switch: Switch, a: str, b: str) -> Groups:
    """Return the groups that either position joins, merged: makes first."""
    merge: Merge[str] = Merge(switch.lugs)
    for group in (*switch.contacts[a], *switch.contacts[b]):
        merge.join(group)
    return tuple(tuple(group) for group in merge.classes() if len(group) > 1)
