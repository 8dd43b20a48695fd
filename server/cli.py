"""The `presolder` command. Sub-commands are loaded when they are called, not before."""

from __future__ import annotations

import importlib
import io
import os
import sys

import click

# Our matrices are small: threads of the linear algebra library only get in one another's way.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

COMMANDS: dict[str, tuple[str, str]] = {
    "demo": ("server.commands.demo", "Start the page on the demo's commissions, and open it."),
    "serve": ("server.commands.serve", "Start the page on your own wirings."),
    "check": ("server.commands.check", "What a technician should know of a wiring before soldering."),
    "response": ("server.commands.response", "What each position does to the signal: numbers or a plot."),
    "render": ("server.commands.render", "Clips of a take through a wiring's positions and settings."),
    "listing": ("server.commands.listing", "Clips, covers and pages of a whole catalogue, unattended."),
    "takes": (
        "server.commands.takes",
        "The takes there are: length, kind, what is heard of the coils' places.",
    ),
    "stems": ("server.commands.stems", "The signal a take induces in every coil, as one sound file."),
    "range": ("server.commands.range", "The positions that differ most, from all the networks of the coils."),
    "travel": ("server.commands.travel", "How evenly each knob changes the sound, and what would help."),
    "lugs": (
        "server.commands.lugs",
        "A sketch's positions on a real switch: what goes to which lug, verified.",
    ),
    "facts": ("server.commands.facts", "Per position: resonances, hum, noise, the reading at the jack."),
    "netlist": ("server.commands.netlist", "One setting as a SPICE netlist, to check the computation."),
    "parts": ("server.commands.parts", "The library of generic parts, and what a part may say."),
    "set": ("server.commands.set", "Change values in a wiring file, its comments kept."),
    "examples": ("server.commands.examples", "Copy the demo's wirings and take into a folder."),
    "schema": ("server.commands.schema", "The JSON Schema of the wiring file, for editors."),
}
"""Every sub-command: where it lives and what it is for."""

EPILOG = """\b
Examples:
  presolder check baritone.yaml
  presolder response baritone.yaml --position 1 --set volume=7 --svg response.svg
  presolder render baritone.yaml --take e_slide.yaml --out clips
"""


class _Commands(click.Group):
    """A group whose members are imported one at a time."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        command: click.Command = importlib.import_module(COMMANDS[cmd_name][0]).command
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl([(name, about) for name, (_, about) in COMMANDS.items()])

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        from dsp.errors import nearest

        if args and args[0] not in COMMANDS and not args[0].startswith("-"):
            hint = nearest(args[0], COMMANDS)
            raise click.UsageError(f"no command '{args[0]}'; {hint or 'see presolder --help'}", ctx)
        return super().resolve_command(ctx, args)


@click.group(
    name="presolder", cls=_Commands, epilog=EPILOG, context_settings={"help_option_names": ["-h", "--help"]}
)
@click.version_option(package_name="presolder")
def main() -> None:
    """Hear a guitar's wiring before it is soldered.

    A wiring file says what is soldered to what; these commands check it, compute what each
    selector position and knob setting does, and render clips through it.
    """
    # A file's name may be no UTF-8; it is then printed with its odd bytes as \\udcXX.
    if isinstance(sys.stdout, io.TextIOWrapper):
        sys.stdout.reconfigure(errors="backslashreplace")
