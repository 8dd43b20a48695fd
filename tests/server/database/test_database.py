"""The database: its migrations, its transactions, and its protected rows."""

from __future__ import annotations

import shutil
import sqlite3
import threading
from pathlib import Path

import pytest

from dsp.errors import InputError
from server.commissions import store as commissions
from server.commissions.starters import STARTERS
from server.database import store as database
from server.database.store import FILE, MARK, Store, folded, migrations
from server.refusals import Unavailable

TEXT = STARTERS["blank"].text()


@pytest.fixture
def store(tmp_path: Path) -> Store:
    return Store(tmp_path / "data")


def test_a_new_database_is_durable_and_strict(store: Store) -> None:
    with store.read() as db:
        asked = ("journal_mode", "synchronous", "foreign_keys", "recursive_triggers")
        found = [db.execute(f"PRAGMA {name}").fetchone()[0] for name in asked]
        assert found == ["wal", 2, 1, 1]  # 2: FULL
        assert db.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
        tables = db.execute("SELECT name, strict FROM pragma_table_list WHERE schema = 'main'").fetchall()
    assert all(row["strict"] for row in tables if not row["name"].startswith("sqlite_"))
    assert len(tables) > 5


def test_only_the_owner_may_look_into_a_new_data_folder(store: Store) -> None:
    assert store.folder.stat().st_mode & 0o077 == 0


def test_every_migration_is_recorded_once(store: Store) -> None:
    Store(store.folder).close()
    with store.read() as db:
        rows = db.execute("SELECT number, name FROM schema_version ORDER BY number").fetchall()
    assert [tuple(row) for row in rows] == [(number, name) for number, name, _ in migrations()]


@pytest.mark.parametrize("upto", range(1, len(migrations()) + 1))
def test_a_database_of_any_earlier_version_is_migrated_with_its_rows(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, upto: int
) -> None:
    every = migrations()
    with monkeypatch.context() as patch:
        patch.setattr(database, "migrations", lambda: every[:upto])
        old = Store(tmp_path)
        made = commissions.create(old, "Old", "", {"Blank": TEXT})
        old.close()
    new = Store(tmp_path)
    assert commissions.get_commission(new, made)["title"] == "Old"
    with new.read() as db:
        assert db.execute("SELECT count(*) FROM schema_version").fetchone()[0] == len(every)


def test_a_database_of_a_newer_program_is_refused_and_left_alone(store: Store) -> None:
    with store.write() as db:
        db.execute("INSERT INTO schema_version VALUES (9999, 'what_will_be', 'some day')")
    before = (store.folder / FILE).read_bytes()
    with pytest.raises(InputError, match="newer Presolder") as caught:
        Store(store.folder)
    assert "9999" in caught.value.problems[0].got
    assert (store.folder / FILE).read_bytes() == before


