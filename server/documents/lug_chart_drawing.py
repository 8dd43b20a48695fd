"""A lug chart as SVG: a row per lug and lead, a rail per net, a column per position.

A row ends in a dot on the rail of the net it is soldered to, with the numbers of the steps that do
it; a column shows which lugs its position joins. Lines never cross without a dot meaning a
joint, and nets differ by their dashes as well as by their names.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from html import escape
from textwrap import wrap

from dsp.lugs.chart import COLD_END, HOT_END, SWITCH, poles_of
from dsp.lugs.soldering import KINDS
from dsp.parts.kind import Terminal
from server.documents.lug_chart import Sheet, needed_switches

ROW, RAIL, COLUMN, GAP, MARGIN = 20, 46, 30, 12, 24
LETTER = 7.2
"""Width of a letter, pixels, on the safe side."""
WIDEST_LABEL = 40
MOST_OF_POSITION = 12
"""Longest name of a position at the head of its column, letters."""
DASHES = ("", "7 3", "2 3", "10 3 2 3", "5 2", "1 4", "12 4", "6 2 2 2 2 2")
STYLE = """
svg{--sheet:#fff;color:#15242a;font:12px system-ui,sans-serif;background:var(--sheet)}
@media (prefers-color-scheme:dark){svg{--sheet:#162124;color:#e6eef0}}
@media print{svg{--sheet:#fff;color:#000}}
text{fill:currentColor}.b{font-weight:600}.d{opacity:.6}.s{font-size:10px}
.r{fill:none;stroke:currentColor;stroke-width:2}.h{stroke:currentColor;stroke-width:1;opacity:.55}
.c{stroke:currentColor;stroke-width:3}.f{fill:currentColor}.o{fill:none;stroke:currentColor;opacity:.5}
"""
_NOT_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def safe(text: str) -> str:
    """Return text that an XML document may hold."""
    return escape(_NOT_XML.sub("\ufffd", text), quote=True)


def drawing(sheet: Sheet) -> str:
    """Return the sheet as an SVG document, for screen and paper."""
    page = _Page(sheet)
    body = [*page.rails(), *page.rows(), *page.columns(), *page.notes()]
    width, height = page.width, page.height
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" width="{width}" role="img">'
    )
    title = safe(f"Lug chart of {sheet.title}")
    paper = f'<rect width="{width}" height="{height}" style="fill:var(--sheet)"/>'
    return "\n".join([head, f"<title>{title}</title>", f"<style>{STYLE}</style>", paper, *body, "</svg>\n"])


class _Page:
    """Places of everything on the sheet."""

    def __init__(self, sheet: Sheet) -> None:
        self.sheet = sheet
        self.place: dict[Terminal, float] = {}
        self.label: dict[Terminal, str] = {}
        y = float(MARGIN + 84)
        for group in self._groups():
            for terminal in group:
                self.place[terminal] = y
                text = sheet.called(terminal).removeprefix("lug ")
                self.label[terminal] = text if len(text) <= WIDEST_LABEL else text[: WIDEST_LABEL - 1] + "…"
                y += ROW
            y += GAP
        self.left = MARGIN + LETTER * max(map(len, self.label.values())) + 12
        self.bottom = y - GAP
        self.rail = [self.left + RAIL * (i + 0.7) for i in range(len(sheet.chart.nets))]
        self.right = self.left + RAIL * len(sheet.chart.nets) + 20
        longest = max(len(name[:MOST_OF_POSITION]) for name in sheet.chart.switch.positions)
        self.column = max(COLUMN, LETTER * longest + 8)
        columns = self.column * len(sheet.chart.switch.positions)
        self.width = round(max(self.right + columns + MARGIN, 720))
        self.lines = list(self._written())
        self.height = round(self.bottom + 30 + 17 * len(self.lines) + MARGIN)

    def _groups(self) -> Iterator[list[Terminal]]:
        """Return lugs pole by pole, the ends of the circuit, then the leads."""
        chart = self.sheet.chart
        poles = poles_of(chart.switch)
        yield from ([(SWITCH, lug) for lug in pole] for pole in poles)
        alone = [lug for lug in chart.switch.lugs if not any(lug in pole for pole in poles)]
        if alone:
            yield [(SWITCH, lug) for lug in alone]
        yield [HOT_END, COLD_END]
        yield [t for net in chart.nets for t in net if t[0] != SWITCH and t not in (HOT_END, COLD_END)]

    def rails(self) -> Iterator[str]:
        """Draw a vertical line per net, from its first row to its last."""
        yield f'<text class="b" x="{MARGIN}" y="{MARGIN + 6}" font-size="15">{safe(self.sheet.title)}</text>'
        about = (
            f"{self.sheet.selector}: {self.sheet.switch_name}. Dots are joints, numbers beside them steps."
        )
        yield f'<text class="d" x="{MARGIN}" y="{MARGIN + 26}">{safe(about)}</text>'
        for x, word in ((self.left, "joints"), (self.right, "positions")):
            yield f'<text class="d" x="{x:.1f}" y="{MARGIN + 44}">{word}</text>'
        for i, (x, net) in enumerate(zip(self.rail, self.sheet.chart.nets, strict=True)):
            ys = [self.place[t] for t in net]
            dash = f' stroke-dasharray="{DASHES[i % len(DASHES)]}"' if DASHES[i % len(DASHES)] else ""
            yield f'<path class="r"{dash} d="M{x:.1f} {min(ys):.1f}V{max(ys):.1f}"/>'
            yield _centred(x, self.sheet.net_names[i])

    def rows(self) -> Iterator[str]:
        """Draw a row per terminal, led to its rail."""
        for terminal, y in self.place.items():
            net = self.sheet.net_of(terminal)
            weight = "b" if terminal[0] == SWITCH else ""
            dim = "" if net is not None else " d"
            yield (
                f'<text class="{weight}{dim}" x="{self.left - 8:.1f}" y="{y + 4:.1f}" text-anchor="end">'
                f"{safe(self.label[terminal])}</text>"
            )
            if net is None:
                yield f'<circle class="o" cx="{self.left + 3:.1f}" cy="{y:.1f}" r="3"/>'
                continue
            x = self.rail[net]
            yield f'<path class="h" d="M{self.left:.1f} {y:.1f}H{x:.1f}"/>'
            yield f'<circle class="f" cx="{x:.1f}" cy="{y:.1f}" r="4"/>'
            numbers = ",".join(str(step.number) for step in self.sheet.steps if terminal in step.ends)
            yield f'<text class="s" x="{x + 6:.1f}" y="{y - 3:.1f}">{numbers}</text>'

    def columns(self) -> Iterator[str]:
        """Draw a column per position: the lugs that it joins."""
        switch = self.sheet.chart.switch
        for i, position in enumerate(switch.positions):
            x = self.right + self.column * (i + 0.5)
            yield _centred(x, position[:MOST_OF_POSITION])
            for group in switch.contacts[position]:
                ys = sorted(self.place[SWITCH, lug] for lug in group)
                yield f'<path class="c" d="M{x:.1f} {ys[0]:.1f}V{ys[-1]:.1f}"/>'
                yield from (
                    f'<rect class="f" x="{x - 5:.1f}" y="{y - 4:.1f}" width="10" height="8"/>' for y in ys
                )

    def notes(self) -> Iterator[str]:
        """Write what cannot be drawn below the drawing."""
        for i, (weight, line) in enumerate(self.lines):
            y = self.bottom + 30 + 17 * i
            yield f'<text class="{weight}" x="{MARGIN}" y="{y:.1f}">{safe(line)}</text>'

    def _written(self) -> Iterator[tuple[str, str]]:
        sheet = self.sheet
        yield "b", "Positions (meter at the jack, cable out, every knob at 10)"
        for row in sheet.rows:
            parts = (f"{row.position}:  {row.sound}", row.reading, row.label, row.note)
            yield from self._wrapped(" · ".join(part for part in parts if part))
        kind = ""
        for step in sheet.steps:
            if step.kind != kind:
                kind = step.kind
                yield "b", KINDS[kind]
            yield from self._wrapped(f"{step.number}.  {sheet.said(step)}")
        yield "b", "Needed"
        needed = ", ".join(f"{what}: {count}" for what, count in sheet.material.items() if count)
        yield from self._wrapped(f"{needed_switches(sheet)}; {needed}")
        yield "b", "Between positions"
        for line in (*sheet.transit, *sheet.summary):
            yield from self._wrapped(line)
        yield "b", "Care"
        for line in sheet.cautions:
            yield from self._wrapped(line)

    def _wrapped(self, line: str) -> Iterator[tuple[str, str]]:
        most = int((self.width - 2 * MARGIN) / (LETTER - 0.8))
        yield from (("", part) for part in wrap(line, most, subsequent_indent="    ") or [""])


def _centred(x: float, text: str) -> str:
    """Draw the head of a rail or column."""
    return f'<text class="b" x="{x:.1f}" y="{MARGIN + 60}" text-anchor="middle">{safe(text)}</text>'
