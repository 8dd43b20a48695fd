"""A lug chart as the page asks for it: a first one at once, then fewer poles and wires, the proof.

Reports, by name: ``stage``, ``chart`` (the best so far: positions, steps, joints, parts, cautions,
what happens between positions), ``checks`` (the verifiers), ``drawing``, ``sheet`` and ``wiring`` (whole
documents), ``reason``, ``nearest`` and ``remedies`` where it cannot be.
"""

from __future__ import annotations

import time
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from dsp.errors import InputError, nearest
from dsp.facts.findings.check import check
from dsp.lugs.chart import Chart
from dsp.lugs.compare import SAME, largest_difference
from dsp.lugs.make import ChartResult, make_chart, trim, verify
from dsp.lugs.remedies import find_remedies
from dsp.lugs.rules import FREE, ChartRules
from dsp.lugs.soldering import KINDS
from dsp.lugs.solve import IMPOSSIBLE
from dsp.lugs.targets import Targets, targets_of
from dsp.lugs.two_switches import settings_at
from dsp.parts.kinds import positioned_of
from dsp.parts.library.index import LIBRARY
from dsp.parts.switch import Switch
from dsp.wiring.model import Wiring
from server.documents.lug_chart import Sheet, sheet_of, sketched_at, text_of
from server.documents.lug_chart_drawing import drawing
from server.processes.reports import Report
from server.searches.sounds import FILE, read
from server.searches.switches import switch_words, switches_of
from server.wirings.charted import ChartedText
from server.wirings.switches import load_switch, switch_names

MOMENTARY = ("push_button",)
"""Switches that hold no position of their own."""
FIRST = "the first chart; looking for fewer poles and wires"


def run(text: str, options: Mapping[str, Any], report: Report) -> None:
    """Find a chart for sounds on a switch, and report all the while.

    Parameters
    ----------
    text : str
        Of a wiring with a sketch.
    options : mapping
        ``sketch`` (its name; empty for the selector), ``sounds`` (expressions; none for the positions
        that the sketch has), ``labels``, ``switch``, ``second``, ``shaft``, ``order``, ``hanging``,
        ``shorted``, ``turning``, ``seconds``; see the API's form.

    Raises
    ------
    InputError
        If there are more sounds than positions, or the wiring has no such sketch.
    """
    report(stage="reading the sounds")
    sketched_text = text
    if options["sounds"]:
        sketched_text = _sketched_text(text, options["sketch"], options["sounds"], options["labels"])
    wiring = _of_sketch(read(sketched_text), options["sketch"])
    wanted = targets_of(wiring)
    switch = switches_of(options, str(wiring.selector), wiring.parts)
    rules = ChartRules(
        options["order"],
        hanging=options["hanging"],
        shorted=options["shorted"],
        turning=options["turning"],
    )
    charts = ChartReporter(sketched_text, wiring, wanted, switch, rules, options, report)
    report(stage="looking for a first chart")
    made = make_chart(
        wanted,
        switch,
        rules,
        time_s=options["seconds"],
        progress=charts.report_found,
        explaining=charts.report_explaining,
    )
    if made.chart is None:
        _report_why(made, switch, report)
        if made.solution.outcome == IMPOSSIBLE:
            report(stage="looking for what would do")
            report(remedies=_remedies(wanted, switch, rules, 2.0 * options["seconds"]))
    else:
        charts.report_chart(made.chart, made.words(switch), final=made)
    report(stage="done")


def _of_sketch(wiring: Wiring, name: str) -> Wiring:
    """The wiring with the sketch of a name as its selector; the selector for no name."""
    name = name or wiring.selector or ""
    if name not in wiring.sketches:
        got, allowed = f"'{name}'" if name else "no sketch", ", ".join(wiring.sketches) or "a sketch"
        raise InputError("sketch", got, allowed, nearest(name, wiring.sketches))
    return wiring if name == wiring.selector else about_sketch(wiring, name)


def _sketched_text(text: str, name: str, sounds: list[str], labels: list[str]) -> str:
    """The wiring with the sounds as the positions of its sketch; labels are the selector's."""
    own = read(text)
    wiring = _of_sketch(own, name)
    sketch = ChartedText(text, FILE)
    positions = {str(n): expression for n, expression in enumerate(sounds, 1)}
    sketch.put(["parts", str(wiring.selector), "positions"], positions)
    if wiring.selector == own.selector:
        sketch.put_labels({str(n): label for n, label in enumerate(labels[: len(sounds)], 1) if label})
    return sketch.dump()


