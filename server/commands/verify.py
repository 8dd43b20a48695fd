"""`presolder verify`: does the finished guitar sound as proposed."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

import click

from server.commands import common

if TYPE_CHECKING:
    from dsp.wiring.model import Wiring

EPILOG = """\b
Examples:
  presolder verify twelve.yaml                                  what to record
  presolder verify twelve.yaml neck.wav=1 both.wav=2 bridge.wav=3 dark.wav="1 tone=0"
  presolder verify twelve.yaml neck.wav=1 bridge.wav=3 --some --cable "3 m" --input 1M

Strum one chord several times in every position. The player's hands, the strings and the gain are divided out:
the positions are compared with one another. Knobs not named are at 10. A tone capacitor is heard only with
the tone knob down. Exits with 1 unless the guitar sounds as proposed.
"""


@click.command(epilog=EPILOG)
@click.argument("file", type=common.EXISTING)
@click.argument("recordings", nargs=-1, metavar="[RECORDING=POSITION...]")
@click.option(
    "--frets", metavar="FRETS", help="The chord, lowest string first: 'x 3 2 0 1 0'; open unless given."
)
@click.option("--cable", metavar="LENGTH", help="Length of the cable; the wiring's unless given.")
@click.option(
    "--input", "input_ohm", metavar="OHMS", help="Resistance of the input; the wiring's unless given."
)
@click.option("--input-capacitance", "input_f", metavar="FARAD", help="Capacitance of the input.")
@click.option("--some", is_flag=True, help="Not every position was recorded.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def command(
    file: Path,
    recordings: tuple[str, ...],
    frets: str | None,
    cable: str | None,
    input_ohm: str | None,
    input_f: str | None,
    some: bool,
    as_json: bool,
) -> None:
    """Compare recordings of the finished guitar with what its wiring predicts.

    A verdict for every pair of positions and for the whole, with its uncertainty and the likely cause.
    """
    from dsp.checking.readings_text import read_setting
    from dsp.verifying.verdict import AS_PROPOSED
    from server.verifying import verdict as verdicts
    from server.verifying.recordings import read_recording

    wiring = load_at_input(common.load(file), cable, input_ohm, input_f)
    if not wiring.coils:
        raise click.UsageError(f"{file}: no coil; allowed: a wiring that sounds")
    with common.report_wrong_usage():
        chord = read_chord(wiring, frets)
    if not recordings:
        _plan(wiring, as_json)
        return
    pairs = [split_recording(one) for one in recordings]
    with common.report_errors():
        settings = [read_setting(wiring, text, name) for name, text in pairs]
        verdicts.check_settings(wiring, settings, [name for name, _ in pairs], some=some)
        heard = [read_recording(Path(name), name) for name, _ in pairs]
        prediction, strums, verdict = verdicts.verify_recordings(wiring, heard, settings, chord)
    record = verdicts.verdict_record(wiring, heard, strums, prediction, verdict)
    if as_json:
        click.echo(json.dumps(record, indent=1, ensure_ascii=False))
    else:
        click.echo("\n".join(verdicts.verdict_lines(record)))
    raise SystemExit(0 if record["verdict"] == AS_PROPOSED else 1)


def split_recording(text: str) -> tuple[str, str]:
    """Part a recording from its setting: at the sign after the file's name.

    Raises
    ------
    click.UsageError
        For a text without both.
    """
    cuts = [i for i, sign in enumerate(text) if sign == "="]
    cut = next((i for i in cuts if Path(text[:i]).is_file()), cuts[0] if cuts else 0)
    if not cut or not text[cut + 1 :].strip():
        raise click.UsageError(f"got '{text}'; allowed: RECORDING=POSITION, such as neck.wav=1")
    return text[:cut], text[cut + 1 :]


def load_at_input(wiring: Wiring, cable: str | None, input_ohm: str | None, input_f: str | None) -> Wiring:
    """Return a wiring whose load is that of the options."""
    from dsp.units import parse
    from dsp.verifying.expected import at_input

    load = wiring.load
    with common.report_wrong_usage():
        return at_input(
            wiring,
            cable_m=parse(cable, "length", "--cable") if cable else load.cable_length_m,
            input_ohm=parse(input_ohm, "resistance", "--input") if input_ohm else load.amplifier_ohm,
            input_f=parse(input_f, "capacitance", "--input-capacitance") if input_f else load.amplifier_f,
        )


def read_chord(wiring: Wiring, frets: str | None) -> tuple[int | None, ...] | None:
    """Return the chord of the option; None if it was not given."""
    from dsp.verifying.expected import read_frets

    return None if frets is None else read_frets(wiring, frets, "--frets")


def _plan(wiring: Wiring, as_json: bool) -> None:
    """Print what to record."""
    from dsp.checking.points import setting_text
    from server.verifying.verdict import CAUTIONS, STEPS, settings_to_record

    settings = settings_to_record(wiring)
    rows = [(setting_text(wiring, one), wiring.labels.get(one.position, "")) for one in settings]
    if as_json:
        found = [{"setting": text, "label": label} for text, label in rows]
        click.echo(json.dumps({"cautions": CAUTIONS, "steps": STEPS, "settings": found}, ensure_ascii=False))
        return
    click.echo("\n".join(["Heed:", *(f"  {one}" for one in CAUTIONS), "", *STEPS, ""]))
    click.echo("\n".join(f"  {text:<16}{label}".rstrip() for text, label in rows))
