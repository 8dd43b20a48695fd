"""Versions for other rooms: the texts of the wirings changed last."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from dsp.wiring.editing.document import Edit
from server.commissions import store as commissions
from server.commissions import versions
from server.commissions.starters import STARTERS
from server.database.store import Store
from server.refusals import Unknown

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


def test_versions_say_what_they_changed(store: Store) -> None:
    made = commissions.create(store, "One", "", {"a": TEXT})
    wiring = commissions.get_commission(store, made)["wirings"][0]
    first = wiring["versions"][0]["id"]
    assert versions.changes(store, wiring["id"]) == {}
    edits = [Edit(("parts", "tone_cap", "capacitance"), "1 nF")]
    second = versions.save(store, wiring["id"], first, edits).id
    third = versions.save(store, wiring["id"], second, [Edit(("load", "cable", "length"), "3 m")]).id
    assert versions.changes(store, wiring["id"]) == {
        second: ["tone capacitor 1 nF"],
        third: ["cable length 3 m"],
    }
    with pytest.raises(Unknown):
        versions.changes(store, "nothing")
