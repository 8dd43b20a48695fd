"""`presolder netlist`: one setting as a SPICE netlist."""

from __future__ import annotations

from pathlib import Path

import click

from dsp.circuit.netlist import netlist
from server.commands import common
from server.files.whole import write_text

EPILOG = """\b
Example:
  presolder netlist baritone.yaml --position 3 --set tone=2 --coil neck_a > check.cir
  ngspice -b check.cir
"""


@click.command(epilog=EPILOG)
@click.argument("file", type=common.EXISTING)
@click.option("--position", "-p", metavar="N", help="Selector position; the first unless given.")
@common.set_option
@click.option("--coil", help="Coil with an EMF of 1 V, all others 0 V; the first unless given.")
@click.option("--out", type=common.EXISTING, metavar="FILE", help="Write a file instead of printing.")
def command(
    file: Path, position: str | None, controls: tuple[str, ...], coil: str | None, out: Path | None
) -> None:
    """Write one setting as a SPICE netlist; V(out) is the coil's response."""
    if position == "all":
        raise click.UsageError("--position: got 'all'; allowed: one position")
    wiring = common.load(file)
    setting = common.settings_of(wiring, position or wiring.positions[0], controls)[0]
    with common.report_wrong_usage():
        text = netlist(wiring, setting, coil=coil)
    if out is None:
        click.echo(text, nl=False)
    else:
        with common.report_errors():
            write_text(out, text)
