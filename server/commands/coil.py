"""`presolder coil`: the values of a coil from its impedance."""

from __future__ import annotations

import contextlib
import datetime
import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from server.commands import common

if TYPE_CHECKING:
    from dsp.measuring.housing_fit import HousingFit
    from server.measurements.coil import Calibration, ReadCoil

EPILOG = """\b
Examples:
  presolder coil bridge.wav --open open.wav --short short.wav --known known.wav=99.87k --dc 8.12k --at 22C
  presolder coil bridge.csv --dc 8.12k --name bridge_a --out baritone.yaml
  presolder coil --bridge 100=2.31H,8.2k --bridge 1k=2.28H,8.9k --bridge 10k=1.9H,41k --dc 8.12k
  presolder coil --peak 470p=4.1k --peak 2n2=2.3k --height 9 --dc 8.12k
  presolder coil a.csv b.csv both.csv --dc 4.1k --dc 4.25k
  presolder coil bridge.csv --dc 8.12k --keep our_bridge

A recording has two channels: 1 at the output, 2 at the coil. `presolder rig` tells how it is made.
A table has a head: freq, |z|, phase, or re, im, or ls, rs. A one-port Touchstone file is read too.
Three readings are two coils of one housing: each with the other open, then both in series.
"""


@click.command(epilog=EPILOG)
@click.argument("readings", nargs=-1, type=common.EXISTING, metavar="[READING...]")
@click.option(
    "--open", "opened", type=common.EXISTING, metavar="FILE", help="Recording with nothing at the rig."
)
@click.option(
    "--short", "shorted", type=common.EXISTING, metavar="FILE", help="Recording with the leads joined."
)
@click.option("--known", metavar="FILE=OHMS", help="Recording with a known resistor, and its value.")
@click.option(
    "--dc",
    "meters",
    multiple=True,
    metavar="OHMS",
    help="The meter's reading at the coil; twice for two coils.",
)
@click.option(
    "--at", metavar="TEMPERATURE", default="20C", show_default=True, help="Temperature of the coil, in °C."
)
@click.option("--turn", is_flag=True, help="A table counts phase the other way.")
@click.option(
    "--bridge", "bridges", multiple=True, metavar="HZ=LS[,RS]", help="A bridge's reading; repeatable."
)
@click.option(
    "--peak", "peaks", multiple=True, metavar="FARAD=HZ", help="Peak with a capacitor across; twice or more."
)
@click.option("--height", metavar="DB", help="Height of the first peak over the level at 100 Hz.")
@click.option(
    "--name", "names", multiple=True, metavar="COIL", help="The coil of the wiring; twice for two coils."
)
@click.option("--out", type=common.EXISTING, metavar="WIRING", help="Write the values into this wiring.")
@click.option(
    "--keep",
    multiple=True,
    metavar="NAME",
    help="Keep it among your own coils; twice for two coils. `presolder coils` lists them.",
)
@click.option(
    "--data",
    type=common.EXISTING,
    metavar="DIR",
    help="Folder that keeps it; the platform's own unless given.",
)
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def command(
    readings: tuple[Path, ...],
    opened: Path | None,
    shorted: Path | None,
    known: str | None,
    meters: tuple[str, ...],
    at: str,
    turn: bool,
    bridges: tuple[str, ...],
    peaks: tuple[str, ...],
    height: str | None,
    names: tuple[str, ...],
    out: Path | None,
    keep: tuple[str, ...],
    data: Path | None,
    as_json: bool,
) -> None:
    """Find a coil's values from what was read at its leads.

    Resistance, inductance, capacitance and eddy losses, with how sure they are.
    """
    sources = [bool(readings), bool(bridges), bool(peaks)]
    if sum(sources) != 1:
        raise click.UsageError("allowed: readings as files, or --bridge, or --peak")
    if len(readings) not in (0, 1, 3):
        raise click.UsageError(
            f"{len(readings)} readings; allowed: one, or three of two coils in one housing"
        )
    coils = 2 if len(readings) == 3 else 1
    dc_ohm = [_quantity(text, "resistance", "--dc") for text in meters]
    if len(dc_ohm) not in (0, coils):
        raise click.UsageError(f"--dc: got {len(dc_ohm)}; allowed: {coils}, one for each coil")
    if (out is None) != (not names) or (names and len(names) != coils):
        raise click.UsageError(f"--out takes {coils} --name, the coil of the wiring for each coil read")
    if len(keep) not in (0, coils):
        raise click.UsageError(f"--keep: got {len(keep)}; allowed: {coils}, one for each coil")
    from server.measurements.coil import parse_celsius

    with common.report_wrong_usage():
        celsius = parse_celsius(at, "--at")
    with common.report_errors():
        if readings:
            calibration = read_calibration(opened, shorted, known)
            found, record = _read(readings, calibration, dc_ohm, celsius, turn)
        else:
            one = _from_meters(bridges, peaks, height, dc_ohm)
            found, record = [one], dict(one.record)
    click.echo(json.dumps(record, ensure_ascii=False) if as_json else "\n".join(_lines(record)))
    with common.report_errors():
        if out is not None:
            from server.measurements.coil import write_coils

            coils_of_file = {name: read.coil for name, read in zip(names, found, strict=True)}
            day = datetime.date.today()
            write_coils(out, coils_of_file, found[0].method, day, record.get("coefficient"))
        if keep:  # last: the same command again may write, but a name is kept once
            _keep(keep, found, data)


def _quantity(text: str, dimension: str, option: str) -> float:
    from dsp.units import parse

    with common.report_wrong_usage():
        return parse(text, dimension, option)


