"""A search as the server knows it, without its process: who follows it, and lines that a kill cuts off."""

from __future__ import annotations

import pytest

from server.refusals import Unknown
from server.searches import tasks
from server.searches.tasks import ALONE_S, Task


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> list[float]:
    """The time, s, that the search goes by."""
    now = [1000.0]
    monkeypatch.setattr(tasks.time, "monotonic", lambda: now[0])
    return now


def task() -> Task:
    return Task("name", "range", "text", {}, 1.0)


def test_a_search_that_is_followed_is_not_alone_however_long_it_takes(clock: list[float]) -> None:
    one = task()
    assert not one.alone
    with one.watched():
        clock[0] += 100.0 * ALONE_S
        assert not one.alone
    assert not one.alone, "its page asks again in a moment"
    clock[0] += 2.0 * ALONE_S
    assert one.alone


def test_a_search_that_has_ended_is_not_alone(clock: list[float]) -> None:
    one = task()
    one.restore({"told": {}, "large": {}})
    clock[0] += 100.0 * ALONE_S
    assert not one.alone


def test_lines_that_a_kill_cut_off_are_passed_over() -> None:
    one = task()
    one._hear('{"phase": "searching"}\n')
    before = one.news
    one._hear('map {"points": [')
    one._hear('{"set": {"row')
    assert one.news == before
    assert one.state()["has"] == []
    with pytest.raises(Unknown):
        one.large("map")
    one._hear('map {"points": []}\n')
    assert one.large("map") == '{"points": []}\n'
    assert one.state()["phase"] == "searching"
