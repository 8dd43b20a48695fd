"""What several commands share: reading options, telling errors."""

from __future__ import annotations

import contextlib
import math
import shutil
import sys
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any, TypeVar

import click

from dsp.errors import InputError
from dsp.parts.pot import KNOB_ALLOWED
from dsp.wiring.model import Setting, Wiring

F = TypeVar("F", bound=Callable[..., Any])

EXISTING = click.Path(path_type=Path)


def position_option(function: F) -> F:
    """--position N|all."""
    return click.option(
        "--position", "-p", default="all", show_default=True, metavar="N|all", help="Selector position."
    )(function)


def set_option(function: F) -> F:
    """--set name=value, several times."""
    text = "A knob (0 to 10) or a switch position; several times. Knobs not set stand at 10."
    return click.option("--set", "stands", multiple=True, metavar="NAME=VALUE", help=text)(function)


def link_lead_option(function: F) -> F:
    """--link-lead COIL.LEAD, several times."""
    text = "The joint of coils that this lead is in comes out of its pickup as a lead; several times."
    return click.option("--link-lead", "link_leads", multiple=True, metavar="COIL.LEAD", help=text)(function)


def terminals(texts: Sequence[str]) -> tuple[tuple[str, str], ...]:
    """Terminals as a file writes them.

    Raises
    ------
    click.UsageError
        For a text that is none.
    """
    found = [text.partition(".") for text in texts]
    for text, (name, _, lead) in zip(texts, found, strict=True):
        if not name or lead not in ("start", "finish"):
            raise click.UsageError(f"--link-lead: got '{text}'; allowed: a coil's lead, such as neck.finish")
    return tuple((name, lead) for name, _, lead in found)


@contextlib.contextmanager
def told() -> Iterator[None]:
    """Tell an InputError of a file on standard error; exit status 1."""
    try:
        yield
    except InputError as error:
        for problem in error.problems:
            click.echo(str(problem), err=True)
        raise SystemExit(1) from error


@contextlib.contextmanager
def as_usage() -> Iterator[None]:
    """Turn an InputError of an option into wrong usage, exit status 2."""
    try:
        yield
    except InputError as error:
        raise click.UsageError("; ".join(str(problem) for problem in error.problems)) from error


@contextlib.contextmanager
def shown(label: str) -> Iterator[Callable[[float], None]]:
    """A bar on a terminal; takes the share of work done, 0 to 1."""
    if not sys.stderr.isatty():
        yield lambda share: None
        return
    with click.progressbar(length=1000, label=label, file=sys.stderr) as bar:
        yield lambda share: bar.update(round(1000 * share) - bar.pos)


def columns() -> int:
    """Width of the terminal, in characters."""
    return shutil.get_terminal_size().columns


def load(path: Path) -> Wiring:
    """A wiring file, or its problems told."""
    from server.wirings.text import load_wiring

    with told():
        return load_wiring(path)


def settings_of(wiring: Wiring, position: str, stands: Sequence[str]) -> list[Setting]:
    """The settings that --position and --set ask for.

    Raises
    ------
    click.UsageError
        For an option that cannot be read or names what the wiring does not have.
    """
    knobs: dict[str, float] = {}
    switches: dict[str, str] = {}
    for stand in stands:
        name, equals, value = (part.strip() for part in stand.partition("="))
        if not equals:
            raise click.UsageError(f"--set: got '{stand}'; allowed: NAME=VALUE, such as volume=7")
        if name == wiring.selector or (name == "position" and name not in wiring.parts):
            raise click.UsageError(f"--set: got '{stand}'; allowed for the selector: --position {value}")
        if name in wiring.switches:
            switches[name] = value
        else:
            knobs[name] = _knob(name, value)
    positions = wiring.positions if position == "all" else (position,)
    with as_usage():
        return [wiring.setting(one, knobs, switches) for one in positions]


def _knob(name: str, value: str) -> float:
    number = number_of(value)
    if number is None:
        raise click.UsageError(f"--set {name}: got '{value}'; allowed: {KNOB_ALLOWED}")
    return number


def number_of(text: str) -> float | None:
    """A finite number, or None."""
    try:
        number = float(text)
    except ValueError:
        return None
    return number if math.isfinite(number) else None


def stands_of(setting: Setting) -> dict[str, float | str]:
    """Every knob and switch of a setting by name, as JSON shows them."""
    return {**setting.knobs, **setting.switches}