def read_calibration(opened: Path | None, shorted: Path | None, known: str | None) -> Calibration | None:
    """Return the rig's own recordings, all three or none.

    Raises
    ------
    click.UsageError
        For some of them, or a known resistor without its value.
    """
    from server.measurements.coil import Calibration

    if opened is None and shorted is None and known is None:
        return None
    if opened is None or shorted is None or known is None:
        raise click.UsageError("allowed: --open, --short and --known together")
    file, equals, ohm = known.rpartition("=")
    if not equals:
        raise click.UsageError(f"--known: got '{known}'; allowed: FILE=OHMS, such as known.wav=99.87k")
    return Calibration(opened, shorted, Path(file), _quantity(ohm, "resistance", "--known"))


def _read(
    readings: tuple[Path, ...],
    calibration: Calibration | None,
    dc_ohm: list[float],
    celsius: float,
    turn: bool,
) -> tuple[list[ReadCoil], dict[str, Any]]:
    """The coils of files, and what is printed."""
    from server.measurements import coil as measured

    at_rig = calibration is not None
    if len(readings) == 1:
        fit, notes = measured.fit_files(
            readings, calibration, dc_ohm=dc_ohm[0] if dc_ohm else None, celsius=celsius, turn=turn
        )
        read = measured.read_fit(fit, notes, at_rig=at_rig)
        return [read], dict(read.record)
    pair = (dc_ohm[0], dc_ohm[1]) if dc_ohm else None
    housing, notes = measured.fit_housing_files(
        readings, calibration, dc_ohm=pair, celsius=celsius, turn=turn
    )
    way = f"{measured.BY_RIG if at_rig else measured.BY_CURVE}, both coils"
    shared = {"intervals": {}, "order": housing.order, "chi2": housing.chi2, "notes": list(notes)}
    both = [
        measured.ReadCoil(one, {**measured.coil_record(one), **shared}, way)
        for one in (housing.first, housing.second)
    ]
    return both, {**_housing_json(housing), "notes": list(notes)}


def _housing_json(fit: HousingFit) -> dict[str, Any]:
    from server.measurements.coil import coil_record

    return {
        "coils": [coil_record(fit.first), coil_record(fit.second)],
        "coefficient": fit.coefficient,
        "intervals": {"coefficient": list(fit.interval)},
        "order": fit.order,
        "chi2": fit.chi2,
    }


def _from_meters(
    bridges: tuple[str, ...], peaks: tuple[str, ...], height: str | None, dc_ohm: list[float]
) -> ReadCoil:
    from dsp.measuring.meters import BridgeReading, Peak
    from server.measurements.coil import read_bridge, read_peaks

    if not dc_ohm:
        raise click.UsageError("--dc: got none; allowed: the meter's reading at the coil")
    if bridges:
        rows = []
        for text in bridges:
            hz, equals, values = text.partition("=")
            inductance, _, resistance = values.partition(",")
            if not equals or not inductance:
                raise click.UsageError(f"--bridge: got '{text}'; allowed: HZ=LS,RS, such as 1k=2.28H,8.9k")
            ohm = _quantity(resistance, "resistance", "--bridge") if resistance else None
            rows.append(
                BridgeReading(
                    _quantity(hz, "frequency", "--bridge"),
                    _quantity(inductance, "inductance", "--bridge"),
                    ohm,
                )
            )
        return read_bridge(rows, dc_ohm[0], "--bridge")
    found = []
    for i, text in enumerate(peaks):
        farad, equals, hz = text.partition("=")
        if not equals:
            raise click.UsageError(f"--peak: got '{text}'; allowed: FARAD=HZ, such as 470p=4.1k")
        told = _quantity(height.removesuffix("dB"), "number", "--height") if height and i == 0 else None
        found.append(
            Peak(_quantity(farad, "capacitance", "--peak"), _quantity(hz, "frequency", "--peak"), told)
        )
    return read_peaks(found, dc_ohm[0], "--peak")


def _keep(names: tuple[str, ...], coils: list[ReadCoil], data: Path | None) -> None:
    """Keep coils in the own library, all or none."""
    from server.database.store import Store
    from server.measurements.coil import own_coil
    from server.settings import data_folder
    from server.wirings.own_coils import keep_coils

    day = datetime.date.today()
    with contextlib.closing(Store(data or data_folder())) as store:
        keep_coils(store, [own_coil(name, read, day) for name, read in zip(names, coils, strict=True)])


def _lines(record: dict[str, Any]) -> list[str]:
    from dsp.units import show

    rows = (
        ("resistance_ohm", "resistance"),
        ("inductance_h", "inductance"),
        ("capacitance_f", "capacitance"),
    )
    lines = []
    for i, coil in enumerate(record.get("coils", [record])):
        lines += [f"coil {i + 1}"] if "coils" in record else []
        for key, dimension in rows:
            ends = record["intervals"].get(key)
            spread = (
                "" if ends is None else f"   {show(ends[0], dimension, 4)} to {show(ends[1], dimension, 4)}"
            )
            lines.append(f"{dimension:<12} {show(coil[key], dimension, 4)}{spread}")
        for section in coil["eddy"]:
            corner = show(section["corner_hz"], "frequency", 3)
            lines.append(f"eddy         {show(section['share'], 'share', 3)} from {corner}")
    if "coefficient" in record:
        low, high = record["intervals"]["coefficient"]
        lines.append(f"coupling     {record['coefficient']:.4f}   {low:.4f} to {high:.4f}")
    if "response_error_db" in record:
        lines.append(f"response     {record['response_error_db']:.2f} dB from the reading at most, to 10 kHz")
    return lines + [f"note: {note}" for note in record["notes"]]
