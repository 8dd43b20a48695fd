"""Sessions of the bench: random cookies, stored as SHA-256 and bound to the key."""

from __future__ import annotations

import datetime
import hashlib
import secrets

from server.database.store import Store, now

DAYS = 30


def key_mark(store: Store, key: str) -> str:
    """Return the hash of a key for the database; it is slow to guess from."""
    with store.write() as db:
        db.execute("INSERT OR IGNORE INTO secrets VALUES ('salt', ?)", (secrets.token_bytes(32),))
        salt = db.execute("SELECT value FROM secrets WHERE name = 'salt'").fetchone()[0]
    return hashlib.scrypt(key.encode(), salt=salt, n=1 << 14, r=8, p=1).hex()


def open_session(store: Store, mark: str) -> str:
    """Open a session and return its cookie."""
    token = secrets.token_urlsafe(32)
    moment = datetime.datetime.now(datetime.UTC) + datetime.timedelta(days=DAYS)
    expires = moment.isoformat(timespec="milliseconds").replace("+00:00", "Z")
    with store.write() as db:
        db.execute("DELETE FROM sessions WHERE expires < ?", (now(),))
        row = (_digest(token), mark, expires)
        db.execute("INSERT INTO sessions (digest, key_mark, expires) VALUES (?, ?, ?)", row)
    return token


def is_open(store: Store, mark: str, token: str) -> bool:
    """Whether a cookie belongs to a session of this key that has not ended."""
    with store.read() as db:
        row = db.execute(
            "SELECT 1 FROM sessions WHERE digest = ? AND key_mark = ? AND expires > ? AND ended IS NULL",
            (_digest(token), mark, now()),
        ).fetchone()
    return row is not None


def end(store: Store, token: str) -> None:
    """End a session; its cookie opens nothing from then on."""
    with store.write() as db:
        db.execute(
            "UPDATE sessions SET ended = ? WHERE digest = ? AND ended IS NULL", (now(), _digest(token))
        )


def _digest(token: str) -> str:
    return hashlib.sha256(token.encode("utf-8", "replace")).hexdigest()
