"""`presolder new`: a wiring file from words."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from dsp.errors import InputError
from dsp.wiring.in_words.questions import QUESTIONS
from dsp.wiring.in_words.words import COMMON_LAYOUTS
from server.commands import common

if TYPE_CHECKING:
    from dsp.wiring.in_words.words import InstrumentWords

EPILOG = """\b
Examples:
  presolder new two.yaml --layout two_singles --wired
  presolder new five.yaml --neck single --bridge humbucker --switch blade_5_four_pole
  presolder new pull.yaml --layout two_humbuckers --volumes one --tones one --second push_pull
  presolder new own.yaml --layout two_singles --sound neck --sound "neck with bridge, out of phase"
  presolder parts --kind switch              list switches

Without --sound the usual sounds of so many positions are taken; with one that does not exist the command
lists all. The positions of --second count fastest: 1 down, 1 up, 2 down, and so on.
"""


def _question_options(function: Callable[..., None]) -> Callable[..., None]:
    """Add an option for every question."""
    for one in reversed([*QUESTIONS.values()]):
        text = f"{one.title}: {', '.join(one.answers)}. Unless given: {one.usual}."
        function = click.option(f"--{one.name}", metavar="NAME", help=text)(function)
    return function


@click.command(epilog=EPILOG)
@click.argument("file", type=common.EXISTING)
@click.option(
    "--layout",
    type=click.Choice(list(COMMON_LAYOUTS)),
    help="A common layout to start from; other options change it.",
)
@_question_options
@click.option("--scale", metavar="LENGTH", help="Nut to bridge; unless given, the usual one of the strings.")
@click.option("--switch", metavar="NAME", help="The switch of the library that selects.")
@click.option("--second", metavar="NAME", help="A further switch, such as a push-pull.")
@click.option(
    "--sound", "sounds", multiple=True, metavar="WORDS", help="A sound wished for; repeatable, in order."
)
@click.option("--name", metavar="TEXT", help="The instrument's name; unless given, the file's.")
@click.option("--wired", is_flag=True, help="Wire the sounds on the switch at once, as `lugs` does.")
def command(
    file: Path,
    layout: str | None,
    scale: str | None,
    switch: str | None,
    second: str | None,
    sounds: tuple[str, ...],
    name: str | None,
    wired: bool,
    **answers: str | None,
) -> None:
    """Write a new wiring FILE from words: pickups, controls, switch, sounds.

    The switch is a sketch with an expression for each position; --wired makes it the switch itself.
    """
    from server.files.existing import path_kind
    from server.files.whole import write_text
    from server.wirings.in_words import make_text, words_from

    start = COMMON_LAYOUTS[layout].words if layout else None
    given = {key: value for key, value in answers.items() if value is not None}
    with common.report_errors():
        if path_kind(file) != "nothing":
            raise InputError(str(file), "a file that exists", "a new file: nothing is overwritten")
        words = words_from(
            {
                "answers": {**(start.answers if start else {}), **given},
                "scale": scale,
                "switch": switch or (start.switch if start else ""),
                "second": second or (start.second if start and not switch else ""),
                "sounds": sounds or (start.sounds if start and not given and not switch else None),
                "name": name or file.stem,
            }
        )
        text, found = make_text(words)
        if wired and words.switch:
            text = _wired(text, words)
        write_text(file, text)
    click.echo(str(file))
    for n, sound in enumerate(found, 1):
        click.echo(f"{n:>3}  {sound.words}")
    if words.switch and not wired:
        switches = "".join(f" --switch {one}" for one in (words.switch, words.second) if one)
        click.echo(f"To wire it: presolder lugs {file} --order fixed{switches} --out {file.stem}-wired")


def _wired(text: str, words: InstrumentWords) -> str:
    """Put a lug chart in the place of the sketch; refuse where there is none."""
    from dsp.lugs.make import make_chart
    from dsp.lugs.rules import ChartRules
    from dsp.lugs.targets import targets_of
    from server.searches.lugs import apply_chart
    from server.wirings.charted import ChartedText
    from server.wirings.switches import load_switches

    sketched = ChartedText(text, "the new instrument")
    wiring = sketched.wiring()
    names = [one for one in (words.switch, words.second) if one]
    switch = load_switches(names, str(wiring.selector), wiring.parts)
    wanted = targets_of(wiring)
    made = make_chart(wanted, switch, ChartRules("fixed"))
    said = made.words(switch)
    if made.chart is None:
        raise InputError("switch", f"{' and '.join(names)}: {' '.join(said)}", "sounds or a switch that do")
    applied: Any = apply_chart(sketched, wiring, wanted, made.chart, " x ".join(names), said)
    click.echo(" ".join(said))
    return str(applied.text)
