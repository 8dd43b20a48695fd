"""Sensitivities of coils from recordings: what to record, what was found in words and as JSON, the edit."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import Any

from dsp.checking.points import find_settings, setting_text
from dsp.checking.readings_text import read_setting
from dsp.errors import InputError, Problem
from dsp.parts.coil import Coil
from dsp.parts.pot import KNOB_TOP
from dsp.takes.player import instrument_of
from dsp.verifying.coil_levels import CoilLevels, Plucks, expect_levels, read_string
from dsp.verifying.expected import HAND
from dsp.verifying.sensitivity import CoilFound, Sensitivities, find_sensitivities
from dsp.verifying.strums import Strums
from dsp.verifying.verdict import MOST_MISFIT
from dsp.wiring.editing.measured import HEARD, sensed
from dsp.wiring.model import Setting, Wiring
from server.verifying.recordings import Heard, measure_all
from server.verifying.verdict import CAUTIONS
from server.wirings.text import WiringText, written

METHOD = "plucked strings, positions compared"
STEPS = (
    "Record one file for each string at each setting below: open, alone, the others damped. Keep the gain.",
    "Leave the strings damped for a second. Then pluck five times, two seconds apart.",
    "Keep the way you pluck: the same place, force and pick.",
    "Strums of all strings tell coils apart too; then the balance of the strings stays open.",
)
AGAIN = "A second file of a string at a setting narrows the intervals."
"""A step that the command alone allows."""
SIMULATED = (
    "The rule was set and tried on simulated guitars alone; no guitar on a bench has been heard by it yet."
)
IN, OUT = "in phase", "out of phase"


def settings_to_pluck(wiring: Wiring) -> tuple[Setting, ...]:
    """Return every position of every switch, knobs at 10."""
    found = find_settings(wiring)
    return tuple(one for one in found if all(value == KNOB_TOP for value in one.knobs.values()))


def strings_to_pluck(wiring: Wiring) -> tuple[int, ...]:
    """Return numbers of three strings for all: lowest, one amid, highest."""
    count = len(instrument_of(wiring.instrument)[0].strings)
    return tuple(dict.fromkeys((count, (count + 1) // 2, 1)))


def read_plucks(wiring: Wiring, text: str, where: str) -> Plucks:
    """Read a setting and a string, such as ``2 tone=5:6``.

    Without a string the chord is strummed.

    Raises
    ------
    InputError
        For a setting or a string that the wiring lacks.
    """
    setting, colon, string = text.rpartition(":")
    if not colon:
        return Plucks(read_setting(wiring, text, where))
    return Plucks(read_setting(wiring, setting, where), read_string(wiring, string, where))


def find_in_recordings(
    wiring: Wiring,
    heard: Sequence[Heard],
    plucks: Sequence[Plucks],
    frets: Sequence[int | None] | None,
    *,
    reference: str | None = None,
    hand: str = HAND,
) -> tuple[CoilLevels, list[Strums], Sensitivities]:
    """Find sensitivities from recordings of a wiring whose load is theirs.

    Raises
    ------
    InputError
        As `measure_all` and `find_sensitivities`, or for fewer than two recordings.
    """
    if len(heard) < 2:
        raise InputError("recordings", f"{len(heard)}", "two or more: positions are compared")
    strums, window_s = measure_all(heard)
    silent = [
        Problem(one.name, "no pluck over the noise", "strings plucked in every recording")
        for one, found in zip(heard, strums, strict=True)
        if found.silent
    ]
    if silent:  # before the seconds of the prediction
        raise InputError.of(silent)
    levels = expect_levels(wiring, plucks, frets, window_s=window_s, hand=hand)
    names = [one.name for one in heard]
    return levels, strums, find_sensitivities(levels, strums, names, reference=reference)


def sensitivity_record(
    wiring: Wiring,
    heard: Sequence[Heard],
    plucks: Sequence[Plucks],
    strums: Sequence[Strums],
    levels: CoilLevels,
    found: Sensitivities,
) -> dict[str, Any]:
    """Return what was found as JSON has it; null where it is not told."""
    texts = [setting_text(wiring, one.setting) for one in plucks]
    rows = zip(heard, plucks, strums, strict=True)
    return {
        "cautions": list(CAUTIONS),
        "reference": found.reference,
        "misfit": round(found.misfit, 3),
        "fits": found.fits,
        "coils": [coil_record(wiring, levels.strings, one) for one in found.coils],
        "polarities": [
            {
                "coils": [one.first, one.second],
                "setting": texts[one.recording],
                "wired": IN if one.in_phase else OUT,
                "heard": (IN if one.in_phase == (one.as_wired > 0.5) else OUT) if one.told else None,
                "probability_as_wired": round(one.as_wired, 4),
            }
            for one in found.polarities
        ],
        "recordings": [
            {
                "file": one.name,
                "setting": texts[i],
                "string": None if pluck.string is None else string_number(wiring, pluck.string),
                "plucks": len(strum.levels_db),
                "over_noise_db": round(strum.over_noise_db, 1),
                "compared": i not in found.lonely,
            }
            for i, (one, pluck, strum) in enumerate(rows)
        ],
        "notes": list(_notes(wiring, plucks, found)),
    }


def string_number(wiring: Wiring, index: int) -> int:
    """Return the number of a string as players count: 1 is the highest."""
    return len(instrument_of(wiring.instrument)[0].strings) - index


def coil_record(wiring: Wiring, strings: Sequence[int], found: CoilFound) -> dict[str, Any]:
    """Return what was found of one coil as JSON has it.

    Parameters
    ----------
    strings : sequence of int
        Indices of the strings of its balance.
    """
    coil = wiring.coils[found.coil]
    level = found.level

    def changed(db: float) -> float:
        return float(f"{coil.sensitivity * 10.0 ** (db / 20.0):.4g}")

    ends = [changed(level.db + side * level.within_db) for side in (-1, 1)]
    return {
        "coil": found.coil,
        "told": level.told,
        "change_db": round(level.db, 2) if level.told else None,
        "within_db": round(level.within_db, 2),
        "sensitivity": changed(level.db) if level.told else None,
        "interval": ends if level.told else None,
        "reason": found.reason,
        "balance": [
            {
                "string": string_number(wiring, index),
                "change_db": round(one.db, 2) if one.told else None,
                "within_db": round(one.within_db, 2),
            }
            for index, one in zip(strings, found.balance, strict=True)
        ],
        "string_balance": _balance(wiring, strings, found),
    }


def _balance(wiring: Wiring, heard: Sequence[int], found: CoilFound) -> list[float] | None:
    """Balance of a coil with what was told added; None if nothing was, or the file names no strings."""
    strings = wiring.instrument.strings if wiring.instrument else ()
    if not strings or not any(one.told for one in found.balance):
        return None
    values = list(wiring.coils[found.coil].string_balance_db) or [0.0] * len(strings)
    for index, one in zip(heard, found.balance, strict=True):
        if one.told:
            values[index] = round(values[index] + one.db, 1)
    return values


def _notes(wiring: Wiring, plucks: Sequence[Plucks], found: Sensitivities) -> Iterator[str]:
    yield (
        f"Coils are told against {found.reference}, string by string: its own sensitivity and balance stay as"
        " the file has them. How loud it hears one string against another is in no comparison of positions."
    )
    if not found.fits:
        yield (
            f"No sensitivities explain the recordings: misfit {found.misfit:.1f}, sound guitars stay below"
            f" {MOST_MISFIT:g}. A setting or a string may be named wrongly, the hand may be another,"
            " or the wiring differs: on the page “Check by sound” and “What could be wrong?” look for that,"
            " elsewhere `presolder verify` and `presolder fault`."
        )
    alone = {one.string for one in plucks if one.string is not None}
    missing = [k for k in range(len(instrument_of(wiring.instrument)[0].strings)) if k not in alone]
    if missing:
        numbers = ", ".join(str(string_number(wiring, k)) for k in reversed(missing))
        some = f"String{'s' * (len(missing) > 1)} {numbers}"
        yield f"{some} not plucked alone: no balance is told there, the file's stays."
    if not found.polarities:
        yield "No two coils sound together in what was recorded: their polarity is not told."
    for one in found.polarities:
        if one.told and one.as_wired < 0.5:
            yield (
                f"{one.first} and {one.second} sound {OUT if one.in_phase else IN}, the file says"
                f" {IN if one.in_phase else OUT}: leads, winding or magnet of one differ. Nothing of this is"
                " written into a file."
            )
    yield SIMULATED


def sensitivity_lines(record: Mapping[str, Any]) -> Iterator[str]:
    """Yield the lines of what was found, from its record."""
    yield from ("Heed:", *(f"  {one}" for one in record["cautions"]), "")
    yield f"Against {record['reference']}; misfit {record['misfit']:.2f}."
    for coil in record["coils"]:
        yield from coil_lines(coil)
    for pair in record["polarities"]:
        first, second = pair["coils"]
        if pair["heard"] is None:
            words = f"not told; the file says {pair['wired']}"
        elif pair["heard"] == pair["wired"]:
            words = f"{pair['heard']}, as the file says"
        else:
            words = f"{pair['heard']}, the file says {pair['wired']}"
        percent = 100.0 * pair["probability_as_wired"]
        yield f"  {first} and {second} at {pair['setting']}: {words} (as wired: {percent:.0f} %)"
    yield ""
    for one in record["recordings"]:
        string = "all strings" if one["string"] is None else f"string {one['string']}"
        alone = "" if one["compared"] else "   in one position alone: nothing compares with it"
        over = one["over_noise_db"]
        yield f"{one['setting']:<16}{string:<12}{one['plucks']:>3} plucks{over:>5.0f} dB over noise{alone}"
    yield from (f"note: {note}" for note in record["notes"])


def coil_lines(coil: Mapping[str, Any]) -> Iterator[str]:
    """Yield the lines of one coil, from its record."""
    if not coil["told"]:
        yield f"  {coil['coil']:<14}not told: {coil['reason']}"
        return
    low, high = coil["interval"]
    yield (
        f"  {coil['coil']:<14}{coil['change_db']:+.1f} ±{coil['within_db']:.1f} dB on the file's:"
        f" sensitivity {coil['sensitivity']:.3g} ({low:.3g} to {high:.3g})"
    )
    yield from balance_lines(coil)


def balance_lines(coil: Mapping[str, Any]) -> Iterator[str]:
    """Yield a line for each string of a coil's balance, from its record."""
    for one in coil["balance"]:
        told = one["change_db"] is not None
        value = f"{one['change_db']:+.1f} ±{one['within_db']:.1f} dB" if told else "not told"
        yield f"    string {one['string']:<3}{value}"


