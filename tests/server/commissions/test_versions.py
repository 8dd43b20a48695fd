"""Versions for other rooms: the texts of the wirings changed last."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from server.commissions import store as commissions
from server.commissions import versions
from server.commissions.starters import STARTERS
from server.database.store import Store
from server.wirings.text import Edit

TEXT = STARTERS["one_coil"].text()


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    made = Store(tmp_path)
    yield made
    made.close()


def named(name: str) -> str:
    """Return the text of a wiring with another name."""
    return versions.edit_text(TEXT, [Edit(("name",), name)], "wiring")


def test_the_newest_are_the_latest_texts_of_the_commissions_changed_last(store: Store) -> None:
    first = commissions.create(store, "First", "", {"a": named("a"), "b": named("b")})
    commissions.create(store, "Second", "", {"c": named("c")})
    assert versions.newest(store, 3) == [named("c"), named("a"), named("b")]
    assert versions.newest(store, 2) == [named("c"), named("a")]
    wiring = commissions.get_commission(store, first)["wirings"][1]
    versions.save(store, wiring["id"], wiring["versions"][-1]["id"], [Edit(("name",), "b2")])
    assert versions.newest(store, 9) == [named("a"), named("b2"), named("c")]


def test_archived_commissions_have_no_newest(store: Store) -> None:
    away = commissions.create(store, "Away", "", {"a": named("a")})
    commissions.create(store, "Used", "", {"b": named("b")})
    commissions.change(store, away, archived=True)
    assert versions.newest(store, 9) == [named("b")]
