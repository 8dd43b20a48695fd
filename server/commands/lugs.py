"""`presolder lugs`: wire sketched sounds on a real switch, lug by lug."""

from __future__ import annotations

import json
import re
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from dsp.errors import InputError, nearest
from server.commands import common

if TYPE_CHECKING:
    from dsp.lugs.chart import Chart
    from dsp.lugs.make import ChartResult
    from dsp.lugs.rules import ChartRules
    from dsp.lugs.targets import Targets
    from dsp.parts.switch import Switch
    from server.documents.lug_chart import Sheet

EPILOG = """\b
Examples:
  presolder lugs sketch.yaml --switch blade_5_four_pole
  presolder lugs sketch.yaml --switch my-switch.yaml --order fixed --out chart
  presolder lugs sketch.yaml --switch blade_3_two_pole --switch push_pull
  presolder lugs baritone.yaml               how a wired switch is soldered
  presolder parts --kind switch              list switches

FILE's selector is a sketch; or a switch, whose sounds are then wired anew. Of two switches the second's
positions count fastest: the sketch's first position stands at 1 down, the second at 1 up, the third at 2
down, and so on. A switch of your own is a file with its lugs and, per position, its contacts:
`lugs: [A0, A1, A2]` and `contacts: {1: [[A0, A1]], 2: [[A0, A2]]}`. Before the command reports success, it
loads the new wiring, checks it and compares its responses with the sketch's.
"""


@click.command(epilog=EPILOG)
@click.argument("file", type=common.EXISTING)
@click.option(
    "--switch",
    "switch_names",
    multiple=True,
    metavar="NAME|FILE",
    help="A switch of the library, or a file; repeat it for a second or third switch, whose positions count"
    " faster. Without it the switches of FILE are shown as they are soldered.",
)
@click.option(
    "--order",
    type=click.Choice(["free", "fixed"]),
    default="free",
    show_default=True,
    help="Whether sounds may change places.",
)
@click.option(
    "--stop", type=int, metavar="N", help="Use the first N positions only, as a rotary's stop does."
)
@click.option(
    "--time", "seconds", type=float, default=10.0, show_default=True, help="Limit of the search, s."
)
@click.option("--hanging", is_flag=True, help="Let unused coils hang from live points by one lead.")
@click.option("--no-shorts", is_flag=True, help="Do not short unused coils.")
@click.option("--keep-polarity", is_flag=True, help="Do not reverse the absolute polarity of any position.")
@click.option(
    "--sketch", "sketch_name", metavar="NAME", help="The sketch to chart; the selector unless given."
)
@common.link_lead_option
@click.option(
    "--out", type=common.EXISTING, metavar="DIR", help="Folder for the wiring, the drawing and the chart."
)
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def command(
    file: Path,
    switch_names: tuple[str, ...],
    order: str,
    stop: int | None,
    seconds: float,
    hanging: bool,
    no_shorts: bool,
    keep_polarity: bool,
    sketch_name: str | None,
    link_leads: tuple[str, ...],
    out: Path | None,
    as_json: bool,
) -> None:
    """Make a lug chart: which lead goes to which lug of a real switch.

    The chart has the fewest poles, then the fewest wires, and is verified twice. If the sounds cannot
    be wired on the switch, the command prints the reason and the nearest choice; exit status 1.
    """
    if not switch_names:
        _print_wired(file, as_json)
        return
    if not 0.1 <= seconds <= 3600.0:
        raise click.UsageError(f"--time: got {seconds:g}; allowed: 0.1 to 3600 (seconds)")
    from dsp.lugs.rules import ChartRules
    from dsp.lugs.targets import targets_of
    from server.searches.lugs import about_sketch, apply_chart
    from server.searches.sketch import with_sketch
    from server.wirings.charted import ChartedText
    from server.wirings.switches import load_switches

    wiring, text = common.load(file), ChartedText.of(file)
    if sketch_name is None and wiring.sketch is None and wiring.selector is not None:
        with common.report_errors():
            text = ChartedText(with_sketch(text.dump(), wiring), str(file))
            sketched = text.wiring()
        lost = [one for one in wiring.positions if one not in sketched.positions]
        without = f", all but {', '.join(lost)}, which no expression says" if lost else ""
        click.echo(f"{wiring.selector} is a switch: its sounds are wired anew{without}.", err=True)
        wiring = sketched
    if sketch_name is not None:
        if sketch_name not in wiring.sketches:
            hint = (
                nearest(sketch_name, wiring.sketches) or f"there are {', '.join(wiring.sketches) or 'none'}"
            )
            raise click.UsageError(f"--sketch: no sketch '{sketch_name}'; {hint}")
        if sketch_name != wiring.selector:
            wiring = about_sketch(wiring, sketch_name)
    with common.report_errors():
        wanted = targets_of(wiring, common.parse_leads(link_leads))
        switch = load_switches(switch_names, wiring.selector or "selector", wiring.parts, stop=stop)
        rules = ChartRules(order, hanging=hanging, shorted=not no_shorts, turning=not keep_polarity)
        made = _make(wanted, switch, rules, seconds)
        if made.chart is None:
            _print_reason(made, wanted, switch, as_json)
            raise SystemExit(1)
        name = " x ".join(Path(name).stem for name in switch_names)
        charted = apply_chart(text, wiring, wanted, made.chart, name, made.words(switch))
        sheet = charted.sheet
        files = _write(out, file, name, sheet, charted.text) if out is not None else {}
    _print_chart(sheet, made, files, as_json)


