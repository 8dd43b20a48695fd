"""A chart made into a whole wiring and its sheet, looked at once more before anybody is given it."""

from __future__ import annotations

from dataclasses import dataclass

from dsp.errors import InputError
from dsp.facts.findings.check import check
from dsp.lugs.chart import Chart
from dsp.lugs.compare import SAME, largest_difference
from dsp.lugs.targets import Wanted
from dsp.lugs.two_switches import settings_at
from dsp.wiring.model import Wiring
from server.documents.lug_chart import Sheet, sheet_of, sketched_at
from server.wirings.charted import ChartedText


@dataclass(frozen=True)
class Charted:
    """A chart that has become a wiring.

    Attributes
    ----------
    sheet : Sheet
    text : str
        The wiring, the sketch replaced, comments kept.
    difference : float
        Largest difference of a response to the sketch's, as a share of it.
    """

    sheet: Sheet
    text: str
    difference: float


def finished(
    text: ChartedText,
    wiring: Wiring,
    wanted: Wanted,
    chart: Chart,
    switch_name: str,
    summary: tuple[str, ...],
) -> Charted:
    """The wiring with the chart in it, and its sheet, both found good.

    Parameters
    ----------
    text : ChartedText
        Of the sketched wiring; it is changed.
    wiring : Wiring
        The sketched one.
    wanted : Wanted
    chart : Chart
    switch_name : str
    summary : tuple of str

    Raises
    ------
    InputError
        If the result is not what was sketched.
    """
    assert wiring.selector is not None
    text.put_chart(wiring.selector, chart, _labels(wiring, wanted, chart))
    charted = text.wiring()
    difference = _refuse_what_differs(wiring, charted, chart)
    sheet = sheet_of(wiring, charted, wanted, chart, switch_name=switch_name, summary=summary)
    return Charted(sheet, text.dump(), difference)


def _labels(wiring: Wiring, wanted: Wanted, chart: Chart) -> dict[str, str]:
    """Words for each position of the selector; with another switch, for each of its positions there."""
    labels: dict[str, str] = {}
    for position, sound in chart.sounds.items():
        words = wiring.labels.get(sound) or sketched_at(wanted, chart, position)
        at, stands = settings_at(chart.switch, position)
        words = f"{', '.join(stands.values())}: {words}" if stands else words
        labels[at] = f"{labels[at]}; {words}" if at in labels else words
    return labels


def _refuse_what_differs(wiring: Wiring, charted: Wiring, chart: Chart) -> float:
    """The last look: findings and responses of what is about to be written."""
    worst, position = largest_difference(wiring, charted, chart.sounds, chart.turned, chart.switch)
    if worst > SAME:
        got = f"responses that differ by {worst:.1e} in position {position}"
        raise InputError(wiring.file, got, f"the sketch's within {SAME:.0e}; nothing was written")
    errors = [one.text() for one in check(charted) if one.severity == "error"]
    before = {one.text() for one in check(wiring) if one.severity == "error"}
    if new := [one for one in errors if one not in before]:
        raise InputError(wiring.file, "; ".join(new), "a wiring without errors; nothing was written")
    return worst
