"""Impedance curves as other instruments write them: columns of numbers, and one-port Touchstone files."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dsp.errors import InputError
from dsp.measuring.curve import Curve

Floats = NDArray[np.float64]
Complex = NDArray[np.complex128]

READ_SD = 0.003
"""Relative standard deviation of a value whose file tells none: a good bridge's accuracy."""
FEWEST_ROWS = 3
MOST_ROWS = 100_000
PASSIVE_DEG = 100.0
"""Phase beyond which no passive part's reading lies, its own error allowed for."""
PASSIVE_OHM = -0.02
"""Smallest resistance relative to the impedance that errors of a reading explain."""
HARD_OVER = 100.0
"""Impedance over reference at which a reflection hardly changes any more."""

COLUMNS: tuple[tuple[str, str], ...] = (
    ("frequency", r"f|freq\w*|frequency|hz|khz"),
    ("magnitude", r"z|\|z\||mag\w*|abs\w*|impedance"),
    ("phase", r"ph\w*|theta|deg\w*|angle|rad\w*|arg"),
    ("real", r"re\w*|r|z'|z_re\w*"),
    ("imaginary", r"im\w*|x|z''|z_im\w*"),
    ("inductance", r"ls|l_s|l"),
    ("resistance", r"rs|r_s|esr"),
)
"""Columns by the first word of their head, in the order they are tried."""
FORMS: tuple[tuple[str, str], ...] = (
    ("magnitude", "phase"),
    ("real", "imaginary"),
    ("inductance", "resistance"),
)
FORMS_ALLOWED = "a frequency and |Z| with phase, real with imaginary, or Ls with Rs"
UNITS = {"khz": 1e3, "mhz": 1e6, "kohm": 1e3, "kω": 1e3, "k": 1e3, "mh": 1e-3}
TOUCHSTONE_HZ = {"HZ": 1.0, "KHZ": 1e3, "MHZ": 1e6, "GHZ": 1e9}


@dataclass(frozen=True)
class ImpedanceFile:
    """A curve and what its file leaves in doubt."""

    curve: Curve
    notes: tuple[str, ...]


def read_columns(text: str, where: str) -> ImpedanceFile:
    """Read a table of impedances.

    A head names the columns: a frequency, then |Z| and phase, real and imaginary, or Ls and Rs. A unit
    may follow in its name (kHz, rad, mH). Fields are parted by a comma, a semicolon or a tab; beside the
    last two a decimal comma is read. Lines that begin with # or * are comments.

    Raises
    ------
    InputError
        For a head without these columns, a field that cannot be read, fewer than three rows, frequencies
        that do not rise, or what no passive part can show.
    """
    lines = [(n, line.strip()) for n, line in enumerate(text.splitlines(), 1)]
    lines = [(n, line) for n, line in lines if line and line[0] not in "#*!"]
    if not lines:
        raise InputError(where, "no line", FORMS_ALLOWED)
    number, head = lines[0]
    mark = next((mark for mark in "\t;," if mark in head), ",")
    names = [name.strip().strip('"').lower() for name in head.split(mark)]
    places = {what: _column(names, pattern) for what, pattern in COLUMNS}
    form = next((form for form in FORMS if all(places[what] is not None for what in form)), None)
    if places["frequency"] is None or form is None:
        raise InputError(f"{where}:{number}", head[:80], FORMS_ALLOWED)
    if len(lines) - 1 > MOST_ROWS:
        raise InputError(where, f"{len(lines) - 1} rows", f"at most {MOST_ROWS}")
    wanted = [places["frequency"], *(places[what] for what in form)]
    rows = np.array(
        [_row(line, mark, [at for at in wanted if at is not None], f"{where}:{n}") for n, line in lines[1:]]
    )
    if len(rows) < FEWEST_ROWS:
        raise InputError(where, f"{len(rows)} rows", f"at least {FEWEST_ROWS}")
    columns = [rows[:, i] * _scale(names[at]) for i, at in enumerate(wanted) if at is not None]
    hz, one, other = columns
    _check_rising(hz, where)
    if form == FORMS[0]:
        radian = "rad" in names[places["phase"] or 0]
        ohm = one * np.exp(1j * (other if radian else np.radians(other)))
    elif form == FORMS[1]:
        ohm = one + 1j * other
    else:
        ohm = other + 2j * np.pi * hz * one
    return ImpedanceFile(_checked(hz, np.asarray(ohm, complex), where), ())


def _column(names: Sequence[str], pattern: str) -> int | None:
    words = [re.split(r"[\s(\[/_]+", name, maxsplit=1)[0] for name in names]
    return next((i for i, word in enumerate(words) if re.fullmatch(pattern, word)), None)


def _scale(name: str) -> float:
    words = re.findall(r"[a-zω]+", name)
    return next((UNITS[word] for word in words[::-1] if word in UNITS), 1.0)


def _row(line: str, mark: str, places: Sequence[int], where: str) -> list[float]:
    fields = [field.strip().strip('"') for field in line.split(mark)]
    if len(fields) <= max(places):
        raise InputError(where, f"{len(fields)} fields", f"{max(places) + 1} or more")
    return [_number(fields[at].replace(",", ".") if mark in ";\t" else fields[at], where) for at in places]


