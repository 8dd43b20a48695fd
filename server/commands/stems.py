"""`presolder stems`: the signal a take induces in every coil."""

from __future__ import annotations

from pathlib import Path

import click

from server.commands import common

RATES = ("44100", "48000", "96000")
EPILOG = """\b
Examples:
  presolder stems lead_line.yaml baritone.yaml --out stems
  presolder stems lead_line.yaml lead.wav --wiring baritone.yaml

The file has a channel per coil, in volts: 24-bit FLAC for up to 8 channels within 1 V, otherwise
floating-point WAV. The take file beside it plays the stems through any wiring with coils of the same names.
"""


@click.command(epilog=EPILOG)
@click.argument("take", type=common.EXISTING)
@click.argument("file", type=common.EXISTING)
@click.option("--wiring", type=common.EXISTING, help="The wiring, if FILE is the sound file to write.")
@click.option(
    "--out",
    type=common.EXISTING,
    default=".",
    metavar="DIR",
    help="Folder to write to, if FILE is a wiring.",
)
@click.option(
    "--rate", type=click.Choice(RATES), default="48000", show_default=True, help="Samples a second."
)
def command(take: Path, file: Path, wiring: Path | None, out: Path, rate: str) -> None:
    """Write the signal that TAKE induces in every coil of a wiring.

    FILE is the wiring. Or it ends in .flac or .wav: then it is the sound file to write, and --wiring
    names the wiring.
    """
    from server.clips.stems import write_stems
    from server.takes.load import load_take

    is_sound = file.suffix.lower() in (".flac", ".wav")
    if is_sound and wiring is None:
        raise click.UsageError("--wiring: got none; allowed: the wiring file whose coils sense the take")
    if not is_sound and wiring is not None:
        raise click.UsageError(f"FILE: got '{file}' beside --wiring; allowed: a name ending in .flac or .wav")
    listening = common.load(file if wiring is None else wiring)
    with common.report_errors():
        performance = load_take(take)
        for text in (*performance.warnings, *performance.notes(listening)):
            click.echo(f"note: {text}", err=True)
        with common.show_progress(take.name) as progress:
            written = write_stems(
                performance, listening, file if is_sound else out, int(rate), progress=progress
            )
    peaks = ", ".join(
        f"{name} {1e3 * peak:.0f} mV" for name, peak in zip(written.coils, written.peaks_v, strict=True)
    )
    click.echo(f"{written.path}  {written.seconds:.1f} s, peaks: {peaks}")
    click.echo(f"{written.take_path}  take file for it")
    click.echo(f"coil places: {performance.coil_places(listening)}", err=True)
