"""The `presolder` command; a sub-command is imported when it is called."""

from __future__ import annotations

import importlib
import io
import os
import sys
from typing import Any

import click

# Our matrices are small: more threads of the linear algebra library only slow one another down.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

COMMANDS: dict[str, tuple[str, str]] = {
    "demo": ("server.commands.demo", "Start the page on the demo's commissions and open it."),
    "serve": ("server.commands.serve", "Start the page on your own wirings."),
    "nginx": ("server.commands.nginx", "Print a web server's site for the customers' pages."),
    "check": ("server.commands.check", "Find what is wrong or worth knowing before you solder."),
    "response": ("server.commands.response", "Print or plot what each position does to the signal."),
    "render": ("server.commands.render", "Make clips of a take through a wiring's positions and settings."),
    "listing": ("server.commands.listing", "Make the clips, covers and pages of a whole catalogue."),
    "takes": ("server.commands.takes", "List takes: length, kind, whether coil places are modelled."),
    "stems": ("server.commands.stems", "Write the signal that a take induces in every coil."),
    "range": (
        "server.commands.range",
        "Find the positions that differ most, of all that the coils can make.",
    ),
    "travel": (
        "server.commands.travel",
        "Measure how evenly each knob changes the sound; suggest parts.",
    ),
    "pair": ("server.commands.pair", "Tell how one knob changes what another does: volume and tone."),
    "lugs": ("server.commands.lugs", "Wire a sketch on a real switch: which lead goes to which lug."),
    "new": ("server.commands.new", "Write a new wiring from words: pickups, controls, switch, sounds."),
    "draw": ("server.commands.draw", "Draw a wiring: parts, lugs and every wire."),
    "bundle": (
        "server.commands.bundle",
        "Save a proposal as one file to send, or a folder for a web host.",
    ),
    "sheet": ("server.commands.sheet", "Print what to solder a wiring by: steps, parts, readings, checks."),
    "facts": ("server.commands.facts", "Print level, resonances, hum, noise and meter reading per position."),
    "rig": ("server.commands.rig", "Tell how a coil's impedance is read, and write the tone to play."),
    "coil": (
        "server.commands.coil",
        "Find a coil's values from its impedance, and write them into a wiring.",
    ),
    "coils": ("server.commands.coils", "List, print, rename or remove the coils that you measured."),
    "expect": (
        "server.commands.expect",
        "Tell what the finished guitar reads at its jack, and within which bands.",
    ),
    "jack": ("server.commands.jack", "Pass or fail what was read at the finished guitar's jack."),
    "built": ("server.commands.built", "List the finished guitars of the workshop's record."),
    "fault": ("server.commands.fault", "Rank the faults that explain readings; name the next to take."),
    "spread": ("server.commands.spread", "Build a wiring many times by tolerance; tell what differs."),
    "verify": ("server.commands.verify", "Hold recordings of the finished guitar to what was proposed."),
    "sensitivity": (
        "server.commands.sensitivity",
        "Find how sensitive coils are, from plucked strings or by an exciter.",
    ),
    "netlist": ("server.commands.netlist", "Write one setting as a SPICE netlist, to check the computation."),
    "parts": ("server.commands.parts", "List generic parts, and every field that a part may have."),
    "set": ("server.commands.set", "Change values in a wiring file and keep its comments."),
    "examples": ("server.commands.examples", "Copy the demo's wirings and takes into a folder."),
    "schema": ("server.commands.schema", "Print the JSON Schema of the wiring file, for editors."),
}
"""Every sub-command: its module and its purpose."""

EPILOG = """\b
Examples:
  presolder check baritone.yaml
  presolder response baritone.yaml --position 1 --set volume=7 --svg response.svg
  presolder render baritone.yaml --take e_slide.yaml --out clips
"""


class _Commands(click.Group):
    """A group whose members are imported one at a time."""

    def main(self, *args: Any, **extra: Any) -> Any:
        """Run a command; a disk that is full or gone ends it with one sentence."""
        try:
            return super().main(*args, **extra)
        except OSError as error:
            from server.files.whole import discard_output

            discard_output(sys.stdout)
            where = f"{error.filename}: " if error.filename else "the output: "
            allowed = "allowed: a file or disk that can be read and written"
            click.echo(f"Error: {where}{error.strerror or error}; {allowed}", err=True)
            sys.exit(1)

    def invoke(self, ctx: click.Context) -> Any:
        """Run a command and write the last of its output, so that a full disk is noticed."""
        found = super().invoke(ctx)
        sys.stdout.flush()
        return found

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

    A wiring file says what is soldered to what. These commands check it, compute what each
    selector position and knob setting does, and render clips through it.
    """
    # A file's name that is not UTF-8 is printed with its odd bytes as \\udcXX.
    if isinstance(sys.stdout, io.TextIOWrapper):
        sys.stdout.reconfigure(errors="backslashreplace")
