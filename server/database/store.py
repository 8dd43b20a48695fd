"""The database: one SQLite file, its migrations, and transactions to read or write in.

Every write is one IMMEDIATE transaction: a second writer waits at its start and never fails at its
end. Write-ahead mode with full synchronisation puts what was acknowledged on the disk. A killed
process or a power cut loses none of it.
"""

from __future__ import annotations

import contextlib
import datetime
import queue
import re
import secrets
import sqlite3
import unicodedata
from collections.abc import Iterator
from pathlib import Path

from dsp.errors import InputError
from server.refusals import Unavailable

FILE = "presolder.sqlite"
MARK = "presolder.in-use"
"""A file beside the database. While it is there, a missing database is an error, not a new start."""
MIGRATIONS = Path(__file__).with_name("migrations")
MIGRATION_NAME = re.compile(r"(\d{4})_(\w+)\.sql")
WAIT_MS = 10_000
"""Longest wait of a writer for another one."""
KEPT_OPEN = 16
"""Connections kept for the next request."""


def new_id() -> str:
    """Return an id that cannot be guessed: 72 random bits, URL-safe."""
    return secrets.token_urlsafe(9)


def now() -> str:
    """Return this moment: UTC, ISO 8601 with milliseconds."""
    moment = datetime.datetime.now(datetime.UTC)
    return moment.isoformat(timespec="milliseconds").replace("+00:00", "Z")


