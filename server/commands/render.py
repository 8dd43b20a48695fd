"""`presolder render`: clips of takes through wirings."""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import click

from dsp.chain.ways import CAUTION, DIRECT, WAYS, Way
from dsp.errors import InputError
from dsp.sound.hum import ROOMS, Hum, read_hum
from dsp.sound.limiter import MOST_DB
from dsp.sound.movement import Flip, Sweep, steps_of
from dsp.takes.performance import Performance
from dsp.wiring.model import Setting, Wiring
from server.clips.cabinet import CabinetFile, load_cabinet
from server.clips.plan import ClipPlan, plan_clip
from server.clips.render import RenderOptions, render_set
from server.commands import common
from server.files.audio_out import FORMATS, Encoding
from server.takes.load import load_take

RATES = ("44100", "48000", "96000")
HELP = {
    "take": "A take file, or a sound file as a recording of a flat sensor; repeatable.",
    "sweep": "Move a knob from A to B over the clip, or between two times in seconds.",
    "flip": "Set a switch (the selector is called position) or a jack's plug to N at T seconds.",
    "format": "Format of the clips; wav unless given; repeatable.",
    "through": "How it is heard: " + "; ".join(f"{way.name}, {way.about}" for way in WAYS.values()) + ".",
    "loudness": "Integrated loudness to match (ITU-R BS.1770), or as-wired: keep true levels.",
    "cabinet": "An impulse response (WAV or another sound file) in place of the loudspeaker of --through.",
    "hum": "Add the hum of a room: "
    + "; ".join(f"{name}, {room.about} ({1e6 * room.tesla:g} µT)" for name, room in ROOMS.items())
    + ". 50 Hz mains unless 60 Hz is given; equal for all positions.",
    "limit": "With --loudness: a limiter makes room, by at most "
    f"{MOST_DB:g} dB; where that is not enough, all clips come down together.",
}
EPILOG = f"""\b
Examples:
  presolder render baritone.yaml --take e_slide.yaml --out clips
      every position as wired: 32-bit float volts
  presolder render baritone.yaml --take e_slide.yaml -p 1 --sweep tone=10:0 --out clips
  presolder render wirings/*.yaml --take riff.yaml --format flac --format mp3 --loudness -18 --out clips
  presolder render baritone.yaml --take e_slide.yaml -p 1 --flip position=5@2.0 --out clips
  presolder render baritone.yaml --take e_slide.yaml --through driven --loudness -18 --out clips
  presolder render baritone.yaml --take e_slide.yaml --through clean --loudness -16 --limit --out clips
  presolder render baritone.yaml --take e_slide.yaml --through clean --cabinet cabinet.wav --out clips
  presolder render baritone.yaml --take e_slide.yaml --hum "stage,60 Hz" --out clips
  presolder render two_jacks.yaml --take e_slide.yaml --flip second=in@2.0 --out clips
      at 2 s a plug goes into the jack named second, with another cable and amplifier behind it

Hearing: clips can be loud. {CAUTION}
"""


@dataclass(frozen=True)
class _Heard:
    """How all clips are heard."""

    way: Way
    limited: bool
    hum: Hum | None
    cabinet: CabinetFile | None


