"""`presolder sensitivity`: how sensitive coils are, from plucked strings, or wound, by an exciter."""

from __future__ import annotations

import datetime
import json
from pathlib import Path
from typing import TYPE_CHECKING

import click

from server.commands import common
from server.commands.verify import load_at_input, read_chord, split_recording

if TYPE_CHECKING:
    from dsp.wiring.model import Wiring

EPILOG = """\b
Examples:
  presolder sensitivity twelve.yaml                             what to record
  presolder sensitivity twelve.yaml n6.wav=1:6 both6.wav=2:6 b6.wav=3:6 n1.wav=1:1 both1.wav=2:1 b1.wav=3:1
  presolder sensitivity twelve.yaml n6.wav=1:6 both6.wav=2:6 b6.wav=3:6 --hand pick --out twelve.yaml
  presolder sensitivity twelve.yaml --exciter over.csv
  presolder sensitivity twelve.yaml --exciter over.csv --blade neck=+ --blade bridge=+

A string is a number after a colon, 1 is the highest; without one the chord was strummed. What hand, string
and gain have in common is divided out, so each coil is compared with another. Knobs not named are at 10.

The table of --exciter has the head coil,string,setting,recording: the exciter lay over that coil, or over the
pole of that string; the recording lies beside the table, input 1 across the 100 Ω, input 2 at the jack. It
tells turns and place, not the magnet. --blade adds the sign of a blade's pulse, and so the magnet.

Exits with 1 if it finds no value, or if coils sound together or are wound otherwise than the file says.
"""


@click.command(epilog=EPILOG)
@click.argument("file", type=common.EXISTING)
@click.argument("recordings", nargs=-1, metavar="[RECORDING=SETTING[:STRING]...]")
@click.option("--reference", metavar="COIL", help="The coil that keeps its values; the most heard if none.")
@click.option(
    "--hand",
    metavar="WORD",
    default="pick",
    show_default=True,
    help="What plucked the strings: thin pick, pick, thick pick, finger or thumb.",
)
@click.option("--frets", metavar="FRETS", help="The chord of strums, lowest string first; open unless given.")
@click.option("--cable", metavar="LENGTH", help="Length of the cable; the wiring's unless given.")
@click.option(
    "--input", "input_ohm", metavar="OHMS", help="Resistance of the input; the wiring's unless given."
)
@click.option("--input-capacitance", "input_f", metavar="FARAD", help="Capacitance of the input.")
@click.option(
    "--exciter", "table", type=common.EXISTING, metavar="TABLE", help="Recordings under an exciter instead."
)
@click.option(
    "--sides",
    type=click.Choice(("kept", "free")),
    default="kept",
    show_default=True,
    help="Exciter: whether the same side faced every coil.",
)
@click.option(
    "--blade", "blades", multiple=True, metavar="COIL=SIGN", help="Exciter: a blade's pulse there, + or -."
)
@click.option("--like-magnets", is_flag=True, help="Exciter: the coils' magnets are alike; --out needs it.")
@click.option("--out", type=common.EXISTING, metavar="WIRING", help="Write the values into this wiring.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def command(
    file: Path,
    recordings: tuple[str, ...],
    reference: str | None,
    hand: str,
    frets: str | None,
    cable: str | None,
    input_ohm: str | None,
    input_f: str | None,
    table: Path | None,
    sides: str,
    blades: tuple[str, ...],
    like_magnets: bool,
    out: Path | None,
    as_json: bool,
) -> None:
    """Find how sensitive coils are, from plucked strings or by an exciter.

    Sensitivity and balance per string against a reference coil, polarity, and how sure they are.
    """
    from dsp.strings.pluck import HANDS
    from server.verifying import sensitivity as found_in
    from server.verifying.recordings import read_recording

    wiring = load_at_input(common.load(file), cable, input_ohm, input_f)
    sensing = [name for name, coil in wiring.coils.items() if not coil.dummy]
    if len(sensing) < (2 if table is None else 1):
        raise click.UsageError(f"{file}: {len(sensing)} coils hear strings; allowed: two or more")
    if reference is not None and reference not in sensing:
        raise click.UsageError(f"--reference: got '{reference}'; allowed: {', '.join(sensing)}")
    if table is None and (blades or like_magnets or sides == "free"):
        raise click.UsageError("--blade, --like-magnets, --sides: allowed with --exciter TABLE")
    if table is not None:
        if recordings or frets is not None:
            raise click.UsageError("--exciter: allowed without plucked recordings and --frets")
        if out is not None and not like_magnets:
            raise click.UsageError(
                "--out: an exciter hears no magnet; allowed with --like-magnets, or by plucked strings"
            )
        _excited(wiring, table, reference, sides == "kept", blades, out, as_json)
        return
    if hand not in HANDS:
        raise click.UsageError(f"--hand: got '{hand}'; allowed: {', '.join(HANDS)}")
    with common.report_wrong_usage():
        chord = read_chord(wiring, frets)
    if not recordings:
        _plan(wiring, as_json)
        return
    pairs = [split_recording(one) for one in recordings]
    with common.report_errors():
        if out is not None:
            found_in.check_target(out, wiring)
        plucks = [found_in.read_plucks(wiring, text, name) for name, text in pairs]
        heard = [read_recording(Path(name), name) for name, _ in pairs]
        levels, strums, found = found_in.find_in_recordings(
            wiring, heard, plucks, chord, reference=reference, hand=hand
        )
        record = found_in.sensitivity_record(wiring, heard, plucks, strums, levels, found)
        if out is not None:
            count = found_in.write_sensitivities(out, record, datetime.date.today())
            record["notes"].append(f"{count} coil{'s' * (count != 1)} written into {out}.")
    if as_json:
        click.echo(json.dumps(record, indent=1, ensure_ascii=False))
    else:
        click.echo("\n".join(found_in.sensitivity_lines(record)))
    told = any(one["told"] for one in record["coils"])
    otherwise = any(one["heard"] not in (None, one["wired"]) for one in record["polarities"])
    raise SystemExit(1 if otherwise or not told else 0)


