"""A lug chart on paper: what its sheet says, and the sheet as plain text."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from string import ascii_lowercase

from dsp.circuit.meter import jack_reading_ohm
from dsp.lugs.between import find_transitions, transition_words
from dsp.lugs.chart import COLD_END, HOT_END, SWITCH, Chart
from dsp.lugs.soldering import KINDS, Step, shopping_list, steps_of
from dsp.lugs.targets import Targets
from dsp.lugs.two_switches import lug_name, settings_at
from dsp.lugs.uneven import find_uneven, uneven_words
from dsp.parts.expression import format_expression
from dsp.parts.kind import Terminal
from dsp.parts.metal import STRINGS, Metal
from dsp.units import count_words, show
from dsp.wiring.groups import groups_of
from dsp.wiring.model import Wiring

_CARRY = (
    "then carry any mains fault of the amplifier to the player: sound, earthed mains gear, a "
    "residual-current device, local codes; an amplifier is opened by a licensed technician only."
)
CAUTIONS = (
    "The iron burns; flux fume harms the lungs: extract it and keep your head out of the plume. Leaded "
    "solder: wash your hands, no food at the bench. Wear eye protection when you clip leads.",
    f"Ground the strings and bridge to the sleeve yourself: the file does not show it. They {_CARRY}",
    "Before you solder, find every lug of your switch with a meter: their places and numbers differ.",
    "When the strings sound again for the first time, start quiet.",
)
SHOWN = f"The wiring shows how the strings and bridge are grounded: solder those joints too. They {_CARRY}"
"""The second caution where the wiring has the strings as a part."""


@dataclass(frozen=True)
class Row:
    """A position of the switch on the sheet."""

    position: str
    sound: str
    label: str
    note: str
    reading: str


@dataclass(frozen=True)
class Sheet:
    """Everything a lug chart's sheet says.

    Attributes
    ----------
    selector : str
        The switch's name in the wiring.
    net_names : tuple of str
        ``hot``, ``ground``, then letters; one per net of the chart.
    hubs : tuple of str
        What the hot and the ground net hang on in the rest of the wiring.
    summary, transit : tuple of str
        Sentences.
    linked : mapping of Terminal to str
        Lead of a link, and the leads soldered to it for good.
    cautions : tuple of str
        Sentences.
    """

    title: str
    switch_name: str
    selector: str
    chart: Chart
    rows: tuple[Row, ...]
    steps: tuple[Step, ...]
    net_names: tuple[str, ...]
    hubs: tuple[str, str]
    summary: tuple[str, ...]
    transit: tuple[str, ...]
    material: dict[str, int]
    linked: Mapping[Terminal, str] = field(default_factory=dict)
    cautions: tuple[str, ...] = CAUTIONS

    def called(self, terminal: Terminal) -> str:
        """Return a terminal's name on the sheet."""
        if terminal in (HOT_END, COLD_END):
            return self.hubs[terminal == COLD_END]
        part, lead = terminal
        if part == SWITCH:
            return f"lug {lug_name(self.chart.switch, lead)}"
        others = self.linked.get(terminal)
        return f"{part}.{lead} (one lead with {others})" if others else f"{part}.{lead}"

    def net_of(self, terminal: Terminal) -> int | None:
        """Return the index of a terminal's net."""
        return next((i for i, net in enumerate(self.chart.nets) if terminal in net), None)

    def said(self, step: Step) -> str:
        """Return a step in words."""
        return " – ".join(self.called(end) for end in step.ends)


def sheet_of(
    sketched: Wiring,
    charted: Wiring,
    wanted: Targets,
    chart: Chart,
    *,
    switch_name: str,
    summary: tuple[str, ...],
) -> Sheet:
    """Return the sheet of a chart.

    Parameters
    ----------
    sketched, charted : Wiring
        Before and after.
    switch_name : str
        What the person called the switch.
    summary : tuple of str
        Sentences on how good the chart is.
    """
    selector = charted.selector or "selector"
    selector = " and ".join(chart.switch.members(selector))
    return Sheet(
        charted.name or charted.file,
        switch_name,
        selector,
        chart,
        tuple(_rows(charted, wanted, chart)),
        steps_of(chart),
        tuple(net_names(chart)),
        (_hub(sketched, selector, "hot", "the controls"), _hub(sketched, selector, "cold", "ground")),
        summary,
        (
            *transition_words(find_transitions(wanted, chart), tied=wanted.tied),
            *uneven_words(find_uneven(wanted, chart), tied=wanted.tied),
        ),
        shopping_list(chart),
        {
            lead: ", ".join(".".join(other) for other in link.leads if other != lead)
            for link in wanted.links
            for lead in link.leads
        }
        | _group_leads(sketched),
        cautions_of(charted),
    )


def cautions_of(wiring: Wiring) -> tuple[str, ...]:
    """Return what to mind at the bench."""
    strings = any(isinstance(part, Metal) and part.of == STRINGS for part in wiring.parts.values())
    return (CAUTIONS[0], SHOWN, *CAUTIONS[2:]) if strings else CAUTIONS