@click.command(epilog=EPILOG)
@click.argument("files", nargs=-1, required=True, type=common.EXISTING, metavar="FILE...")
@click.option("--take", "takes", multiple=True, required=True, type=common.EXISTING, help=HELP["take"])
@common.position_option
@common.set_option
@click.option("--sweep", "sweeps", multiple=True, metavar="KNOB=A:B[@T-T]", help=HELP["sweep"])
@click.option("--flip", "flips", multiple=True, metavar="SWITCH=N@T", help=HELP["flip"])
@click.option(
    "--rate", type=click.Choice(RATES), default="48000", show_default=True, help="Samples a second."
)
@click.option("--format", "formats", multiple=True, type=click.Choice(list(FORMATS)), help=HELP["format"])
@click.option(
    "--depth",
    type=click.Choice(["16", "24", "float"]),
    help="Of wav (default float) and flac (24).",
)
@click.option(
    "--loudness", default="as-wired", show_default=True, metavar="LUFS|as-wired", help=HELP["loudness"]
)
@click.option("--limit", is_flag=True, help=HELP["limit"])
@click.option(
    "--through", type=click.Choice(list(WAYS)), default=DIRECT.name, show_default=True, help=HELP["through"]
)
@click.option("--cabinet", type=common.EXISTING, metavar="FILE", help=HELP["cabinet"])
@click.option("--hum", "hum", metavar="ROOM[,60 Hz]", help=HELP["hum"])
@click.option("--out", required=True, type=common.EXISTING, metavar="DIR", help="Folder for the clips.")
@click.option("--json", "as_json", is_flag=True, help="Print the list of clips as JSON.")
def command(
    files: tuple[Path, ...],
    takes: tuple[Path, ...],
    position: str,
    controls: tuple[str, ...],
    sweeps: tuple[str, ...],
    flips: tuple[str, ...],
    rate: str,
    formats: tuple[str, ...],
    depth: str | None,
    loudness: str,
    limit: bool,
    through: str,
    cabinet: Path | None,
    hum: str | None,
    out: Path,
    as_json: bool,
) -> None:
    """Make clips of every take through every wiring, one per position.

    clips.json beside them lists the settings, levels and filter errors of each.
    """
    with common.report_wrong_usage():
        options = RenderOptions(int(rate), _encodings(formats, depth), _parse_loudness(loudness))
    if limit and options.loudness_lufs is None:
        raise click.UsageError(
            "--limit: got --loudness as-wired; allowed: --loudness with a number, such as -16"
        )
    moved = [_parse_sweep(text) for text in sweeps], [_parse_flip(text) for text in flips]
    wirings = [common.load(file) for file in files]
    with common.report_errors():
        performances = [load_take(take) for take in takes]
    heard = _Heard(
        WAYS[through], limit, _parse_hum(hum), _load_cabinet(cabinet, WAYS[through], options.rate_hz)
    )
    plans = [
        _plan(wiring, performance, setting, *moved, heard=heard, rate_hz=options.rate_hz)
        for wiring in wirings
        for setting in common.settings_of(wiring, position, controls)
        for performance in performances
    ]
    _prepare(plans, options.rate_hz)
    entries = _render(plans, out, options)
    if as_json:
        click.echo(json.dumps({"clips": entries}, indent=1, ensure_ascii=False))
    else:
        _print(entries, out)


def _encodings(formats: Sequence[str], depth: str | None) -> tuple[Encoding, ...]:
    """Encodings from --format, each once; a depth goes to those that have one.

    Raises
    ------
    InputError
        For a depth that a format cannot hold.
    """
    plain = [Encoding(name) for name in dict.fromkeys(formats)] or [Encoding()]
    if depth and all(one.lossy for one in plain):
        _note(f"--depth {depth} has no effect: {' and '.join(one.format for one in plain)} have no depth")
    return tuple(one if one.lossy or not depth else Encoding(one.format, depth) for one in plain)


def _parse_loudness(text: str) -> float | None:
    if text == "as-wired":
        return None
    value = common.parse_number(text)
    if value is None or not -60.0 <= value <= 0.0:
        raise click.UsageError(f"--loudness: got '{text}'; allowed: as-wired, or -60 to 0 LUFS")
    return value


def _load_cabinet(path: Path | None, way: Way, rate_hz: int) -> CabinetFile | None:
    """Read --cabinet, and say what was done to its file."""
    if path is None:
        return None
    if not way.amplified:
        allowed = ", ".join(one.name for one in WAYS.values() if one.amplified)
        raise click.UsageError(f"--cabinet: got --through {way.name}; allowed: --through {allowed}")
    with common.report_errors():
        found = load_cabinet(path, rate_hz)
    for text in found.notes:
        _note(text)
    return found


def _parse_hum(text: str | None) -> Hum | None:
    """Read ROOM[,60 Hz]."""
    if text is None:
        return None
    try:
        return read_hum(text)
    except InputError as error:
        (problem,) = error.problems
        raise click.UsageError(f"--hum: got {problem.got}; allowed: {problem.allowed}") from error


