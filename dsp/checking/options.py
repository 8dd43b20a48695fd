"""What may be read next, and the minutes that it takes."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from dsp.checking.book import Book
from dsp.checking.points import Kind
from dsp.wiring.model import Setting

MINUTES: dict[Kind, float] = {"meter": 1.0, "recording": 2.0, "exciter": 0.5, "blade": 0.5}
"""Of a reading by the meter, of a sweep at a rig that stands calibrated, of one more setting under an
exciter, and of one more coil with a blade: our own choice."""
LAYING = 2.0
"""Minutes to lay an exciter over a coil, or to find a blade."""


@dataclass(frozen=True)
class NextReading:
    """The reading to take next.

    Attributes
    ----------
    setting : Setting
        Of the meter and of a sweep; of an exciter or a blade the first of several.
    kind : str
        What reads: a recording is |Z| at all frequencies.
    gain : float
        Expected information in nats.
    coils : tuple of str
        Over which the exciter lies in turn, at every setting; or the blade.
    """

    setting: Setting
    kind: Kind
    gain: float
    coils: tuple[str, ...] = ()

    @property
    def sweep(self) -> bool:
        """Whether it is |Z| at all frequencies rather than the meter."""
        return self.kind == "recording"


@dataclass(frozen=True)
class Option:
    """A reading that may be next: its points, and the minutes that it takes."""

    reading: NextReading
    indexes: list[int]
    minutes: float


def find_options(book: Book, where: Iterable[int], allowed: Iterable[int], *, sweeps: bool) -> list[Option]:
    """Readings that were not taken, or not at every setting.

    The meter and a sweep read one setting. An exciter goes round all settings, over one coil or over
    all in turn; a blade goes over all coils, whose signs tell by one another.
    """
    read_already = {int(i) for i in where}
    by: dict[tuple[Kind, str, int], list[int]] = {}
    settings: list[Setting] = []
    for i in map(int, allowed):
        point = book.points[i]
        if point.setting not in settings:
            settings.append(point.setting)
        at = -1 if point.coil else settings.index(point.setting)
        by.setdefault((point.kind, point.coil, at), []).append(i)
    found = []
    left: dict[Kind, list[str]] = {"exciter": [], "blade": []}
    for (kind, coil, _), indexes in by.items():
        if _is_read(book, kind, indexes, read_already) or (kind == "recording" and not sweeps):
            continue
        if coil:
            left[kind].append(coil)
        if kind != "blade":
            found.append(_option(book, kind, (coil,) if coil else (), indexes))
    for kind, coils in left.items():
        if coils and (kind == "blade" or len(coils) > 1):
            found.append(_option(book, kind, tuple(coils), [i for one in coils for i in by[kind, one, -1]]))
    return found


def _is_read(book: Book, kind: Kind, indexes: list[int], read_already: set[int]) -> bool:
    """Whether nothing is left to read there: under an exciter no setting, at whichever frequency."""
    if kind != "exciter":
        return bool(set(indexes) & read_already)
    read_at = [book.points[i].setting for i in indexes if i in read_already]
    return all(book.points[i].setting in read_at for i in indexes)


def _option(book: Book, kind: Kind, coils: tuple[str, ...], indexes: list[int]) -> Option:
    points = [book.points[i] for i in indexes]
    minutes = MINUTES[kind]
    if kind == "exciter":
        readings = len(points) / len({point.frequency_hz for point in points})
        minutes = LAYING * len(coils) + minutes * readings
    elif kind == "blade":
        minutes = LAYING + minutes * len(coils)
    return Option(NextReading(points[0].setting, kind, 0.0, coils), indexes, minutes)