class ChartReporter:
    """Reports charts; each is first made into a whole wiring and verified."""

    def __init__(
        self,
        text: str,
        wiring: Wiring,
        wanted: Targets,
        switch: Switch,
        rules: ChartRules,
        options: Mapping[str, Any],
        report: Report,
    ) -> None:
        self._text, self._wiring, self._wanted, self._switch = text, wiring, wanted, switch
        self._rules, self._report, self._begun = rules, report, time.monotonic()
        self._name, self._about = switch_words(options)
        self._shaft = options.get("shaft", "")
        self._shown: tuple[int, int] | None = None

    def report_found(self, stage: str, chart: Chart) -> bool:
        """Report a chart on the way; the search goes on."""
        self._report(stage=f"found {chart.poles} poles, {chart.wires} wires; {stage}")
        if self._shown is None:
            whole = trim(self._wanted, chart, self._rules)
            verify(self._wanted, whole, self._rules)
            self.report_chart(whole, (FIRST,))
        return False

    def report_explaining(self, stage: str) -> bool:
        """Report what is worked on where there is no chart."""
        self._report(stage=f"no chart; looking for the reason: {stage}")
        return False

    def report_chart(
        self, chart: Chart, summary: tuple[str, ...], *, final: ChartResult | None = None
    ) -> None:
        """Report a verified chart with its documents."""
        text = ChartedText(self._text, FILE)
        done = apply_chart(text, self._wiring, self._wanted, chart, self._name, summary, shaft=self._shaft)
        assigned = None if final is None else final.solution
        values = sheet_json(done.sheet)
        values |= {
            "about": self._about,
            "final": final is not None,
            "poles_proved": assigned is not None and assigned.poles_proved,
            "wires_proved": assigned is not None and assigned.poles_proved and assigned.wires_s is not None,
            "at_s": round(time.monotonic() - self._begun, 2),
            "checks": [
                f"Joints followed position by position: no fault in {len(self._switch.positions)} positions.",
                "Solved as a circuit with random impedances: every position is the sound wanted.",
                f"Responses compared with the sketch's: {difference_text(done.difference)}.",
            ],
        }
        self._shown = (chart.poles, chart.wires)
        # the documents first: a page that knows of the chart asks for its drawing at once
        self._report(drawing=drawing(done.sheet), sheet=text_of(done.sheet), wiring=done.text)
        self._report(chart=values)


def difference_text(difference: float) -> str:
    """Return in words how far responses are from the sketch's.

    Parameters
    ----------
    difference : float
        Of their size.
    """
    if difference == 0.0:
        return "the same to the last digit"
    return f"the same within {difference:.0e} of their size"


@dataclass(frozen=True)
class ChartedWiring:
    """A wiring with a chart in the place of its sketch.

    Attributes
    ----------
    text : str
        The wiring, the sketch replaced, comments kept.
    difference : float
        Largest difference of a response to the sketch's, as a share of it.
    """

    sheet: Sheet
    text: str
    difference: float


def apply_chart(
    text: ChartedText,
    wiring: Wiring,
    wanted: Targets,
    chart: Chart,
    switch_name: str,
    summary: tuple[str, ...],
    *,
    shaft: str = "",
) -> ChartedWiring:
    """Put a chart into its wiring and check the result once more.

    Parameters
    ----------
    text : ChartedText
        Of the sketched wiring. The function changes it.
    wiring : Wiring
        The sketched one.
    shaft : str
        The pot whose shaft a second switch shares; empty for one of its own.

    Raises
    ------
    InputError
        If the result is not what was sketched.
    """
    assert wiring.selector is not None
    own = text.wiring().selector == wiring.selector  # labels are those of the selector
    labels = _labels(wiring, wanted, chart)
    text.put_chart(wiring.selector, chart, labels if own else None)
    for name in list(chart.switch.members(wiring.selector))[1:2] if shaft else ():
        text.set(("parts", name, "ganged"), f"{{part: {shaft}}}")
    charted = text.wiring()
    if not own:
        charted = replace(about_sketch(charted, wiring.selector), labels=labels)
    difference = _refuse_what_differs(wiring, charted, chart)
    sheet = sheet_of(wiring, charted, wanted, chart, switch_name=switch_name, summary=summary)
    return ChartedWiring(sheet, text.dump(), difference)