def _group_leads(wiring: Wiring) -> dict[Terminal, str]:
    """Return for each lead of a group what it is soldered to inside."""
    groups = groups_of(wiring)
    return {
        lead: ", ".join(".".join(other) for other in joint.terminals if other != lead)
        for joint in wiring.joints
        for lead in joint.terminals
        if lead[0] in groups
    }


def net_names(chart: Chart) -> Iterator[str]:
    """Return a short name per net: hot, ground, then a, b, c, …, z, a1, b1, …."""
    number = 0
    for net in chart.nets:
        if HOT_END in net or COLD_END in net:
            yield "hot" if HOT_END in net else "ground"
        else:
            turn = number // len(ascii_lowercase)
            yield ascii_lowercase[number % len(ascii_lowercase)] + (str(turn) if turn else "")
            number += 1


def sketched_at(wanted: Targets, chart: Chart, position: str) -> str:
    """Return the sketched expression of a position's sound."""
    return format_expression(next(t for t in wanted.targets if t.name == chart.sounds[position]).expression)


def _rows(charted: Wiring, wanted: Targets, chart: Chart) -> Iterator[Row]:
    seen: dict[str, str] = {}
    for position in chart.switch.positions:
        name = chart.sounds[position]
        notes = []
        if name in seen:
            notes.append(f"as position {seen[name]}")
        seen.setdefault(name, position)
        if name in chart.turned:
            notes.append("absolute polarity the reverse of the sketch's, which alone is not heard")
        sound = sketched_at(wanted, chart, position)
        at, stands = settings_at(chart.switch, position)
        ohm = jack_reading_ohm(charted, charted.setting(at, None, stands))
        yield Row(
            position,
            sound,
            "" if charted.labels.get(position) in (sound, None) else charted.labels[position],
            "; ".join(notes),
            "open" if math.isinf(ohm) else show(ohm, "resistance"),
        )


def _hub(wiring: Wiring, selector: str, end: str, otherwise: str) -> str:
    """Return the terminals that a sketch's end is soldered to, or words for it."""
    for joint in wiring.joints:
        if (selector, end) in joint.terminals:
            return (
                " + ".join(f"{part}.{lead}" for part, lead in joint.terminals if part != selector)
                or otherwise
            )
    return otherwise


# --- as text


def text_of(sheet: Sheet) -> str:
    """Return the sheet as plain text, every list complete."""
    return (
        "\n".join([*_head(sheet), *_positions(sheet), *_lugs(sheet), *_joints(sheet), *_work(sheet)]) + "\n"
    )


def _head(sheet: Sheet) -> Iterator[str]:
    chart = sheet.chart
    yield f"LUG CHART  {sheet.title}"
    used = f"{count_words(chart.poles, 'pole')} and {count_words(len(chart.lugs), 'lug')} in use"
    yield f"{sheet.selector}: {sheet.switch_name}, {used}"
    yield from sheet.summary


def _positions(sheet: Sheet) -> Iterator[str]:
    yield "\nPOSITIONS  (meter: at the jack, cable out, every knob at 10)"
    sounds = max(len(row.sound) for row in sheet.rows)
    width = max(5, *(len(row.position) for row in sheet.rows))
    for row in sheet.rows:
        line = f"  {row.position:<{width}} {row.sound:<{sounds}}  {row.reading:>9}  {row.label}"
        yield line.rstrip() + (f"  ({row.note})" if row.note else "")


def _lugs(sheet: Sheet) -> Iterator[str]:
    yield "\nLUGS"
    names = {lug: lug_name(sheet.chart.switch, lug) for lug in sheet.chart.switch.lugs}
    width = max(map(len, names.values()))
    for lug, name in names.items():
        net = sheet.net_of((SWITCH, lug))
        if net is None:
            yield f"  {name:<{width}}  free"
            continue
        others = [sheet.called(t) for t in sheet.chart.nets[net] if t != (SWITCH, lug)]
        yield f"  {name:<{width}}  {sheet.net_names[net]:<6}  {', '.join(others)}"


def needed_switches(sheet: Sheet) -> str:
    """Return the switches to buy, in words."""
    return f"{count_words(len(sheet.chart.switch.members('')), 'switch', 'es')}: {sheet.switch_name}"


def _joints(sheet: Sheet) -> Iterator[str]:
    yield "\nJOINTS"
    for name, net in zip(sheet.net_names, sheet.chart.nets, strict=True):
        yield f"  {name:<6}  {', '.join(map(sheet.called, net))}"


def _work(sheet: Sheet) -> Iterator[str]:
    yield "\nIN SOLDERING ORDER"
    kind = ""
    for step in sheet.steps:
        if step.kind != kind:
            kind = step.kind
            yield f"  {KINDS[kind]}"
        yield f"    {step.number:>2}  {sheet.said(step)}"
    yield "\nNEEDED"
    yield f"  {needed_switches(sheet)}"
    yield from (f"  {what}: {count}" for what, count in sheet.material.items() if count)
    yield "\nBETWEEN POSITIONS"
    yield from (f"  {line}" for line in sheet.transit)
    yield "\nCARE"
    yield from (f"  {line}" for line in sheet.cautions)
