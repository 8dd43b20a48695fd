"""The process that renders the clips of proposals.

A job is one proposal with one take: all of its items are rendered as a set, level-matched to
one loudness for fair listening. Each clip has a gain that restores the true differences, the
loudest of the set at 0 dB. So one file serves both ways of listening, and nothing ever plays
louder than the matched clips. Files are named by their content; an interrupted job is done again.
"""

from __future__ import annotations

import logging
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from dsp.errors import InputError
from dsp.takes.performance import Performance
from server.clips.keys import take_key
from server.clips.plan import ClipPlan, plan_clip
from server.database.store import Store
from server.files.audio_out import Encoding
from server.files.lock import sole_worker
from server.processes.child import Work
from server.processes.keeper import PAUSE_S, Keeper
from server.processes.parent import Parent
from server.proposals import queue as clip_queue
from server.proposals.clip_files import clips_folder, keep_clip, making_folder, sweep
from server.proposals.describe import read_version
from server.proposals.pictures import keep_pictures
from server.proposals.queue import Job, Made
from server.settings import Settings
from server.takes.library import Library

RATE_HZ = 48_000
LOUDNESS_LUFS = -23.0
"""Of every clip (EBU R 128); leaves room for the peaks of plucked strings below -1 dBTP. A set whose
peaks need still more comes down together."""
ENCODINGS = (Encoding("flac", "16"), Encoding("mp3", quality=0.7))
WRITE_EVERY_S = 0.3
log = logging.getLogger("presolder")


@dataclass
class ProgressWriter:
    """Writes the progress of a job to the database, not too often."""

    store: Store
    job: Job
    seconds: float
    done_s: float = 0.0
    written_s: float = 0.0

    def __call__(self, seconds: float) -> None:
        self.done_s += seconds
        if time.monotonic() - self.written_s >= WRITE_EVERY_S:
            self.written_s = time.monotonic()
            clip_queue.save_progress(self.store, self.job, min(0.95 * self.done_s / self.seconds, 0.95))


def render_job(
    data: Path, items: Sequence[dict[str, Any]], performance: Performance, progress: Callable[[float], None]
) -> list[Made]:
    """Render the clips of a set of items with one take and store them.

    Parameters
    ----------
    items : sequence of dict
        As `clip_queue.items_to_render` gives them.
    progress : callable
        Called with seconds of sound done since the last call.

    Raises
    ------
    InputError
        If the take does not fit a wiring, or a file cannot be written.
    """
    from server.clips.render import RenderOptions, render_set

    plans = [_plan(item, performance) for item in items]
    with making_folder(data) as out:
        options = RenderOptions(RATE_HZ, ENCODINGS, LOUDNESS_LUFS)
        entries = {entry["file"]: entry for entry in render_set(plans, out, options, progress=progress)}
        key = take_key(performance)
        made = [_stored(data, out, entries, item["number"], key) for item in items]
    return _with_wired_gains(made)


def _plan(item: dict[str, Any], performance: Performance) -> ClipPlan:
    wiring = read_version(item["text"])
    plan = plan_clip(wiring, performance, wiring.setting(item["position"], item["knobs"], item["switches"]))
    return ClipPlan(plan.wiring, performance, plan.setting, (), (), _stem(item["number"]))


def _stem(number: int) -> str:
    return f"item-{number}"


def _stored(data: Path, out: Path, entries: dict[str, dict[str, Any]], number: int, key: str) -> Made:
    flac, mp3 = (entries[f"{_stem(number)}.{ending}"] for ending in ("flac", "mp3"))
    record = {name: value for name, value in flac.items() if name not in ("file", "wiring_file", "take_file")}
    return Made(
        number=number,
        flac_sha256=keep_clip(data, out / flac["file"]),
        mp3_sha256=keep_clip(data, out / mp3["file"]),
        frames=flac["samples"],
        rate_hz=flac["rate_hz"],
        loudness_lufs=flac["loudness_lufs"],
        wired_gain_db=-flac["gain_db"],
        record={**record, "take_key": key},
    )


def _with_wired_gains(made: Sequence[Made]) -> list[Made]:
    """Gains that undo the matching, the loudest clip of the set at 0 dB."""
    loudest = max((one.wired_gain_db for one in made if one.loudness_lufs is not None), default=0.0)
    return [
        Made(**{**one.__dict__, "wired_gain_db": round(min(one.wired_gain_db - loudest, 0.0), 3)
                if one.loudness_lufs is not None else 0.0})
        for one in made
    ]  # fmt: skip


class ClipKeeper(Keeper):
    """Keeps a process at the queue of clips."""

    def __init__(self, settings: Settings, store: Store) -> None:
        self._store = store
        folders = (settings.data, *settings.places)
        super().__init__("clips", Work(f"{__name__}:main"), *(str(folder.resolve()) for folder in folders))

    def waiting(self) -> bool:
        """Whether a job has not ended."""
        return clip_queue.waiting(self._store) > 0

    def interrupted(self, *, died: bool) -> None:
        """Do nothing: the next worker queues again what this one left."""


def main(parent: Parent, data: str, *places: str) -> None:
    """Do every job that waits, then end.

    Parameters
    ----------
    data : str
        Folder of the database.
    *places : str
        In which takes are looked for.
    """
    empty_queue(Path(data), [Path(place) for place in places])


def empty_queue(data: Path, places: Sequence[Path]) -> None:
    """Do every job that waits, as the only worker; none if there is another."""
    with sole_worker(clips_folder(data)) as alone:
        if not alone:
            time.sleep(PAUSE_S)
            return
        sweep(data)
        store = Store(data)
        library = Library(store, places)
        clip_queue.requeue_interrupted(store)
        while job := clip_queue.take_next(store):
            _do(store, library, job)
        store.close()


def _do(store: Store, library: Library, job: Job) -> None:
    try:
        performance = library.performance(job.take)
        items = clip_queue.items_to_render(store, job)
        keep_pictures(store, job.proposal, items)
        progress = ProgressWriter(store, job, max(performance.seconds * len(items), 1e-3))
        clip_queue.finish(store, job, render_job(store.folder, items, performance, progress))
    except InputError as error:
        clip_queue.fail(store, job, str(error))
    except Exception:
        log.exception("rendering the clips of a proposal")
        clip_queue.fail(store, job, "an error of the program's own; its log says more")