def _parse_sweep(text: str) -> Sweep:
    """Read KNOB=A:B[@T-T]."""
    name, _, values = text.partition("=")
    span, at, times = values.partition("@")
    numbers = [common.parse_number(part) for part in span.split(":")]
    when = [common.parse_number(part) for part in times.split("-")] if at else [None, None]
    if len(numbers) != 2 or None in numbers or len(when) != 2 or (at and None in when):
        allowed = "KNOB=A:B or KNOB=A:B@FROM-TO, such as tone=10:0@1-3"
        raise click.UsageError(f"--sweep: got '{text}'; allowed: {allowed}")
    start, end = (number for number in numbers if number is not None)
    return Sweep(name.strip(), start, end, when[0], when[1])


def _parse_flip(text: str) -> Flip:
    """Read SWITCH=N@T."""
    name, equals, rest = text.partition("=")
    position, _, time = rest.rpartition("@")
    at_s = common.parse_number(time)
    if not equals or not position or at_s is None:
        raise click.UsageError(f"--flip: got '{text}'; allowed: SWITCH=N@SECONDS, such as position=5@2.0")
    switch = None if name.strip() == "position" else name.strip()
    return Flip(at_s, position, switch)


def _plan(
    wiring: Wiring,
    performance: Performance,
    setting: Setting,
    sweeps: Sequence[Sweep],
    flips: Sequence[Flip],
    *,
    heard: _Heard,
    rate_hz: int,
) -> ClipPlan:
    """Plan a clip and try its movements, so that a slip is reported before any work."""
    with common.report_wrong_usage():
        steps_of(wiring, setting, sweeps, flips, n_samples=performance.frames(rate_hz), rate_hz=rate_hz)
    return plan_clip(
        wiring,
        performance,
        setting,
        sweeps,
        flips,
        way=heard.way,
        limited=heard.limited,
        hum=heard.hum,
        cabinet=heard.cabinet,
    )


def _prepare(plans: Sequence[ClipPlan], rate_hz: int) -> None:
    """Play or track every take once for every wiring, with a bar."""
    pairs = {(plan.wiring.file, plan.performance.take.file): plan for plan in plans}
    for plan in pairs.values():
        with common.report_errors(), common.show_progress(plan.performance.name) as progress:
            plan.performance.prepare(plan.wiring, rate_hz, progress=progress)


def _render(plans: Sequence[ClipPlan], out: Path, options: RenderOptions) -> list[dict[str, Any]]:
    """Render with a bar on standard error."""
    seconds = sum(plan.performance.seconds for plan in plans)
    label = f"{len(plans)} clip{'s' if len(plans) != 1 else ''}"
    length = max(round(100 * seconds), 1)
    notes: list[str] = []
    try:
        with click.progressbar(length=length, label=label, file=sys.stderr) as shown, common.report_errors():
            return render_set(
                plans, out, options, progress=lambda s: shown.update(round(100 * s)), note=notes.append
            )
    finally:
        for text in notes:
            _note(text)


def _print(entries: Sequence[dict[str, Any]], out: Path) -> None:
    for entry in entries:
        loudness = "silent" if entry["loudness_lufs"] is None else f"{entry['loudness_lufs']:.1f} LUFS"
        peak = "" if entry["true_peak_dbtp"] is None else f", peak {entry['true_peak_dbtp']:.1f} dBTP"
        limited = f", limited by {entry['limited_db']:.1f} dB" if entry["limited_db"] else ""
        click.echo(f"{out / entry['file']}  {loudness}{peak}{limited}")
    silent = dict.fromkeys(name for entry in entries for name in entry["silent_coils"])
    if silent:
        _note(f"silent, because the take has no channel for them: {', '.join(silent)}")
    for text in dict.fromkeys(warning for entry in entries for warning in entry["warnings"]):
        _note(text)
    places = {entry["coil_places"] for entry in entries}
    click.echo(f"coil places: {'; '.join(sorted(places))}", err=True)


def _note(text: str) -> None:
    """Print a note on standard error."""
    click.echo(f"note: {text}", err=True)