def _print_wired(file: Path, as_json: bool) -> None:
    """Print how the switches of a wiring are soldered."""
    from server.searches.existing import switches_json

    with common.report_errors():
        found = switches_json(common.load(file))
        if not found["switches"]:
            raise InputError(str(file), "no switch", "a wiring with a switch, or a sketch with --switch")
    if as_json:
        click.echo(json.dumps(found, indent=1, ensure_ascii=False))
        return
    for one in found["switches"]:
        click.echo(f"{one['name']}{one['about'] and ': ' + one['about']}; poles in use: {one['poles']}")
        for lug in one["lugs"]:
            click.echo(f"  {lug['lug']:<6} {', '.join(lug['with'])}")
        for row in one["positions"]:
            contacts = "; ".join("-".join(group) for group in row["contacts"]) or "none"
            said = "  ".join(text for text in (row["label"], row["sound"], row["reading"]) if text)
            click.echo(f"  position {row['position']}: joins {contacts}{said and '  ' + said}")


def _make(wanted: Targets, switch: Switch, rules: ChartRules, seconds: float) -> ChartResult:
    from dsp.lugs.make import make_chart

    watching = sys.stderr.isatty()

    def found(stage: str, chart: Chart) -> bool:
        if watching:
            click.echo(f"{stage}: {chart.poles} poles, {chart.wires} wires", err=True)
        return False

    def explaining(stage: str) -> bool:
        if watching:
            click.echo(f"no chart; looking for the reason: {stage}", err=True)
        return False

    return make_chart(wanted, switch, rules, time_s=seconds, progress=found, explaining=explaining)


def _write(out: Path, file: Path, switch_name: str, sheet: Sheet, text: str) -> dict[str, str]:
    """Write the three files, the wiring last."""
    from server.documents.lug_chart import text_of
    from server.documents.lug_chart_drawing import drawing
    from server.files.whole import make_folder, write_text

    make_folder(out)
    stem = f"{file.stem}-{re.sub(r'[^A-Za-z0-9_-]+', '-', switch_name)}"
    contents = {
        "drawing": (".svg", drawing(sheet)),
        "chart": (".txt", text_of(sheet)),
        "wiring": (".yaml", text),
    }
    files = {}
    for kind, (suffix, content) in contents.items():
        path = out / f"{stem}{suffix}"
        if path.resolve() == file.resolve():
            raise InputError(str(path), "the sketch itself", "another folder: the sketch stays as it is")
        write_text(path, content)
        files[kind] = str(path)
    return files


def _print_chart(sheet: Sheet, made: ChartResult, files: dict[str, str], as_json: bool) -> None:
    from server.documents.lug_chart import text_of

    if as_json:
        click.echo(json.dumps(_facts(sheet, made, files), indent=1, ensure_ascii=False))
    elif files:
        click.echo("\n".join(sheet.summary))
        for kind, path in files.items():
            click.echo(f"{kind:<8} {path}")
    else:
        click.echo(text_of(sheet), nl=False)


def _facts(sheet: Sheet, made: ChartResult, files: dict[str, str]) -> dict[str, Any]:
    chart, done = sheet.chart, made.solution
    return {
        "outcome": done.outcome,
        "poles": chart.poles,
        "poles_proved": done.poles_proved,
        "wires": chart.wires,
        "seconds": {"first": done.first_s, "poles": done.poles_s, "wires": done.wires_s},
        "positions": {
            row.position: {
                "sound": chart.sounds[row.position],
                "expression": row.sound,
                "turned": chart.sounds[row.position] in chart.turned,
                "reading": row.reading,
                "label": row.label,
            }
            for row in sheet.rows
        },
        "joints": [[sheet.called(t).removeprefix("lug ") for t in net] for net in chart.nets],
        "steps": [{"number": s.number, "kind": s.kind, "text": sheet.said(s)} for s in sheet.steps],
        "needed": sheet.material,
        "transit": list(sheet.transit),
        "summary": list(sheet.summary),
        "files": files,
    }


def _print_reason(made: ChartResult, wanted: Targets, switch: Switch, as_json: bool) -> None:
    """Print the reason in words, and the nearest choice."""
    lines = made.words(switch)
    why = made.explanation
    nearest = why.nearest if why else None
    if as_json:
        record: dict[str, Any] = {"outcome": made.solution.outcome, "reason": list(lines)}
        if why is not None:
            record |= {
                "conflict": list(why.conflict),
                "minimal": why.minimal,
                "in_time": why.in_time,
                "poles_needed": why.poles_needed,
                "left_out": list(why.left_out),
                "nearest_proved": why.nearest_proved,
                "nearest": None if nearest is None else dict(nearest.sounds),
            }
        click.echo(json.dumps(record, indent=1, ensure_ascii=False))
        return
    ended = "cannot be wired" if made.solution.outcome == "impossible" else "could not be wired in time"
    this = "this switch" if len(switch.members("")) < 2 else "these switches"
    click.echo(f"The {len(wanted.targets)} positions {ended} on {this}.", err=True)
    for line in lines:
        click.echo(line, err=True)
    if nearest is not None:
        joined = ", ".join(f"{position}: sketch {sound}" for position, sound in nearest.sounds.items())
        click.echo(
            f"Its positions would be {joined}. To get it, leave the others out of the sketch.", err=True
        )
