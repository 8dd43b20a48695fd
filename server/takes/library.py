"""The takes there are to listen to: the demo's, those of folders, and those brought in.

A take brought in lies in a folder of its own, ``takes/<id>/``: the sound file as it was sent,
named by its SHA-256, and a take file made from what was said of it. Its row in the database is
written last, so that whatever is listed is there whole.
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
from server.wirings.text import load_wiring

TAKES = "takes"
TAKE_FILE = "take.yaml"


@dataclass(frozen=True)
class Listed:
    """A take as the page lists it.

    Attributes
    ----------
    id : str
        ``demo:…``, ``file:…``, or of one brought in.
    name, kind : str
    seconds : float
    coil_places : str
        Whether the coils' places are in the sound.
    warnings : tuple of str
    """

    id: str
    name: str
    kind: str
    seconds: float
    coil_places: str
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True)
class Brought:
    """A recording that was sent, examined and found to be a take.

    Attributes
    ----------
    id : str
    name, kind, coil_places : str
    seconds : float
    warnings : tuple of str
    sha256 : str
        Of the sound file as sent.
    size : int
        Its bytes.
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
    store : Store
    places : iterable of Path
        Files and folders, beside the demo, in which takes are looked for.
    """

    def __init__(self, store: Store, places: Iterable[Path] = ()) -> None:
        self.store = store
        self.folder = store.folder / TAKES
        self._places = tuple(places)
        self._lock = threading.Lock()
        self._found: dict[str, Performance] | None = None

    def listed(self) -> list[Listed]:
        """Every take: the demo's, the folders', those brought in."""
        found = [_listed(take_id, performance) for take_id, performance in self._files().items()]
        with self.store.read() as db:
            rows = db.execute("SELECT * FROM takes ORDER BY created, rowid").fetchall()
        return found + [
            Listed(
                row["id"], row["name"], row["kind"], row["seconds"], row["coil_places"],
                tuple(json.loads(row["warnings"])),
            )
            for row in rows
        ]  # fmt: skip

    def performance(self, take_id: str) -> Performance:
        """A take made ready to be heard.

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

    def add(self, take: Brought) -> None:
        """Write the row of a take whose files lie in their place."""
        row = asdict(take)
        row["warnings"] = json.dumps(take.warnings, ensure_ascii=False)
        with self.store.write() as db:
            db.execute(
                "INSERT INTO takes (id, name, kind, seconds, coil_places, warnings, sha256, bytes, created)"
                " VALUES (:id, :name, :kind, :seconds, :coil_places, :warnings, :sha256, :size, :created)",
                {**row, "created": now()},
            )

    def _files(self) -> dict[str, Performance]:
        """Takes that lie in files, looked at once."""
        with self._lock:
            if self._found is None:
                demo = {f"demo:{path.stem}": one for path, one in _usable([demo_folder()])}
                own: dict[str, Performance] = {}
                for path, one in _usable(self._places):
                    own[_own_id(path, own)] = one
                self._found = demo | own
            return self._found


@functools.cache
def listening() -> Wiring:
    """The wiring by which the list tells what is heard of coils' places."""
    return load_wiring(demo_folder() / "baritone.yaml")


def _own_id(path: Path, taken: Iterable[str]) -> str:
    """``file:stem``, numbered where two folders hold files of one name."""
    name, number = f"file:{path.stem}", 1
    while name in taken:
        number += 1
        name = f"file:{path.stem}:{number}"
    return name


def _usable(places: Iterable[Path]) -> Iterable[tuple[Path, Performance]]:
    demo = demo_folder().resolve()
    for place in places:
        if place != demo_folder() and place.resolve() == demo:
            continue  # served by name: listed as the demo's already
        for found in find_takes([place] if place.is_dir() else []):
            if found.performance is not None:
                yield found.path, found.performance


def _listed(take_id: str, performance: Performance) -> Listed:
    take = performance.take
    return Listed(
        take_id,
        take.name or performance.name,
        take.kind,
        round(performance.seconds, 3),
        performance.coil_places(listening()),
        performance.warnings,
    )
