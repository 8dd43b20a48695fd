"""Helpers of several commands: read options, report errors."""

from __future__ import annotations

import contextlib
import math
import shutil
import sys
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from dsp.errors import InputError
from dsp.parts.pot import KNOB_ALLOWED
from dsp.units import parse
from dsp.wiring.model import Setting, Wiring

if TYPE_CHECKING:
    from dsp.checking.exciter import ExciterRig

F = TypeVar("F", bound=Callable[..., Any])

EXISTING = click.Path(path_type=Path)


def position_option(function: F) -> F:
    """Add --position N|all to a command."""
    return click.option(
        "--position", "-p", default="all", show_default=True, metavar="N|all", help="Selector position."
    )(function)


def set_option(function: F) -> F:
    """Add --set NAME=VALUE, repeatable, to a command."""
    text = "A knob (0 to 10) or a switch position; repeatable. Other knobs are at 10."
    return click.option("--set", "controls", multiple=True, metavar="NAME=VALUE", help=text)(function)


def link_lead_option(function: F) -> F:
    """Add --link-lead COIL.LEAD, repeatable, to a command."""
    text = "The joint that holds this lead comes out of its pickup as a lead; repeatable."
    return click.option("--link-lead", "link_leads", multiple=True, metavar="COIL.LEAD", help=text)(function)


def rig_options(function: F) -> F:
    """Add the rig's own recordings at the plug to a command."""
    for decorate in (
        click.option("--known", metavar="FILE=OHMS", help="Recording, a known resistor, and its value."),
        click.option("--short", "shorted", type=EXISTING, metavar="FILE", help="The plug shorted."),
        click.option("--open", "opened", type=EXISTING, metavar="FILE", help="Nothing at the plug."),
    ):
        function = decorate(function)
    return function


def exciter_options(function: F) -> F:
    """Add what is at the jack while an exciter plays to a command."""
    for decorate in (
        click.option(
            "--sides",
            type=click.Choice(("kept", "free")),
            default="kept",
            show_default=True,
            help="Exciter: whether the same side faced every coil.",
        ),
        click.option(
            "--cable",
            default="500 pF",
            show_default=True,
            metavar="FARAD",
            help="Exciter: the cable and the input at the jack.",
        ),
        click.option(
            "--input",
            "input_ohm",
            default="1 MΩ",
            show_default=True,
            metavar="OHMS",
            help="Exciter: the input's resistance.",
        ),
    ):
        function = decorate(function)
    return function


def parse_exciter(input_ohm: str, cable: str) -> ExciterRig:
    """Read what is at the jack while an exciter plays, from its options.

    Raises
    ------
    click.UsageError
        If a text is not a resistance or a capacitance, or if no input or cable has that much.
    """
    from dsp.checking.exciter import ExciterRig

    with report_wrong_usage():
        found = ExciterRig(parse(input_ohm, "resistance", "--input"), parse(cable, "capacitance", "--cable"))
    if not (1e3 <= found.input_ohm <= 1e9 and 0.0 <= found.cable_f <= 1e-7):
        raise click.UsageError("allowed: --input 1 kΩ to 1 GΩ, --cable 0 pF to 100 nF")
    return found


def parse_leads(texts: Sequence[str]) -> tuple[tuple[str, str], ...]:
    """Read leads of coils as a file writes them.

    Raises
    ------
    click.UsageError
        For a text that is not COIL.start or COIL.finish.
    """
    found = [text.partition(".") for text in texts]
    for text, (name, _, lead) in zip(texts, found, strict=True):
        if not name or lead not in ("start", "finish"):
            raise click.UsageError(f"--link-lead: got '{text}'; allowed: a coil's lead, such as neck.finish")
    return tuple((name, lead) for name, _, lead in found)


@contextlib.contextmanager
def report_errors() -> Iterator[None]:
    """Print an InputError on standard error and exit with status 1."""
    try:
        yield
    except InputError as error:
        for problem in error.problems:
            click.echo(str(problem), err=True)
        raise SystemExit(1) from error


@contextlib.contextmanager
def report_wrong_usage() -> Iterator[None]:
    """Print an InputError as wrong usage and exit with status 2."""
    try:
        yield
    except InputError as error:
        raise click.UsageError("; ".join(str(problem) for problem in error.problems)) from error


@contextlib.contextmanager
def show_progress(label: str) -> Iterator[Callable[[float], None]]:
    """A bar on a terminal, moved by the share of work done, 0 to 1."""
    if not sys.stderr.isatty():
        yield lambda share: None
        return
    with click.progressbar(length=1000, label=label, file=sys.stderr) as bar:
        yield lambda share: bar.update(round(1000 * share) - bar.pos)


def terminal_columns() -> int:
    """Width of the terminal, in characters."""
    return shutil.get_terminal_size().columns


def load(path: Path) -> Wiring:
    """Load a wiring file, or print its problems and exit."""
    from server.wirings.text import load_wiring

    with report_errors():
        return load_wiring(path)


def settings_of(wiring: Wiring, position: str, controls: Sequence[str]) -> list[Setting]:
    """Settings from --position and --set.

    Raises
    ------
    click.UsageError
        For a control that is not NAME=VALUE or that the wiring lacks.
    """
    knobs: dict[str, float] = {}
    switches: dict[str, str] = {}
    for control in controls:
        name, equals, value = (part.strip() for part in control.partition("="))
        if not equals:
            raise click.UsageError(f"--set: got '{control}'; allowed: NAME=VALUE, such as volume=7")
        if name == wiring.selector or (name == "position" and name not in wiring.parts):
            raise click.UsageError(f"--set: got '{control}'; allowed for the selector: --position {value}")
        if name in wiring.stands:
            switches[name] = value
        else:
            knobs[name] = _parse_knob(name, value)
    positions = wiring.positions if position == "all" else (position,)
    with report_wrong_usage():
        return [wiring.setting(one, knobs, switches) for one in positions]


def _parse_knob(name: str, value: str) -> float:
    number = parse_number(value)
    if number is None:
        raise click.UsageError(f"--set {name}: got '{value}'; allowed: {KNOB_ALLOWED}")
    return number


def parse_number(text: str) -> float | None:
    """Read a finite number; None for any other text."""
    try:
        number = float(text)
    except ValueError:
        return None
    return number if math.isfinite(number) else None


def controls_of(setting: Setting) -> dict[str, float | str]:
    """Every knob and switch of a setting by name, as JSON shows them."""
    return {**setting.knobs, **setting.switches}
