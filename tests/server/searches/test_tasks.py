"""A search in the server, without its process: its followers and its reports."""

from __future__ import annotations

import pytest

from server.processes.reports import Update
from server.refusals import Unavailable, Unknown
from server.searches import tasks
from server.searches.tasks import ALONE_S, Task


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> list[float]:
    """The clock of the search, s."""
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
    one.restore({"values": {}, "texts": {}})
    clock[0] += 100.0 * ALONE_S
    assert not one.alone


def test_a_report_is_news_and_replaces_one_of_the_same_name() -> None:
    one = task()
    before = one.news
    one.take(Update({"phase": "sounds", "share": 0.5}, {}))
    one.take(Update({"phase": "searching"}, {"map": '{"points":[]}'}))
    assert one.news == before + 2
    state = one.state()
    assert (state["phase"], state["share"], state["has"]) == ("searching", 0.5, ["map"])
    assert one.large("map") == '{"points":[]}'
    with pytest.raises(Unknown):
        one.large("drawing")


def test_a_search_fails_where_no_process_can_start(monkeypatch: pytest.MonkeyPatch) -> None:
    def refused(*_: object, **__: object) -> None:
        raise Unavailable("a process beside this one", "no memory", "fewer programs at once")

    monkeypatch.setattr(tasks, "Reports", refused)
    one = task()
    one.run()
    assert one.state()["state"] == "failed"
    assert one.state()["problems"][0][1] == "no memory"
