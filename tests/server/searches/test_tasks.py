"""A search in the server, without its process: its followers and its reports."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import pytest

from server.processes.reports import Update
from server.refusals import Unavailable, Unknown
from server.searches import tasks
from server.searches.tasks import ALONE_S, Task, Tasks


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


def test_room_is_made_among_searches_of_the_same_kind(clock: list[float]) -> None:
    every = Tasks()
    mine, other = (Task(kind, kind, "text", {}, 1.0) for kind in ("range", "travel"))
    for one in (mine, other):
        every._keep(one)
    clock[0] += 2.0 * ALONE_S
    assert mine.alone
    assert other.alone
    every._make_room("range")
    assert (mine._wish, other._wish) == ("cancelled", "")


@pytest.mark.parametrize(("reported", "state"), [({"answered": True}, "done"), ({"share": 0.5}, "time")])
def test_a_search_whose_time_is_over_is_done_if_it_has_an_answer(
    monkeypatch: pytest.MonkeyPatch, reported: Mapping[str, Any], state: str
) -> None:
    class LateReports:
        late = True

        def __init__(self, *_: object, **__: object) -> None:
            pass

        def ask(self, *_: object) -> Iterator[Update]:
            yield Update(dict(reported), {})

        def end(self) -> int:
            return -9

    monkeypatch.setattr(tasks, "Reports", LateReports)
    monkeypatch.setattr(tasks.results, "save", lambda *_: None)
    one = task()
    one.run()
    assert one.state()["state"] == state
