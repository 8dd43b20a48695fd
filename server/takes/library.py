"""The library of takes: the demo's, those of folders, and uploads.

An upload has a folder of its own, ``takes/<id>/``: the sound file as sent, named by its SHA-256, and
a take file written from the form. Its database row is written last, so that every take in the list
is complete.
"""

from __future__ import annotations

import functools
import json
import threading
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from pathlib import Path

from dsp.takes.performance import Performance
from dsp.wiring.model import Wiring
from server.database.store import Store, now
from server.paths import demo_folder
from server.refusals import Unknown
from server.takes.folders import find_takes
from server.takes.load import load_take
from server.takes.playing import PlayingProcess
from server.wirings.text import load_wiring

TAKES = "takes"
TAKE_FILE = "take.yaml"


@dataclass(frozen=True)
class TakeRow:
    """A take in the page's list.

    Attributes
    ----------
    id : str
        Starts with ``demo:`` or ``file:`` unless the take is an upload.
    seconds : float
        Length, s.
    coil_places : str
        Whether the sound contains the coils' places.
    """

    id: str
    name: str
    kind: str
    seconds: float
    coil_places: str
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True)
class UploadedTake:
    """An uploaded recording that was examined and accepted.

    Attributes
    ----------
    seconds : float
        Length, s.
    sha256 : str
        Of the sound file as sent.
    size : int
        Bytes of the sound file.
    """

    id: str
    name: str
    kind: str
    seconds: float
    coil_places: str
    warnings: tuple[str, ...]
    sha256: str
    size: int


class Library:
    """Takes by id.

    Parameters
    ----------
    places : iterable of Path
        Files and folders, beside the demo, that are searched for takes.
    """

    def __init__(self, store: Store, places: Iterable[Path] = ()) -> None:
        self.store = store
        self.folder = store.folder / TAKES
        self._places = tuple(places)
        self._lock = threading.Lock()
        self._found: dict[str, Performance] | None = None
        self._playing = PlayingProcess()

    def list_takes(self) -> list[TakeRow]:
        """List every take: the demo's, those of folders, uploads."""
        found = [_row_of(take_id, performance) for take_id, performance in self._files().items()]
        with self.store.read() as db:
            rows = db.execute("SELECT * FROM takes ORDER BY created, rowid").fetchall()
        return found + [
            TakeRow(
                row["id"], row["name"], row["kind"], row["seconds"], row["coil_places"],
                tuple(json.loads(row["warnings"])),
            )
            for row in rows
        ]  # fmt: skip

    def performance(self, take_id: str) -> Performance:
        """Return a take ready to be heard.

        Raises
        ------
        Unknown
        InputError
            If its files can no longer be used.
        """
        if found := self._files().get(take_id):
            return found
        with self.store.read() as db:
            row = db.execute("SELECT id FROM takes WHERE id = ?", (take_id,)).fetchone()
        if row is None:
            raise Unknown("take", f"'{take_id}'", "the id of a take")
        return load_take(self.folder / row["id"] / TAKE_FILE)

    def prepare(self, performance: Performance, wiring: Wiring, rate_hz: int) -> None:
        """Play a score into the cache, in a process beside this one.

        Without a cache, and for recordings, it does nothing.

        Raises
        ------
        Unavailable
            If the server stops meanwhile.
        """
        self._playing.prepare(performance, wiring, rate_hz)

    def close(self) -> None:
        """End the process that plays scores."""
        self._playing.close()

    def add(self, take: UploadedTake) -> None:
        """Write the row of an upload whose files are in place."""
        row = asdict(take)
        row["warnings"] = json.dumps(take.warnings, ensure_ascii=False)
        with self.store.write() as db:
            db.execute(
                "INSERT INTO takes (id, name, kind, seconds, coil_places, warnings, sha256, bytes, created)"
                " VALUES (:id, :name, :kind, :seconds, :coil_places, :warnings, :sha256, :size, :created)",
                {**row, "created": now()},
            )

    def _files(self) -> dict[str, Performance]:
        """Takes of the demo and of folders, loaded once."""
        with self._lock:
            if self._found is None:
                demo = {f"demo:{path.stem}": one for path, one in _usable([demo_folder()])}
                own: dict[str, Performance] = {}
                for path, one in _usable(self._places):
                    own[_own_id(path, own)] = one
                self._found = demo | own
            return self._found


@functools.cache
def demo_listener() -> Wiring:
    """Return the wiring on which the list describes coil places."""
    return load_wiring(demo_folder() / "baritone.yaml")


def _own_id(path: Path, taken: Iterable[str]) -> str:
    """``file:stem``, numbered if two folders hold files of one name."""
    name, number = f"file:{path.stem}", 1
    while name in taken:
        number += 1
        name = f"file:{path.stem}:{number}"
    return name


def _usable(places: Iterable[Path]) -> Iterable[tuple[Path, Performance]]:
    demo = demo_folder().resolve()
    for place in places:
        if place != demo_folder() and place.resolve() == demo:
            continue  # the demo is in the list already
        for found in find_takes([place] if place.is_dir() else []):
            if found.performance is not None:
                yield found.path, found.performance


def _row_of(take_id: str, performance: Performance) -> TakeRow:
    take = performance.take
    return TakeRow(
        take_id,
        take.name or performance.name,
        take.kind,
        round(performance.seconds, 3),
        performance.coil_places(demo_listener()),
        performance.warnings,
    )
