"""The variables of a lug chart and the constraints on its nets, for a constraint solver.

The model puts every lead and lug into a net: hot, ground, one named after each lead, or a spare
net of lugs alone. In each position every net carries a label: its node of the layout, or none.
Lugs that the position joins carry one label, so the chart joins nothing it should not. Closed
contacts connect every net with a lead in use to its node's first net, in order of depth, so the
chart joins everything it should.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from dsp.lugs.chart import COLD_END, HOT_END, SWITCH, Chart, Net, is_mirrored
from dsp.lugs.rules import FIXED, FREE, ChartRules
from dsp.lugs.targets import COLD, HOT, Layouts, Targets, layouts_of, sound_of
from dsp.parts.switch import Switch
from dsp.wiring.linked_coils import Link

if TYPE_CHECKING:
    from ortools.sat.python.cp_model import CpModel


class ChartModel:
    """The variables and constraints of one search.

    Parameters
    ----------
    cp : CpModel
        An empty model of the solver. The constructor fills it.
    partial : bool
        Sounds may be left out, and their positions repeat others. This finds the nearest choice
        that can be wired.
    idle : bool
        Positions may do anything. This finds sounds that exclude one another.

    Attributes
    ----------
    keep : list of Bool
        Per target, whether the chart gives it.
    wires : linear expression
        Wires to cut, as in `Chart.wires`.
    turned : list of Bool
        Per target, whether its polarity is reversed.
    complete : bool
        False if a sound has more layouts than the model examines.
    """

    def __init__(
        self,
        cp: CpModel,
        wanted: Targets,
        switch: Switch,
        rules: ChartRules,
        *,
        partial: bool = False,
        idle: bool = False,
    ) -> None:
        self.cp, self.wanted, self.switch, self.rules = cp, wanted, switch, rules
        self.leads = wanted.leads
        self.positions = switch.positions
        self.lugs = switch.lugs
        self.layouts = [layouts_of(target, wanted.parts, wanted.links) for target in wanted.targets]
        self.complete = all(one.complete for one in self.layouts)
        self.n_nets = 2 + len(self.leads) + rules.spare_joints
        every = [layout for one in self.layouts for layout in (*one.upright, *one.turned)]
        self.n_nodes = 1 + max(node for layout in every for _, node in layout)
        self.off = self.n_nodes
        self.n_labels = self.off + 1 + len(wanted.parts)
        self._nets()
        self._places(partial, idle)
        self._labels()
        self.pole_used: list[Any] = []
        self.wires: Any = 0

    def truth(self) -> Any:
        """Return a new unnamed truth value."""
        return self.cp.new_bool_var("")

    def truths(self, *shape: int) -> Any:
        """Return nested lists of new truth values, of a given shape."""
        if not shape:
            return self.truth()
        return [self.truths(*shape[1:]) for _ in range(shape[0])]

    def never(self, *together: Any) -> None:
        """Forbid that all of these are true together."""
        self.cp.add_bool_or([~one for one in together])

    # --- what is soldered to what

    def _nets(self) -> None:
        """Put leads and lugs into nets, each named after its first lead."""
        cp, n_leads = self.cp, len(self.leads)
        self.lead_in: list[list[Any]] = [[None] * self.n_nets for _ in range(n_leads)]
        table = self.lead_in
        for i in range(n_leads):
            for net in (HOT, COLD, *range(2, 2 + i + 1)):
                j = net - 2
                if self._may_share(i, net) if net < 2 else j == i or self._may_meet(i, j):
                    table[i][net] = self.truth()
            cp.add_exactly_one(one for one in table[i] if one is not None)
            for j in range(i):
                if table[i][2 + j] is not None:
                    cp.add_implication(table[i][2 + j], table[j][2 + j])
        self.lug_in = self.truths(len(self.lugs), self.n_nets)
        for row in self.lug_in:
            cp.add_at_most_one(row)
        for j in range(n_leads):
            for row in self.lug_in:
                cp.add_implication(row[2 + j], table[j][2 + j])
        self.aliases = {lead for link in self.wanted.links for lead in self._in_order(link)[1:]}
        for link in self.wanted.links:
            self._solder(link)

    def _in_order(self, link: Link) -> list[Any]:
        return sorted(link.leads, key=self.leads.index)

    def _solder(self, link: Link) -> None:
        """Put linked leads into one net; a buried link has its net alone."""
        first, *others = (self.leads.index(lead) for lead in self._in_order(link))
        table, cp = self.lead_in, self.cp
        for other in others:
            for net in range(self.n_nets):
                one, two = table[first][net], table[other][net]
                if one is not None and two is not None:
                    cp.add(one == two)
                elif one is not None or two is not None:
                    cp.add_bool_and([~(one if one is not None else two)])
        if not link.out:
            own = 2 + first
            cp.add_bool_and([table[first][own]])
            cp.add_bool_and([~row[own] for row in self.lug_in])
            strangers = (row[own] for i, row in enumerate(table) if i not in (first, *others))
            cp.add_bool_and([~one for one in strangers if one is not None])

    def _layout_tables(self) -> list[list[dict[Any, int]]]:
        return [[dict(layout) for layout in (*one.upright, *one.turned)] for one in self.layouts]

    def _may_share(self, i: int, end: int) -> bool:
        """Return whether a lead may be soldered permanently to hot or to ground."""
        lead = self.leads[i]
        return all(
            lead not in tables[0] or any(table[lead] == end for table in tables)
            for tables in self._layout_tables()
        )

    def _may_meet(self, i: int, j: int) -> bool:
        """Return whether two leads may be soldered together permanently."""
        a, b = self.leads[i], self.leads[j]
        return a[0] != b[0] and all(
            a not in tables[0] or b not in tables[0] or any(table[a] == table[b] for table in tables)
            for tables in self._layout_tables()
        )

    # --- which sound and layout a position gives

    def _places(self, partial: bool, idle: bool) -> None:
        cp, targets = self.cp, self.wanted.targets
        n_positions = len(self.positions)
        self.gives = self.truths(n_positions, len(targets))
        self.keep = [self.truth() for _ in targets]
        self.turned = [self.truth() for _ in targets]
        self.idle = [self.truth() for _ in self.positions]
        for row, anything in zip(self.gives, self.idle, strict=True):
            cp.add_exactly_one((*row, anything))
            if not idle:
                cp.add_bool_and([~anything])
        for e, keep in enumerate(self.keep):
            cp.add_bool_or([row[e] for row in self.gives]).only_enforce_if(keep)
            for row in self.gives:
                cp.add_implication(row[e], keep)
            if not partial:
                cp.add_bool_and([keep])
            if self.rules.order == FIXED:
                cp.add_implication(keep, self.gives[self.positions.index(targets[e].at)][e])
            if not self.rules.turning:
                cp.add_bool_and([~self.turned[e]])
        if self.rules.order == FREE and not (partial or idle) and is_mirrored(self.switch):
            first, last = (
                sum(e * one for e, one in enumerate(row)) for row in (self.gives[0], self.gives[-1])
            )
            cp.add(first <= last)
        # Exchanging both leads of every coil turns all sounds. The first sound may therefore stay
        # upright, unless that would undo a link.
        if not self.wanted.links:
            cp.add_bool_and([~self.turned[0]])
        polar = {part.name: part.coil for part in self.wanted.parts}
        sounds = [sound_of(target.expression, polar) for target in targets]
        for e, sound in enumerate(sounds):
            if sound in sounds[:e]:
                cp.add(self.turned[e] == self.turned[sounds.index(sound)])

    def _layout_choice(self, p: int) -> list[tuple[Any, dict[Any, int]]]:
        """Choose one layout of a position's sound; put its leads at their nodes."""
        chosen = []
        for e, one in enumerate(self.layouts):
            mine = []
            for turned, layouts in self._ways(one):
                for layout in layouts:
                    choice = self.truth()
                    mine.append(choice)
                    chosen.append((choice, dict(layout)))
                    way = self.turned[e] if turned else ~self.turned[e]
                    self.cp.add_implication(choice, way)
            self.cp.add(sum(mine) == self.gives[p][e])
        return chosen

    def _ways(self, one: Layouts) -> list[tuple[bool, tuple[Any, ...]]]:
        return [(False, one.upright), *([(True, one.turned)] if self.rules.turning else [])]

    # --- labels

    def _labels(self) -> None:
        cp = self.cp
        n_positions, n_leads = len(self.positions), len(self.leads)
        self.net_label = self.truths(n_positions, self.n_nets, self.n_labels)
        self.lead_label = self.truths(n_positions, n_leads, self.n_labels)
        self.used = self.truths(n_positions, len(self.wanted.parts))
        self.shorted_live = self.truths(n_positions, len(self.wanted.parts))
        for p in range(n_positions):
            for row in (*self.net_label[p], *self.lead_label[p]):
                cp.add_exactly_one(row)
            cp.add_bool_and([self.net_label[p][HOT][HOT], self.net_label[p][COLD][COLD]])
            for k, part in enumerate(self.wanted.parts):
                named = [
                    self.gives[p][e]
                    for e, one in enumerate(self.layouts)
                    if any(lead[0] == part.name for lead, _ in (*one.upright, *one.turned)[0])
                ]
                cp.add(sum(named) == self.used[p][k])
            chosen = self._layout_choice(p)
            for i, lead in enumerate(self.leads):
                for node in range(self.n_nodes):
                    at = [choice for choice, table in chosen if table.get(lead) == node]
                    if at:
                        cp.add(sum(at) <= self.lead_label[p][i][node])
                for net, inside in enumerate(self.lead_in[i]):
                    if inside is None:
                        continue
                    for label in range(self.n_labels):
                        cp.add_bool_or(
                            [~inside, ~self.lead_label[p][i][label], self.net_label[p][net][label]]
                        )

    # --- a solution

    def chart(self, value: Callable[[Any], bool]) -> Chart:
        """Return the chart of a solution.

        Parameters
        ----------
        value : callable
            Returns the truth of a variable in the solution.
        """
        nets: list[list[Any]] = [[] for _ in range(self.n_nets)]
        nets[HOT].append(HOT_END)
        nets[COLD].append(COLD_END)
        for i, row in enumerate(self.lead_in):
            if self.leads[i] in self.aliases:  # already soldered to the first lead of its link
                continue
            nets[next(n for n, one in enumerate(row) if one is not None and value(one))].append(self.leads[i])
        for lug, row in zip(self.lugs, self.lug_in, strict=True):
            for net, one in enumerate(row):
                if value(one):
                    nets[net].append((SWITCH, lug))
        names = [target.name for target in self.wanted.targets]
        sounds = {
            position: name
            for position, row in zip(self.positions, self.gives, strict=True)
            for name, one in zip(names, row, strict=True)
            if value(one)
        }
        turned = {name for name, one in zip(names, self.turned, strict=True) if value(one)}
        kept: tuple[Net, ...] = tuple(tuple(net) for net in nets if len(net) > 1)
        return Chart(self.switch, kept, sounds, frozenset(turned & set(sounds.values())))
