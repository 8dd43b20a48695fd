"""`presolder rig`: how to read a coil's impedance, and the tone to play."""

from __future__ import annotations

from pathlib import Path

import click

from server.commands import common

EPILOG = """\b
Examples:
  presolder rig                  what you need and what to do
  presolder rig --tone rig       write the tone, and these words beside it
  presolder rig --exciter        a winding over one coil of a finished guitar: signs and shares
"""


@click.command(epilog=EPILOG)
@click.option(
    "--tone", type=common.EXISTING, metavar="DIR", help="Write the tone and these words to a folder."
)
@click.option(
    "--rate",
    type=click.Choice(("44100", "48000", "96000")),
    default="48000",
    show_default=True,
    help="Samples a second.",
)
@click.option(
    "--seconds", type=click.IntRange(4, 60), default=10, show_default=True, help="Length of the tone."
)
@click.option("--exciter", is_flag=True, help="Tell of the exciter instead; with --tone beside the tone too.")
def command(tone: Path | None, rate: str, seconds: int, exciter: bool) -> None:
    """Tell how a coil's impedance is read with an audio interface."""
    from server.measurements.rig import exciter_words, words, write_rig

    click.echo("\n".join(exciter_words() if exciter else words()))
    if tone is not None:
        with common.report_errors():
            written = write_rig(tone, int(rate), seconds, exciter=exciter)
        click.echo("")
        for path in written:
            click.echo(str(path))
