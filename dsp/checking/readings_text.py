"""Read a table of readings: setting, what, value."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import log10

from dsp.checking.exciter import EXCITER, TYPED_HZ
from dsp.checking.points import OPEN_OHM, Point
from dsp.checking.rows import read_rows
from dsp.checking.symptoms import WORDS
from dsp.errors import InputError, Problem, nearest
from dsp.parts.pot import KNOB_TOP
from dsp.units import parse
from dsp.wiring.model import Setting, Wiring

HEAD = ("setting", "what", "value")
METER, RECORDING, HEARD, BLADE = "meter", "recording", "heard", "blade"
WHATS = (
    f"{METER}, |Z| at a frequency such as 900 Hz, {RECORDING}, {HEARD}, "
    f"{EXCITER} and a coil such as {EXCITER} neck, {BLADE} and a coil such as {BLADE} neck"
)
LEVEL_TYPED = "a sign and a level such as + -12.3 dB, or silent"
LEVELS = "a sign and a level such as + -12.3 dB, silent, or the file of a recording"
TWO_SIGNS = "two signs: + or -, then the level, such as + -40 dB"
PULSES = "+ or -"
SILENT = "silent"
LEVEL = re.compile(r"([+\-−])\s*([+\-−]?)(\d+(?:\.\d+)?)\s*db", re.IGNORECASE)
MOST_DB = 200.0
LOUDEST_DB = 20.0
"""An exciter gives some 40 dB less at the jack than its resistor."""
OPEN_WORDS = ("open", "ol", "o.l", "inf")
"""A meter's words for nothing."""
LOWEST_HZ, HIGHEST_HZ = 100.0, 2000.0
"""Of a level under an exciter."""


@dataclass(frozen=True)
class Reading:
    """One row of the table.

    Attributes
    ----------
    where : str
        File and line.
    what : str
        `METER`, ``z``, `RECORDING`, `HEARD`, `EXCITER` or `BLADE`.
    frequency_hz : float
        Of |Z| and of the exciter's level; else 0.
    ohm : float
        Of the meter and of |Z|.
    text : str
        A recording's file, or the word for what is heard.
    notes : tuple of str
        What the recording's file leaves in doubt.
    coil : str
        Under the exciter or the blade.
    transfer : float
        Input 2 over input 1 with its sign, as `TYPED_HZ` would have it; the sign of a blade's pulse.
    """

    where: str
    setting: Setting
    what: str
    frequency_hz: float = 0.0
    ohm: float = 0.0
    text: str = ""
    notes: tuple[str, ...] = ()
    coil: str = ""
    transfer: float = 0.0

    @property
    def point(self) -> Point:
        """Where it was read."""
        return Point(self.setting, self.frequency_hz, self.coil)


def read_readings(wiring: Wiring, text: str, where: str) -> tuple[Reading, ...]:
    """Read the rows that have a value.

    Parameters
    ----------
    text : str
        A head, then rows apart by commas, semicolons or tabs; ``#`` starts a remark.
    where : str
        Name of the file.

    Raises
    ------
    InputError
        With every problem of the table.
    """

    def read(cells: list[str], at: str, mark: str) -> Reading | None:
        return read_row(wiring, cells, at, comma=mark != ",")

    return read_rows(text, where, HEAD, read, "value")


def read_row(wiring: Wiring, row: Sequence[str], where: str, *, comma: bool) -> Reading | None:
    """Read the cells of one row; None for one without a value.

    Parameters
    ----------
    comma : bool
        Whether a comma may stand for the decimal point.

    Raises
    ------
    InputError
    """
    if len(row) != len(HEAD):
        hint = "" if comma or len(row) < len(HEAD) else "with a decimal comma the columns are apart by ;"
        raise InputError(where, f"{len(row)} column(s)", f"three: {', '.join(HEAD)}", hint)
    where_set, what, value = row
    if not value:
        return None
    setting = read_setting(wiring, where_set, where)
    kind = what.lower()
    if kind == HEARD:
        word = value.lower()
        if word not in WORDS:
            raise InputError(where, value, ", ".join(WORDS), nearest(word, WORDS))
        turned = any(one < KNOB_TOP for one in setting.knobs.values())
        if WORDS[word].knob and not turned:
            raise InputError(where, f"{word} at {where_set}", "the knob turned down, such as 2 tone=0")
        return Reading(where, setting, HEARD, text=word)
    if kind == RECORDING:
        return Reading(where, setting, RECORDING, text=value)
    if kind == METER:
        return Reading(where, setting, METER, ohm=_ohm(value, where, comma))
    if kind.split(" ")[0] in (EXCITER, BLADE):
        return _read_at_coil(wiring, Reading(where, setting, kind.split(" ")[0]), what, value, comma)
    hz = kind.removeprefix("|z| at ").removeprefix("z ").strip()
    try:
        frequency_hz = parse(hz, "frequency", where)
    except InputError as error:
        raise InputError.of([Problem(where, what, WHATS)]) from error
    if not 20.0 <= frequency_hz <= 20_000.0:
        raise InputError(where, what, "20 Hz to 20 kHz")
    return Reading(where, setting, "z", frequency_hz, _ohm(value, where, comma))