class Store:
    """The database of one data folder.

    Parameters
    ----------
    folder : Path
        Made, readable by its owner only, if it is not there.

    Raises
    ------
    InputError
        If the folder or the file cannot be used, or the database was written by a newer program.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.path = folder / FILE
        self._idle: queue.LifoQueue[sqlite3.Connection] = queue.LifoQueue(KEPT_OPEN)
        try:
            folder.mkdir(parents=True, exist_ok=True, mode=0o700)
            _require_content(self.path, folder / MARK)
            with self._connection() as db:
                _migrate(db, self.path)
            (folder / MARK).touch()
            self._place = _place_of(self.path)
        except OSError as error:
            raise InputError(str(folder), error.strerror or str(error), "a folder to keep data in") from error
        except sqlite3.DatabaseError as error:
            allowed = "a database of this program, in a folder that can be written"
            raise InputError(str(self.path), str(error), allowed) from error

    @contextlib.contextmanager
    def read(self) -> Iterator[sqlite3.Connection]:
        """Open a transaction that sees one moment of the database.

        Yields
        ------
        sqlite3.Connection
            Rows are `sqlite3.Row`.

        Raises
        ------
        Unavailable
            If the database cannot be read.
        """
        with self._transaction("BEGIN DEFERRED") as db:
            yield db

    @contextlib.contextmanager
    def write(self) -> Iterator[sqlite3.Connection]:
        """Open a transaction that is committed when the block ends well.

        Raises
        ------
        Unavailable
            If the database cannot be written (disk full, locked for too long). Whatever the
            block raises passes through. Either way nothing was changed.
        """
        with self._transaction("BEGIN IMMEDIATE") as db:
            yield db

    @contextlib.contextmanager
    def _transaction(self, begin: str) -> Iterator[sqlite3.Connection]:
        try:
            with self._connection() as db:
                db.execute(begin)
                try:
                    yield db
                    self._require_in_place()
                    db.execute("COMMIT")
                except BaseException:
                    if db.in_transaction:
                        db.execute("ROLLBACK")
                    raise
        except sqlite3.OperationalError as error:
            raise Unavailable("the database", str(error), "try again; nothing was changed") from error

    def _require_in_place(self) -> None:
        """Refuse to acknowledge a write into a file that no longer has its name.

        An open database lives on after its folder was deleted or another file put in its place.
        """
        if self._place != _place_of(self.path):
            allowed = "the folder as it was when the server started: put it back, or start the server again"
            raise Unavailable(str(self.path), "a database that was deleted or replaced", allowed)

    @contextlib.contextmanager
    def _connection(self) -> Iterator[sqlite3.Connection]:
        """Lend a connection to this thread; the next one gets it afterwards."""
        try:
            db = self._idle.get_nowait()
        except queue.Empty:
            db = _connect(self.path)
        try:
            yield db
        except sqlite3.Error:
            db.close()  # the next request opens a new one
            raise
        except BaseException:
            self._keep(db)
            raise
        else:
            self._keep(db)

    def _keep(self, db: sqlite3.Connection) -> None:
        try:
            self._idle.put_nowait(db)
        except queue.Full:
            db.close()

    def close(self) -> None:
        """Close the connections that nobody is using."""
        with contextlib.suppress(queue.Empty):
            while True:
                self._idle.get_nowait().close()


def _require_content(path: Path, mark: Path) -> None:
    """Refuse to start with an empty database in a folder that had one.

    Raises
    ------
    InputError
        If the database is gone, or was cut to nothing, in a folder that had one.
    """
    if mark.exists() and not (path.exists() and path.stat().st_size):
        got = "an empty file" if path.exists() else "no file"
        allowed = f"the database of this folder, from a backup; to start anew, delete {mark.name} beside it"
        raise InputError(str(path), f"{got} where there was a database", allowed)


def _place_of(path: Path) -> tuple[int, int] | None:
    """Return the device and number of the file at a path, None if there is none."""
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_dev, found.st_ino


def folded(text: str) -> str:
    """Return a text as search compares it, without regard to case."""
    return unicodedata.normalize("NFKC", text).casefold()


class _Connection(sqlite3.Connection):
    """A connection that closes when its last reference goes."""

    def __del__(self) -> None:
        """Close it: Python 3.13 and later warn of open ones."""
        self.close()


def _connect(path: Path) -> sqlite3.Connection:
    db = sqlite3.connect(
        path,
        isolation_level=None,
        check_same_thread=False,
        timeout=WAIT_MS / 1000,
        factory=_Connection,
    )
    db.row_factory = sqlite3.Row
    db.create_function("folded", 1, folded, deterministic=True)
    for pragma in (
        f"busy_timeout = {WAIT_MS}",
        "journal_mode = WAL",
        "synchronous = FULL",
        "foreign_keys = ON",
        "recursive_triggers = ON",  # so that a REPLACE does not get past the triggers on deleting
        "trusted_schema = OFF",
    ):
        db.execute(f"PRAGMA {pragma}")
    return db


def migrations(folder: Path = MIGRATIONS) -> list[tuple[int, str, str]]:
    """Return the number, name and SQL of each migration, in order."""
    found = []
    for path in sorted(folder.glob("*.sql")):
        match = MIGRATION_NAME.fullmatch(path.name)
        assert match, f"{path.name}: a migration is named 0001_what.sql"
        found.append((int(match[1]), match[2], path.read_text(encoding="utf-8")))
    assert [number for number, _, _ in found] == list(range(1, len(found) + 1)), "migrations count from 1"
    return found


def _migrate(db: sqlite3.Connection, path: Path) -> None:
    """Apply the missing migrations, each whole or not at all."""
    known = migrations()
    db.execute(
        "CREATE TABLE IF NOT EXISTS schema_version"
        " (number INTEGER PRIMARY KEY, name TEXT NOT NULL, applied TEXT NOT NULL) STRICT"
    )
    for number, name, sql in known:
        db.execute("BEGIN IMMEDIATE")  # another server on the same folder may be at it too
        try:
            if _version(db) < number:
                for statement in _statements(sql):
                    db.execute(statement)
                db.execute("INSERT INTO schema_version VALUES (?, ?, ?)", (number, name, now()))
            db.execute("COMMIT")
        except BaseException:
            if db.in_transaction:
                db.execute("ROLLBACK")
            raise
    if _version(db) > len(known):
        got = f"a database of version {_version(db)}"
        allowed = f"up to version {len(known)}, which this program knows"
        raise InputError(str(path), got, allowed, "a newer Presolder wrote it: use that one")


def _version(db: sqlite3.Connection) -> int:
    row = db.execute("SELECT coalesce(max(number), 0) FROM schema_version").fetchone()
    return int(row[0])


def _statements(sql: str) -> Iterator[str]:
    """Split a script: `executescript` would end the transaction."""
    held = ""
    for line in sql.splitlines(keepends=True):
        held += line
        if sqlite3.complete_statement(held):
            yield held
            held = ""
    assert not held.strip() or all(line.startswith("--") or not line for line in held.splitlines())
