"""The library of takes: the demo's, those of folders, and uploads.

The list is answered from names alone; `Library.examine` fills in what a recording holds.

An upload has a folder of its own, ``takes/<id>/``: the sound file as sent, named by its SHA-256, and
a take file written from the form. Its database row is written last, so that every take in the list
is complete.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from pathlib import Path

from dsp.errors import InputError, some
from dsp.takes.performance import Performance
from dsp.wiring.model import Wiring
from server.database.store import Store, now
from server.refusals import Unknown
from server.takes.folder_takes import READY, FolderTakes, TakeRow
from server.takes.load import load_take
from server.takes.playing import PlayingProcess

TAKES = "takes"
TAKE_FILE = "take.yaml"


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

    Attributes
    ----------
    coming : set of str
        Ids of uploads that are being received.
    """

    def __init__(self, store: Store, places: Iterable[Path] = ()) -> None:
        self.store = store
        self.folder = store.folder / TAKES
        self.coming: set[str] = set()
        self._in_folders = FolderTakes(places)
        self._playing = PlayingProcess()

    def list_takes(self) -> list[TakeRow]:
        """List the demo's takes, those of folders and uploads; examine none."""
        found = self._in_folders.rows()
        with self.store.read() as db:
            rows = db.execute("SELECT * FROM takes ORDER BY created, rowid").fetchall()
        return found + [
            TakeRow(
                row["id"], row["name"], row["kind"], row["seconds"], row["coil_places"],
                tuple(json.loads(row["warnings"])), READY,
            )
            for row in rows
        ]  # fmt: skip

    def row(self, take_id: str) -> TakeRow:
        """Return a take's row as it is.

        Raises
        ------
        Unknown
        """
        known = {one.id: one for one in self.list_takes()}
        if take_id not in known:
            raise Unknown("take", f"'{take_id}'", some(known))
        return known[take_id]

    def id_of(self, path: Path) -> str:
        """Return the id of a take file of the demo or of a folder.

        Raises
        ------
        InputError
            If it is none of them.
        """
        found = self._in_folders.id_of(path)
        if found is None:
            raise InputError(str(path), "no take", "a take file, or a sound file as a recording")
        return found

    def examine(self, take_id: str, wait_s: float | None = None) -> TakeRow:
        """Return a take's row once it is examined, or as it is after a time.

        Parameters
        ----------
        wait_s : float or None
            None for no limit.

        Raises
        ------
        Unknown
        """
        if take_id in self._in_folders:
            return self._in_folders.examine(take_id, wait_s)
        return self.row(take_id)

    def require(self, take_id: str, wait_s: float | None = None) -> TakeRow:
        """Return the row of a take that can be played; see `examine`.

        Raises
        ------
        Unknown
        InputError
            With the problems of a broken take.
        """
        row = self.examine(take_id, wait_s)
        if row.problems:
            raise InputError.of(row.problems)
        return row

    def performance(self, take_id: str) -> Performance:
        """Return a take ready to be heard.

        Raises
        ------
        Unknown
        InputError
            If its files can no longer be used.
        """
        if take_id in self._in_folders:
            return self._in_folders.performance(take_id)
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
        """End the processes that examine takes and play scores."""
        self._in_folders.close()
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
