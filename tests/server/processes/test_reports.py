"""Reports of a child on its task: unchanged, within their deadline."""

from __future__ import annotations

import json
import os
import time
from typing import Any

import pytest

from server.processes.child import Work
from server.processes.parent import Parent
from server.processes.reports import Reports, Update, read_task, read_update, reporter


class Sent:
    """Stands in for a parent and keeps what it is sent."""

    def __init__(self) -> None:
        self.frames: list[bytes] = []

    def send(self, content: bytes) -> None:
        self.frames.append(content)


@pytest.mark.parametrize("text", ["plain", "two\nlines and a\u2028third", "22 nF, 500 kΩ", ""])
def test_a_report_arrives_as_it_was_sent(text: str) -> None:
    sent = Sent()
    report = reporter(sent, ("map", "sheet"))  # type: ignore[arg-type]
    report(phase=text, share=0.5)
    report(sheet=text, map={"points": [text]}, phase="done")
    report(map=[text])
    first, second, third = map(read_update, sent.frames)
    assert first == Update({"phase": text, "share": 0.5}, {})
    assert second.values == {"phase": "done"}
    assert {name: json.loads(one) for name, one in second.texts.items()} == {
        "map": {"points": [text]}, "sheet": text,
    }  # fmt: skip
    assert (third.values, json.loads(third.texts["map"])) == ({}, [text])


def work_on(parent: Parent) -> None:
    """Runs in the child: report, ask for time if told to, then sleep."""
    task = read_task(parent)
    report = reporter(parent, ())
    report(echo=task)
    for left_s in task["left_s"]:
        report(left_s=left_s)
        time.sleep(task["sleep_s"])
    report(end=True)


def ask(**task: Any) -> tuple[Reports, list[Update]]:
    reports = Reports(Work(f"{__name__}:work_on"), grace_s=0.0)
    return reports, list(reports.ask(task, 20.0))


def test_requested_time_starts_a_new_deadline() -> None:
    reports, updates = ask(left_s=[600.0, 600.0], sleep_s=0.1)
    assert not reports.late
    assert reports.end() == 0
    assert updates[0].values == {"echo": {"left_s": [600.0, 600.0], "sleep_s": 0.1}}
    assert updates[-1].values == {"end": True}


def test_it_is_ended_after_its_requested_time() -> None:
    reports, updates = ask(left_s=[0.1, 600.0], sleep_s=600.0)
    assert reports.late
    assert reports.end() < 0
    assert [one.values for one in updates[1:]] == [{}]


def test_a_killed_child_reports_no_more() -> None:
    reports = Reports(Work(f"{__name__}:work_on"), grace_s=0.0)
    updates = reports.ask({"left_s": [600.0], "sleep_s": 600.0}, 20.0)
    assert next(updates).values["echo"]
    reports.kill()
    assert [one.values for one in updates] in ([], [{}])
    assert not reports.late
    with pytest.raises(ProcessLookupError):
        os.kill(reports.pid, 0) if reports.end() else None
