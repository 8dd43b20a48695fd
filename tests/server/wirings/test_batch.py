"""Wirings parsed from texts: here or in a helper process alike; the last used stay cached."""

from __future__ import annotations

import pytest

from server.paths import demo_folder
from server.processes.helper import Helper
from server.refusals import Unavailable
from server.wirings import batch as wirings_read
from server.wirings.batch import FEW, Wirings, read_one

TEXT = (demo_folder() / "baritone.yaml").read_text(encoding="utf-8")
MANY = [(TEXT.replace("4.1 kΩ", f"4.{n} kΩ"), f"w{n}.yaml") for n in range(1, FEW + 2)] + [
    ("parts: x", "bad.yaml")
]


def test_many_are_read_in_a_helper_with_the_same_result(monkeypatch: pytest.MonkeyPatch) -> None:
    here = {text: read_one(text) for text in MANY}
    monkeypatch.setattr(wirings_read, "read_one", None)  # whoever reads, it is not this process
    wirings = Wirings()
    assert wirings.read(MANY) == here
    assert isinstance(here[MANY[-1]], tuple), "its problems"
    assert wirings.read(MANY) == here  # kept: nothing is read again


def test_they_are_read_here_where_no_process_can_start(monkeypatch: pytest.MonkeyPatch) -> None:
    def refused(*_: object) -> None:
        raise Unavailable("reading wirings", "no process", "try again")

    monkeypatch.setattr(Helper, "call", refused)
    assert Wirings().read(MANY) == {text: read_one(text) for text in MANY}


def test_the_last_used_stay_cached(monkeypatch: pytest.MonkeyPatch) -> None:
    seen: list[str] = []
    monkeypatch.setattr(wirings_read, "MOST_KEPT", 2)
    monkeypatch.setattr(wirings_read, "read_one", lambda text: seen.append(text[1]) or ())
    wirings = Wirings()
    for name in ("a", "b", "a", "c", "a", "b"):
        wirings.read([("", name)])
    assert seen == ["a", "b", "c", "b"]