def _number(text: str, where: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = float("nan")
    if not np.isfinite(value):
        raise InputError(where, text[:40] or "nothing", "a number")
    return value


def _check_rising(hz: Floats, where: str) -> None:
    wrong = np.flatnonzero(np.diff(hz, prepend=0.0) <= 0)
    if len(wrong):
        raise InputError(
            f"{where}, row {wrong[0] + 1}", f"{hz[wrong[0]]:g} Hz", "frequencies above 0 that rise"
        )


def _checked(hz: Floats, ohm: Complex, where: str) -> Curve:
    """A curve that a passive part can have."""
    if np.any(ohm == 0):
        raise InputError(where, f"0 ohm at {hz[np.flatnonzero(ohm == 0)[0]]:g} Hz", "impedances other than 0")
    phase = np.degrees(np.angle(ohm))
    for wrong, got, allowed in (
        (
            np.abs(phase) > PASSIVE_DEG,
            "a phase of {phase:.0f} degrees",
            f"at most {PASSIVE_DEG:.0f} degrees either way",
        ),
        (ohm.real < PASSIVE_OHM * np.abs(ohm), "a resistance of {real:.3g} ohm", "a part that takes power"),
    ):
        found = np.flatnonzero(wrong)
        if len(found):
            at = found[0]
            text = got.format(phase=phase[at], real=ohm.real[at])
            raise InputError(where, f"{text} at {hz[at]:g} Hz", allowed)
    return Curve(hz, ohm, np.full(len(hz), READ_SD))


def turned(curve: Curve) -> Curve:
    """The curve with the other sign of phase."""
    return Curve(curve.frequencies_hz, curve.ohm.conj(), curve.sd)


# === Touchstone


def read_touchstone(text: str, where: str) -> ImpedanceFile:
    """Read a one-port Touchstone file of version 1.

    Raises
    ------
    InputError
        For another version, more ports, an option that is not known, or as `read_columns`.

    References
    ----------
    "Touchstone File Format Specification", Rev 1.1, EIA/IBIS Open Forum, 2002: the option line's
    defaults are GHz, S, MA and R 50; Z and Y are normalised to R.
    """
    unit, kind, form, reference = "GHZ", "S", "MA", 50.0
    numbers: list[float] = []
    options = False
    for where_line, line in _touchstone_lines(text, where):
        if line.startswith("["):
            raise InputError(where_line, line[:40], "version 1, which has no keywords in brackets")
        if line.startswith("#"):
            if not options:  # the specification: only the first option line counts
                unit, kind, form, reference = _options(line[1:].split(), where_line)
            options = True
            continue
        fields = line.split()
        if len(fields) != 3:
            raise InputError(where_line, f"{len(fields)} numbers", "a frequency and two numbers: one port")
        numbers += [_number(field, where_line) for field in fields]
    rows = np.array(numbers).reshape(-1, 3)
    if len(rows) < FEWEST_ROWS:
        raise InputError(where, f"{len(rows)} rows", f"at least {FEWEST_ROWS}")
    hz = rows[:, 0] * TOUCHSTONE_HZ[unit]
    _check_rising(hz, where)
    value = _complex(form, rows[:, 1], rows[:, 2])
    if kind == "S" and np.any(value == 1):
        raise InputError(where, "a reflection of exactly 1", "a part, not an open circuit")
    if kind == "Y" and np.any(value == 0):
        raise InputError(where, "an admittance of 0", "a part, not an open circuit")
    if kind == "S":
        ohm = reference * (1 + value) / (1 - value)
    else:
        ohm = value * reference if kind == "Z" else reference / value
    return ImpedanceFile(_checked(hz, ohm, where), tuple(_reference_notes(kind, ohm, reference)))


FORMS_OF_TWO = ("MA", "DB", "RI")
"""Magnitude or dB with an angle in degrees; real and imaginary."""


def _complex(form: str, one: Floats, other: Floats) -> Complex:
    if form == "RI":
        return np.asarray(one + 1j * other, complex)
    size = 10 ** (one / 20) if form == "DB" else one
    return np.asarray(size * np.exp(1j * np.radians(other)), complex)


def _touchstone_lines(text: str, where: str) -> Iterator[tuple[str, str]]:
    for n, line in enumerate(text.splitlines(), 1):
        bare = line.split("!", 1)[0].strip()
        if bare:
            yield f"{where}:{n}", bare
        if n > MOST_ROWS:
            raise InputError(where, f"more than {MOST_ROWS} lines", f"at most {MOST_ROWS}")


def _options(words: Sequence[str], where: str) -> tuple[str, str, str, float]:
    unit, kind, form, reference = "GHZ", "S", "MA", 50.0
    left = iter(word.upper() for word in words)
    for word in left:
        if word in TOUCHSTONE_HZ:
            unit = word
        elif word in ("S", "Y", "Z"):
            kind = word
        elif word in FORMS_OF_TWO:
            form = word
        elif word == "R":
            reference = _number(next(left, ""), where)
        else:
            raise InputError(where, word[:20], "Hz, kHz, MHz, GHz; S, Y, Z; MA, DB, RI; R and its ohms")
    if not reference > 0:
        raise InputError(where, f"R {reference:g}", "a reference above 0 ohm")
    return unit, kind, form, reference


def _reference_notes(kind: str, ohm: Complex, reference: float) -> list[str]:
    most = float(np.abs(ohm).max())
    if kind == "S" and most > HARD_OVER * reference:
        return [
            f"Impedances reach {most:.3g} ohm, {most / reference:.0f} times the reference of {reference:g}: "
            "an error of 0.1 % of the reflection is then one of 10 % and more of the impedance."
        ]
    return []