def _read_at_coil(wiring: Wiring, row: Reading, what: str, value: str, comma: bool) -> Reading:
    """Read what an exciter or a blade over a coil gave."""
    words = what.split()[1:]
    coil = words.pop(0) if words else ""
    if coil not in wiring.coils:
        known = ", ".join(f"{row.what} {name}" for name in wiring.coils)
        raise InputError(row.where, what, known, nearest(coil, tuple(wiring.coils)))
    if any(one < KNOB_TOP for one in row.setting.knobs.values()):
        raise InputError(row.where, f"{what} with a knob turned down", "all knobs at 10")
    if row.what == BLADE:
        sign = {"+": 1.0, "-": -1.0, "−": -1.0}.get(value)
        if words or sign is None:
            raise InputError(row.where, value if sign is None else what, f"{PULSES} of {BLADE} {coil}")
        return replace(row, coil=coil, transfer=sign)
    hz = TYPED_HZ
    if words:
        hz = parse(" ".join(words).removeprefix("at ").strip(), "frequency", row.where)
        if not LOWEST_HZ <= hz <= HIGHEST_HZ:
            raise InputError(row.where, what, f"{LOWEST_HZ:.0f} Hz to {HIGHEST_HZ:.0f} Hz: below a resonance")
    row = replace(row, coil=coil, frequency_hz=hz)
    if value.lower() == SILENT:
        return row
    if value[0] not in "+-−":
        return replace(row, text=value)
    found = LEVEL.fullmatch(value.replace(",", ".") if comma else value)
    if found is None or float(found[3]) > MOST_DB:
        raise InputError(row.where, value, LEVELS)
    if not found[2]:
        # -40 dB is how one writes a level: its sign alone would count as 40 dB, the other way round
        raise InputError(row.where, value, TWO_SIGNS)
    level_db = float(found[3]) if found[2] == "+" else -float(found[3])
    if level_db > LOUDEST_DB:
        raise InputError(row.where, value, f"a level of at most +{LOUDEST_DB:.0f} dB")
    size = 10 ** (level_db / 20) * TYPED_HZ / hz
    return replace(row, transfer=size if found[1] == "+" else -size)


def level_text(transfer: float, frequency_hz: float) -> str:
    """Return a transfer as a table has it: its sign and its level."""
    size = abs(transfer) * frequency_hz / TYPED_HZ
    if size < 10 ** (-MOST_DB / 20):
        return SILENT
    return f"{'+' if transfer > 0 else '-'} {20 * log10(size):+.2f} dB"


def _ohm(value: str, where: str, comma: bool) -> float:
    if value.lower() in OPEN_WORDS:
        return OPEN_OHM
    ohm = parse(value.replace(",", ".") if comma else value, "resistance", where)
    if ohm < 0.0:
        raise InputError(where, value, "0 Ω or more, or open")
    return ohm


def read_setting(wiring: Wiring, text: str, where: str) -> Setting:
    """Read a setting such as ``2 tone=5 phase=2``.

    The position, then switches that are not at their first and knobs that are not at 10.

    Raises
    ------
    InputError
        For a name or a value that the wiring lacks.
    """
    words = text.split()
    position = words.pop(0) if words and "=" not in words[0] else wiring.positions[0]
    knobs: dict[str, float] = {}
    switches: dict[str, str] = {}
    for word in words:
        name, equals, value = word.partition("=")
        if not equals:
            raise InputError(where, text, "a position, then NAME=VALUE, such as 2 tone=5")
        if name in wiring.stands:
            switches[name] = value
            continue
        try:
            knobs[name] = float(value)
        except ValueError as error:
            raise InputError(where, word, "a knob from 0 to 10, such as tone=5") from error
    try:
        return wiring.setting(position, knobs, switches)
    except InputError as error:
        raise InputError.of(
            [
                Problem(where, p.got, f"{p.where.rpartition(': ')[2]}: {p.allowed}", p.hint)
                for p in error.problems
            ]
        ) from error