def _excited(
    wiring: Wiring,
    table: Path,
    reference: str | None,
    sides_kept: bool,
    blades: tuple[str, ...],
    out: Path | None,
    as_json: bool,
) -> None:
    """Find how coils are wound, by the recordings of a table."""
    from server.verifying import excited
    from server.verifying.sensitivity import check_target, write_sensitivities

    with common.report_wrong_usage():
        pulses = dict(excited.read_blade(wiring, one) for one in blades)
    with common.report_errors():
        if out is not None:
            check_target(out, wiring)
        rows, found = excited.load_windings(wiring, table, reference=reference, sides_kept=sides_kept)
        record = excited.windings_record(wiring, rows, found, pulses, sides_kept=sides_kept)
        if out is not None:
            count = write_sensitivities(out, record, datetime.date.today(), excited.METHOD)
            record["notes"].append(f"{count} coil{'s' * (count != 1)} written into {out}.")
    if as_json:
        click.echo(json.dumps(record, indent=1, ensure_ascii=False))
    else:
        click.echo("\n".join(excited.windings_lines(record)))
    raise SystemExit(0 if excited.is_as_filed(record) else 1)


def _plan(wiring: Wiring, as_json: bool) -> None:
    """Print what to record."""
    from dsp.checking.points import setting_text
    from server.measurements.rig import EXCITER_CAUTIONS
    from server.verifying.excited import EXCITER_STEPS, plan_laying
    from server.verifying.sensitivity import AGAIN, STEPS, settings_to_pluck
    from server.verifying.verdict import CAUTIONS

    steps = [*STEPS, AGAIN]
    texts = [setting_text(wiring, one) for one in settings_to_pluck(wiring)]
    laid = [(one.coil, setting_text(wiring, one.setting)) for one in plan_laying(wiring)]
    if as_json:
        over = [{"coil": coil, "setting": text} for coil, text in laid]
        plan = {"cautions": CAUTIONS, "steps": steps, "settings": texts}
        told = {"cautions": EXCITER_CAUTIONS, "steps": EXCITER_STEPS, "coils": over}
        click.echo(json.dumps({**plan, "exciter": told}, ensure_ascii=False))
        return
    heed = list(dict.fromkeys((*CAUTIONS, *EXCITER_CAUTIONS)))
    click.echo("\n".join(["Heed:", *(f"  {one}" for one in heed), "", *steps, ""]))
    click.echo("\n".join(f"  {text}" for text in texts))
    click.echo("\n".join(["", *EXCITER_STEPS, "", *(f"  over {coil} at {text}" for coil, text in laid)]))
