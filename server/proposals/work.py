"""Renders the clips of proposals in one worker process, off a queue.

A job is one proposal with one take: all of its items are rendered as a set, level-matched to
one loudness for fair listening. With each clip goes the gain that gives back the true
differences, the loudest of the set at 0 dB: so one file serves both ways of listening, and
nothing ever plays louder than the matched clips. Files are kept by their content; a job that
was interrupted is done again.
"""

from __future__ import annotations

import logging
import multiprocessing
import os
import signal
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from multiprocessing.process import BaseProcess
from pathlib import Path
from typing import Any

from dsp.errors import InputError
from dsp.takes.performance import Performance
from server.clips.plan import ClipPlan, plan_clip
from server.database.store import Store
from server.files.audio_out import Encoding
from server.files.lock import sole_worker
from server.processes.queue import ENDS_WITHIN_S, LOOK_EVERY_S, PAUSE_S, QueueKeeper
from server.proposals import queue as clip_queue
from server.proposals.clip_files import clips_folder, keep_clip, making_folder
from server.proposals.describe import read_version
from server.proposals.queue import Job, Made
from server.settings import Settings
from server.takes.library import Library

RATE_HZ = 48_000
LOUDNESS_LUFS = -23.0
"""Of every clip (EBU R 128); leaves room for the peaks of plucked strings below -1 dBTP. A set whose
peaks need still more comes down together."""
ENCODINGS = (Encoding("flac", "16"), Encoding("mp3", quality=0.7))
TELL_EVERY_S = 0.3
log = logging.getLogger("presolder")


class Orphaned(BaseException):
    """The server is gone: whoever starts next goes on with the queue."""


@dataclass
class _Teller:
    """Notes how far a job is, now and then; stops when the server is gone."""

    store: Store
    job: Job
    seconds: float
    parent: int
    done: float = 0.0
    told: float = 0.0

    def __call__(self, seconds: float) -> None:
        self.done += seconds
        if time.monotonic() - self.told < TELL_EVERY_S:
            return
        if os.getppid() != self.parent:
            raise Orphaned
        self.told = time.monotonic()
        clip_queue.progress(self.store, self.job, min(0.95 * self.done / self.seconds, 0.95))


def render_job(
    data: Path, items: Sequence[dict[str, Any]], performance: Performance, progress: Callable[[float], None]
) -> list[Made]:
    """Render the clips of a set of items with one take and store them.

    Parameters
    ----------
    data : Path
    items : sequence of dict
        As `clip_queue.items_to_render` gives them.
    performance : Performance
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
        made = [_stored(data, out, entries, item["number"]) for item in items]
    return _with_wired_gains(made)


def _plan(item: dict[str, Any], performance: Performance) -> ClipPlan:
    wiring = read_version(item["text"])
    plan = plan_clip(wiring, performance, wiring.setting(item["position"], item["knobs"], item["switches"]))
    return ClipPlan(plan.wiring, performance, plan.setting, (), (), _stem(item["number"]))


def _stem(number: int) -> str:
    return f"item-{number}"


def _stored(data: Path, out: Path, entries: dict[str, dict[str, Any]], number: int) -> Made:
    flac, mp3 = (entries[f"{_stem(number)}.{ending}"] for ending in ("flac", "mp3"))
    return Made(
        number=number,
        flac_sha256=keep_clip(data, out / flac["file"]),
        mp3_sha256=keep_clip(data, out / mp3["file"]),
        frames=flac["samples"],
        rate_hz=flac["rate_hz"],
        loudness_lufs=flac["loudness_lufs"],
        wired_gain_db=-flac["gain_db"],
        record={key: value for key, value in flac.items() if key not in ("file", "wiring_file", "take_file")},
    )


def _with_wired_gains(made: Sequence[Made]) -> list[Made]:
    """Gains that undo the matching, the loudest clip of the set at 0 dB."""
    loudest = max((one.wired_gain_db for one in made if one.loudness_lufs is not None), default=0.0)
    return [
        Made(**{**one.__dict__, "wired_gain_db": round(min(one.wired_gain_db - loudest, 0.0), 3)
                if one.loudness_lufs is not None else 0.0})
        for one in made
    ]  # fmt: skip


def work_off(data: Path, places: tuple[Path, ...], parent: int) -> None:
    """Do every job that waits, as the only worker, in its own process."""
    with sole_worker(clips_folder(data)) as alone:
        if not alone:
            time.sleep(PAUSE_S)
            return
        store = Store(data)
        library = Library(store, places)
        clip_queue.requeue_interrupted(store)
        while os.getppid() == parent and (job := clip_queue.claim(store)):
            try:
                _do(store, library, job, parent)
            except Orphaned:
                break
        store.close()


def _in_own_process(data: Path, places: tuple[Path, ...], parent: int) -> None:
    """What the worker process runs; Ctrl-C in a terminal is for the server, which ends it."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    work_off(data, places, parent)


def _do(store: Store, library: Library, job: Job, parent: int) -> None:
    try:
        performance = library.performance(job.take)
        items = clip_queue.items_to_render(store, job)
        teller = _Teller(store, job, max(performance.seconds * len(items), 1e-3), parent)
        made = render_job(store.folder, items, performance, teller)
        clip_queue.finish(store, job, made)
    except InputError as error:
        clip_queue.fail(store, job, str(error))
    except Exception:
        log.exception("rendering the clips of a proposal")
        clip_queue.fail(store, job, "an error of the program's own; its log says more")


class ClipWorker(QueueKeeper):
    """Keeps one worker process at the queue while anything waits in it.

    Parameters
    ----------
    settings : Settings
    store : Store
    """

    def __init__(self, settings: Settings, store: Store) -> None:
        super().__init__("clips", settings, store)

    def _waiting(self) -> int:
        return clip_queue.waiting(self._store)

    def _one_process(self) -> int | None:
        context = multiprocessing.get_context("spawn")  # a fork would copy threads' locks, held
        arguments = (self._settings.data, self._settings.places, os.getpid())
        process = context.Process(target=_in_own_process, args=arguments, name="presolder clips", daemon=True)
        process.start()
        while process.is_alive() and not self._stop.is_set():
            process.join(LOOK_EVERY_S)
        if not self._stop.is_set():
            return process.exitcode
        _end(process)
        return None


def _end(process: BaseProcess) -> None:
    process.terminate()
    process.join(ENDS_WITHIN_S)
    if process.is_alive():
        process.kill()
