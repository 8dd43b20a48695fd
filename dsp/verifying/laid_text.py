"""Read a table of recordings under an exciter: coil, string, setting, recording."""

from __future__ import annotations

from dataclasses import dataclass

from dsp.checking.readings_text import read_setting
from dsp.checking.rows import read_rows
from dsp.errors import InputError, nearest
from dsp.parts.pot import KNOB_TOP
from dsp.verifying.coil_levels import read_string
from dsp.verifying.windings import Laid
from dsp.wiring.model import Wiring

LAID_HEAD = ("coil", "string", "setting", "recording")


@dataclass(frozen=True)
class LaidRow:
    """One row of the table.

    Attributes
    ----------
    where : str
        File and line.
    recording : str
        Name of a file.
    """

    where: str
    laid: Laid
    recording: str


def read_laid(wiring: Wiring, text: str, where: str) -> tuple[LaidRow, ...]:
    """Read the rows that name a recording.

    Parameters
    ----------
    text : str
        A head, then rows apart by commas, semicolons or tabs; ``#`` starts a remark. A string is a
        number, 1 is the highest; empty if the exciter lay over the whole coil.
    where : str
        Name of the file.

    Raises
    ------
    InputError
        With every problem of the table.
    """

    def read(cells: list[str], at: str, _mark: str) -> LaidRow | None:
        if len(cells) != len(LAID_HEAD):
            raise InputError(at, f"{len(cells)} column(s)", f"four: {', '.join(LAID_HEAD)}")
        return _read_row(wiring, cells, at) if cells[-1] else None

    return read_rows(text, where, LAID_HEAD, read, "recording")


def _read_row(wiring: Wiring, cells: list[str], where: str) -> LaidRow:
    coil, string, setting_words, recording = cells
    check_coil(wiring, coil, where)
    index = read_string(wiring, string, where) if string else None
    setting = read_setting(wiring, setting_words, where)
    if any(one < KNOB_TOP for one in setting.knobs.values()):
        raise InputError(where, f"{setting_words}: a knob turned down", "all knobs at 10")
    return LaidRow(where, Laid(coil, index, setting), recording)


def check_coil(wiring: Wiring, coil: str, where: str) -> None:
    """Refuse an unknown coil, and a dummy, which hears no string.

    Raises
    ------
    InputError
    """
    hearing = tuple(name for name, one in wiring.coils.items() if not one.dummy)
    if coil not in hearing:
        got = f"{coil}, a dummy: it hears no string" if coil in wiring.coils else f"coil '{coil[:40]}'"
        raise InputError(where, got, ", ".join(hearing), nearest(coil, hearing))