def check_target(file: Path, wiring: Wiring) -> None:
    """Refuse a file whose coils are not those compared.

    Raises
    ------
    InputError
        If the file cannot be read, lacks a coil, or has other sensitivities.
    """
    kept = WiringText.of(file).wiring().parts
    for name, coil in wiring.coils.items():
        own = kept.get(name)
        if not isinstance(own, Coil) or sensed(own) != sensed(coil):
            got = f"{name} with other values" if isinstance(own, Coil) else f"no coil {name}"
            raise InputError(str(file), got, "the coils, sensitivities and balances that are compared")


def values_to_take(record: Mapping[str, Any], day: date, method: str = METHOD) -> dict[str, dict[str, Any]]:
    """Return what to write for each coil whose level was found, by its name.

    ``sensitivity`` and, where it was found, ``string_balance`` as a wiring file has them, and a
    ``comment`` with day and method.
    """
    found = {}
    for one in record["coils"]:
        keeps = one["coil"] == record["reference"]
        if not one["told"] or (keeps and one["string_balance"] is None):
            continue
        values: dict[str, Any] = {} if keeps else {"sensitivity": float(f"{one['sensitivity']:.3g}")}
        if one["string_balance"] is not None:
            values["string_balance"] = one["string_balance"]
        against = f"against {record['reference']}, within {one['within_db']:.1f} dB"
        said = "balance of its strings alone" if keeps else against
        found[one["coil"]] = {**values, "comment": f"{HEARD}{day.isoformat()}: {method}, {said}"}
    return found


def write_sensitivities(file: Path, record: Mapping[str, Any], day: date, method: str = METHOD) -> int:
    """Write what was told into a wiring, comments kept.

    Returns of how many coils. Each coil gets a comment with the day and the method.

    Parameters
    ----------
    file : Path
        As `check_target` allows.
    method : str
        Of the comment.

    Raises
    ------
    InputError
        If the file cannot be read or written.
    """
    text = WiringText.of(file)
    told = values_to_take(record, day, method)
    for name, values in told.items():
        for field, value in values.items():
            if field != "comment":
                text.set(["parts", name, field], written(value))
        text.comment(["parts", name], values["comment"])
    if told:
        text.save(file)
    return len(told)
