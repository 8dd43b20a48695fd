"""The strings are played once per instrument and take, however many jobs need them."""

from __future__ import annotations

from collections.abc import Hashable
from pathlib import Path

import pytest
from listing_case import catalogue, content, run

from dsp.takes import played
from server.listings.making.engines import InProcess
from server.listings.making.jobs import Job, PlayJob, RenderJob

SETTLED = "formats: [mp3]\npositions: [1, 5]\nclips:\n  - {name: open}\n"
SWEPT = SETTLED + "  - {name: swell, sweeps: [{knob: tone, from: 0, to: 10}]}\n"


class Noting(InProcess):
    """Runs jobs here, and notes them in the order in which they were handed over."""

    def __init__(self) -> None:
        super().__init__()
        self.jobs: list[Job] = []

    def submit(self, name: Hashable, work: Job) -> None:
        """Note a job."""
        self.jobs.append(work)
        super().submit(name, work)

    def run(self, path: Path) -> list[type[Job]]:
        """Run a listing; return the kinds of the jobs that play or render, in order."""
        run(path, self)
        return [type(job) for job in self.jobs if isinstance(job, PlayJob | RenderJob)]


@pytest.fixture
def performed(monkeypatch: pytest.MonkeyPatch) -> list[object]:
    """Note every time that strings are played."""
    found: list[object] = []
    perform = played.perform

    def noting(notes, setup, n_samples):  # type: ignore[no-untyped-def]
        found.append(notes)
        return perform(notes, setup, n_samples)

    monkeypatch.setattr(played, "perform", noting)
    return found


def test_a_take_of_several_jobs_is_played_before_they_run(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, performed: list[object]
) -> None:
    monkeypatch.setenv("PRESOLDER_CACHE", str(tmp_path / "cache"))
    kinds = Noting().run(catalogue(tmp_path, instruments=1, takes=2, more=SWEPT))
    assert kinds == [PlayJob, PlayJob, *[RenderJob] * 6]  # settled together, each sweep alone
    assert len(performed) == 2


def test_a_take_of_one_job_is_played_by_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, performed: list[object]
) -> None:
    monkeypatch.setenv("PRESOLDER_CACHE", str(tmp_path / "cache"))
    kinds = Noting().run(catalogue(tmp_path, instruments=1, takes=2, more=SETTLED))
    assert kinds == [RenderJob, RenderJob]
    assert len(performed) == 2


def test_without_a_cache_nothing_is_played_ahead_and_the_files_are_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, performed: list[object]
) -> None:
    path = catalogue(tmp_path, instruments=1, more=SWEPT)
    monkeypatch.setenv("PRESOLDER_CACHE", str(tmp_path / "cache"))
    run(path)
    before = content(tmp_path / "out", own=False)
    path.write_text(path.read_text("utf-8").replace("out: out", "out: other"), "utf-8")
    monkeypatch.setenv("PRESOLDER_CACHE", "")
    performed.clear()
    assert Noting().run(path) == [RenderJob] * 3
    assert len(performed) == 3
    assert content(tmp_path / "other", own=False) == before