def test_a_migration_that_fails_leaves_nothing_behind(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    broken = [*migrations(), (len(migrations()) + 1, "broken", "CREATE TABLE half (x) STRICT;\nNONSENSE;\n")]
    with monkeypatch.context() as patch:
        patch.setattr(database, "migrations", lambda: broken)
        with pytest.raises(InputError, match="a database of this program"):
            Store(tmp_path)
    with Store(tmp_path).read() as db:
        assert db.execute("SELECT count(*) FROM sqlite_master WHERE name = 'half'").fetchone()[0] == 0


@pytest.mark.parametrize("content", [b"format: 1\n" * 500, bytes(range(256)) * 40])
def test_a_file_that_is_not_a_database_is_refused(tmp_path: Path, content: bytes) -> None:
    (tmp_path / FILE).write_bytes(content)
    with pytest.raises(InputError, match="a database of this program"):
        Store(tmp_path)
    assert (tmp_path / FILE).read_bytes() == content


def test_a_data_folder_that_is_a_file_is_refused(tmp_path: Path) -> None:
    (tmp_path / "data").write_text("a file")
    with pytest.raises(InputError, match="a folder to keep data in"):
        Store(tmp_path / "data")


@pytest.mark.parametrize(
    "sql",
    [
        "UPDATE versions SET text = 'other'",
        "UPDATE versions SET note = 'other'",
        "DELETE FROM versions",
        "REPLACE INTO versions SELECT id, wiring_id, number, 'other', sha256, note, created FROM versions",
        "DELETE FROM wirings",
        "DELETE FROM commissions",
    ],
)
def test_protected_rows_cannot_change(store: Store, sql: str) -> None:
    commissions.create(store, "One", "", {"Blank": TEXT})
    with pytest.raises(sqlite3.IntegrityError, match=r"change|deleted"), store.write() as db:
        db.execute(sql)
    with store.read() as db:
        assert db.execute("SELECT text FROM versions").fetchone()[0] == TEXT
        assert db.execute("SELECT count(*) FROM wirings JOIN commissions").fetchone()[0] == 1


def test_a_row_needs_what_it_belongs_to(store: Store) -> None:
    with pytest.raises(sqlite3.IntegrityError, match="FOREIGN KEY"), store.write() as db:
        db.execute("INSERT INTO versions VALUES ('v', 'no such wiring', 1, '', '', '', '')")


def test_a_write_that_fails_changes_nothing(store: Store) -> None:
    made = commissions.create(store, "One", "", {})

    def half_way() -> None:
        with store.write() as db:
            db.execute("UPDATE commissions SET title = 'Two'")
            raise RuntimeError("half way")

    with pytest.raises(RuntimeError, match="half way"):
        half_way()
    assert commissions.get_commission(store, made)["title"] == "One"


def test_a_reader_sees_one_state(store: Store) -> None:
    made = commissions.create(store, "One", "", {})
    with store.read() as db:
        count = "SELECT title FROM commissions"
        assert db.execute(count).fetchone()[0] == "One"
        commissions.change(store, made, title="Two")
        assert db.execute(count).fetchone()[0] == "One"
    assert commissions.get_commission(store, made)["title"] == "Two"


def test_many_writers_at_once_lose_nothing(store: Store) -> None:
    made = commissions.create(store, "One", "", {"Blank": TEXT})
    wiring = commissions.get_commission(store, made)["wirings"][0]["id"]
    failures: list[BaseException] = []

    def add() -> None:
        from server.commissions.versions import add_version

        try:
            for _ in range(10):
                with store.write() as db:
                    add_version(db, wiring, TEXT, "")
        except BaseException as error:
            failures.append(error)

    threads = [threading.Thread(target=add) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert not failures
    with store.read() as db:
        numbers = [row[0] for row in db.execute("SELECT number FROM versions ORDER BY number")]
    assert numbers == list(range(1, 82))


def test_a_database_locked_for_too_long_is_reported(
    store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(database, "WAIT_MS", 50)
    other = Store(store.folder)
    other.close()
    with store.write(), pytest.raises(Unavailable, match="nothing was changed"), other.write():
        pass
    with other.write() as db:  # and works again
        db.execute("SELECT 1")


@pytest.mark.parametrize(("one", "other"), [("Straße", "STRASSE"), ("É", "é"), ("ﬁt", "FIT"), ("Ω", "ω")])
def test_search_folds_case_and_writing(one: str, other: str) -> None:
    assert folded(one) == folded(other)


def test_migrations_are_counted_without_gaps(tmp_path: Path) -> None:
    (tmp_path / "0002_second.sql").write_text("")
    with pytest.raises(AssertionError, match="count from 1"):
        migrations(tmp_path)
    (tmp_path / "first.sql").write_text("")
    with pytest.raises(AssertionError, match="named"):
        migrations(tmp_path)


# --- A database that is gone


def test_a_database_cut_to_nothing_is_noticed_at_the_start(tmp_path: Path) -> None:
    Store(tmp_path).close()
    for path in tmp_path.glob("presolder.sqlite*"):
        path.unlink() if path.name != FILE else path.write_bytes(b"")
    with pytest.raises(InputError, match="an empty file where there was a database") as refused:
        Store(tmp_path)
    assert MARK in str(refused.value)
    (tmp_path / FILE).unlink()
    with pytest.raises(InputError, match="no file where there was a database"):
        Store(tmp_path)
    (tmp_path / MARK).unlink()  # as the refusal advises
    Store(tmp_path).close()


def test_an_empty_file_in_a_new_folder_may_become_a_database(tmp_path: Path) -> None:
    """SQLite leaves one when it is killed before its first write."""
    (tmp_path / FILE).touch()
    Store(tmp_path).close()
    Store(tmp_path).close()


@pytest.mark.parametrize("replaced", [False, True], ids=["deleted", "replaced"])
def test_nothing_is_acknowledged_once_the_file_is_gone(tmp_path: Path, replaced: bool) -> None:
    store = Store(tmp_path / "data")
    shutil.rmtree(tmp_path / "data")
    if replaced:
        Store(tmp_path / "data").close()
    with pytest.raises(Unavailable, match="deleted or replaced"), store.write() as db:
        db.execute("INSERT INTO secrets VALUES ('x', X'00')")
    with pytest.raises(Unavailable, match="deleted or replaced"), store.read():
        pass
    store.close()