def about_sketch(wiring: Wiring, name: str) -> Wiring:
    """Return a wiring with another switch as its selector.

    Labels are the names of its positions, if they are no numbers.
    """
    kind = positioned_of(part := wiring.parts[name])
    names = kind.positions(part) if kind else ()
    return replace(wiring, selector=name, labels={one: one for one in names if not one.isdecimal()})


def _labels(wiring: Wiring, wanted: Targets, chart: Chart) -> dict[str, str]:
    """Words for each position of the selector; with another switch, for each of its positions there."""
    labels: dict[str, str] = {}
    for position, sound in chart.sounds.items():
        words = wiring.labels.get(sound) or sketched_at(wanted, chart, position)
        at, stands = settings_at(chart.switch, position)
        words = f"{', '.join(stands.values())}: {words}" if stands else words
        labels[at] = f"{labels[at]}; {words}" if at in labels else words
    return labels


def _refuse_what_differs(wiring: Wiring, charted: Wiring, chart: Chart) -> float:
    """Compare responses and findings with the sketch's; the largest difference of a response."""
    worst, position = largest_difference(wiring, charted, chart.sounds, chart.turned, chart.switch)
    if worst > SAME:
        got = f"responses that differ by {worst:.1e} in position {position}"
        raise InputError(wiring.file, got, f"the sketch's within {SAME:.0e}; nothing was written")
    errors = [one.text() for one in check(charted) if one.severity == "error"]
    before = {one.text() for one in check(wiring) if one.severity == "error"}
    if new := [one for one in errors if one not in before]:
        raise InputError(wiring.file, "; ".join(new), "a wiring without errors; nothing was written")
    return worst


def sheet_json(sheet: Sheet) -> dict[str, Any]:
    """A chart's sheet as the page shows it."""
    chart = sheet.chart
    return {
        "title": sheet.title,
        "switch": sheet.switch_name,
        "selector": sheet.selector,
        "poles": chart.poles,
        "wires": chart.wires,
        "lugs": len(chart.lugs),
        "rows": [
            {
                "position": row.position, "sound": row.sound, "note": row.note, "reading": row.reading,
                "label": row.label,
            }
            for row in sheet.rows
        ],
        "steps": [
            {"number": one.number, "kind": KINDS[one.kind], "text": sheet.said(one)} for one in sheet.steps
        ],
        "joints": [
            {"net": name, "terminals": list(map(sheet.called, net))}
            for name, net in zip(sheet.net_names, chart.nets, strict=True)
        ],
        "needed": [[f"switch: {sheet.switch_name}", 1], *([w, n] for w, n in sheet.material.items() if n)],
        "transit": list(sheet.transit),
        "summary": list(sheet.summary),
        "cautions": list(sheet.cautions),
    }  # fmt: skip


def _remedies(wanted: Targets, switch: Switch, rules: ChartRules, time_s: float) -> list[dict[str, Any]]:
    """What would make the sounds: another order, or another switch of the library, in words."""
    others = {name: load_switch(name) for name in switch_names() if name not in MOMENTARY}
    return [
        {
            "switch": one.switch,
            "order": FREE if one.free else rules.order,
            "about": LIBRARY[one.switch].about if one.switch else "the same switch, in another order",
        }
        for one in find_remedies(wanted, switch, rules, others, time_s=time_s)
    ]


def _report_why(made: ChartResult, switch: Switch, report: Report) -> None:
    """Report why there is no chart, and what can be had instead."""
    why = made.explanation
    nearest = why.nearest if why else None
    report(
        reason=list(made.words(switch)),
        impossible=made.solution.outcome == IMPOSSIBLE,
        conflict=[] if why is None else [int(name) for name in why.conflict],
        left_out=[] if why is None else [int(name) for name in why.left_out],
        nearest=None if nearest is None else {p: int(name) for p, name in nearest.sounds.items()},
    )
