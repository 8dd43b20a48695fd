"""The workshop's name, contact and picture in the database."""

from __future__ import annotations

import hashlib
import sqlite3
from dataclasses import dataclass

from server.database.store import Store
from server.files.pictures import SMALL_SIDE, picture_for_page


@dataclass(frozen=True)
class Workshop:
    """Who proposes.

    Attributes
    ----------
    contact : str
        One line: how to reach it.
    picture : bytes or None
        A JPEG that was made here.
    sha256 : str
        Of the picture; empty without one.
    """

    name: str
    contact: str
    picture: bytes | None
    sha256: str

    @property
    def is_known(self) -> bool:
        """Return whether there is anything to show."""
        return bool(self.name or self.contact or self.picture)


def workshop_of(db: sqlite3.Connection) -> Workshop:
    """Return the workshop; empty texts until they are set."""
    row = db.execute("SELECT name, contact, picture, sha256 FROM workshop").fetchone()
    return Workshop(*row)


def get_workshop(store: Store) -> Workshop:
    """Return the workshop in a transaction of its own."""
    with store.read() as db:
        return workshop_of(db)


def set_texts(store: Store, name: str, contact: str) -> None:
    """Set name and contact."""
    with store.write() as db:
        db.execute("UPDATE workshop SET name = ?, contact = ?", (name, contact))


def set_picture(store: Store, content: bytes | None) -> None:
    """Set the picture from a file's content, or take it away.

    Raises
    ------
    InputError
        If it is no picture that can be read; nothing changes then.
    """
    picture = None if content is None else picture_for_page(content, SMALL_SIDE)
    sha256 = hashlib.sha256(picture).hexdigest() if picture else ""
    with store.write() as db:
        db.execute("UPDATE workshop SET picture = ?, sha256 = ?", (picture, sha256))
