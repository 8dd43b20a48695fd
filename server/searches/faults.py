"""What could be wrong with a soldered guitar: the book of its faults as a search, then answers at once."""

from __future__ import annotations

import contextlib
from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Any

from dsp.checking.exciter import EXCITER
from dsp.checking.points import find_settings, setting_text
from dsp.checking.readings_text import LEVEL_TYPED, RECORDING, read_readings
from dsp.checking.symptoms import WORDS
from dsp.errors import InputError, Problem
from dsp.parts.pot import KNOB_TOP
from dsp.sheet.readings import settings_of
from dsp.wiring.model import Setting, Wiring
from server.processes.helper import Helper
from server.refusals import Unavailable
from server.searches.fault_book import diagnose_readings, diagnosis_record, is_exciter_used, open_book
from server.searches.sounds import read

if TYPE_CHECKING:
    from dsp.checking.book import Book
    from server.processes.reports import Report

READINGS = "readings"
"""What problems call the table of readings."""
TYPED = {EXCITER: LEVEL_TYPED, RECORDING: "|Z| at a frequency, such as 900 Hz"}
"""What stands in a table without files in place of their names."""
MOST_BOOKS = 4
LONGEST_S = 120.0
"""Of an answer; where no cache keeps the book, it is made again first."""


@dataclass(frozen=True)
class _Opened:
    """A wiring whose book is open."""

    wiring: Wiring
    book: Book


_opened: OrderedDict[str, _Opened] = OrderedDict()
"""Books of this process, by the text of the wiring; the last used at the end."""


def run(text: str, options: Mapping[str, Any], report: Report) -> None:
    """Report what may be read and heard, then make the book of the faults.

    Parameters
    ----------
    text : str
        Of a wiring.
    options : mapping
        None yet.

    Raises
    ------
    InputError
        For a wiring without a coil.
    """
    wiring = read(text)
    if not wiring.coils:
        raise InputError("wiring", "no coil", "a wiring that sounds")
    report(form=form_json(wiring), share=0.0)
    book = open_book(wiring, (), lambda share: report(share=round(share, 3)))
    report(share=1.0, faults=len(book.faults) - 1)


def form_json(wiring: Wiring) -> dict[str, Any]:
    """Return what a page offers to enter: words and readings, by setting."""
    settings = find_settings(wiring)
    return {
        "heard": [_setting_json(wiring, one) for one in settings_of(wiring)],
        "knobs": [_setting_json(wiring, one) for one in settings if 0.0 in one.knobs.values()],
        "read": [_setting_json(wiring, one) for one in settings],
        "words": [
            {"word": word, "about": one.about, "knob": one.knob}
            for word, one in sorted(WORDS.items(), key=lambda row: row[0] == "fine")
        ],
    }


def _setting_json(wiring: Wiring, setting: Setting) -> dict[str, Any]:
    stands = wiring.stands
    return {
        "setting": setting_text(wiring, setting),
        "position": setting.position,
        "label": wiring.labels.get(setting.position, ""),
        "switches": {
            name: setting.switches[name]
            for name in wiring.switches
            if setting.switches.get(name, stands[name][0]) != stands[name][0]
        },
        "knobs": {name: value for name, value in setting.knobs.items() if value != KNOB_TOP},
    }


def answer(
    text: str, readings: str, *, rig: bool = True, exciter: bool = False, sides_kept: bool = True
) -> dict[str, Any]:
    """Return what readings say of a wiring; of none, what to read first.

    Parameters
    ----------
    readings : str
        A table as `read_readings` reads it, or nothing.
    rig : bool
        Whether the next reading may be one by the rig.
    exciter, sides_kept : bool
        As of `diagnose_readings`.

    Raises
    ------
    InputError
        With every problem of the table; for the name of a file in place of a value.
    """
    opened = _open(text)
    rows = read_readings(opened.wiring, readings, READINGS) if readings.strip() else ()
    files = [one for one in rows if one.text and one.what in TYPED]
    if files:
        raise InputError.of([Problem(one.where, one.text, TYPED[one.what]) for one in files])
    book = opened.book
    if any(one.point not in book.points for one in rows if one.what != "heard"):
        book = open_book(opened.wiring, rows)
    exciter = exciter or is_exciter_used(rows)
    found = diagnose_readings(book, rows, sweeps=rig, exciter=exciter, sides_kept=sides_kept)
    record = diagnosis_record(opened.wiring, book, found, exciter=exciter, sides_kept=sides_kept)
    return {**record, "readings": len(rows)}


def _open(text: str) -> _Opened:
    found = _opened.get(text)
    if found is None:
        wiring = read(text)
        found = _opened[text] = _Opened(wiring, open_book(wiring))
    _opened.move_to_end(text)
    while len(_opened) > MOST_BOOKS:
        _opened.popitem(last=False)
    return found


class FaultFinder:
    """Answers questions, in a process that keeps the books open."""

    def __init__(self) -> None:
        self._helper = Helper("the fault finder", niceness=0)

    def answer(
        self, text: str, readings: str, *, rig: bool, exciter: bool = False, sides_kept: bool = True
    ) -> dict[str, Any]:
        """Return what `answer` returns.

        Raises
        ------
        InputError
            As `answer`.
        TooSlow, Unavailable
            As `Helper.call`.
        """
        found: dict[str, Any] = self._helper.call(
            partial(answer, rig=rig, exciter=exciter, sides_kept=sides_kept),
            text,
            readings,
            longest_s=LONGEST_S,
        )
        return found

    def warm(self) -> None:
        """Start the process, so that the first answer does not wait for it."""
        with contextlib.suppress(Unavailable):
            self._helper.call(_ready)

    def close(self) -> None:
        """End the process."""
        self._helper.close()


def _ready() -> None:
    """Do nothing: whoever unpacks this has imported all that an answer needs."""
