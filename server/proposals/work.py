"""The process that renders the clips of proposals.

A job is one proposal with one take: in each way to hear it all of its items are rendered as a set,
level-matched to one loudness for fair listening. Each clip has a gain that restores the true differences, the
loudest of the set at 0 dB. So one file serves both ways of listening, and no clip of a sound ever
plays louder than the matched clips. Files are named by their content; an interrupted job is done again.
A variant is one more sound with every take, rendered as loud as the clips that are there. The farthest two
of some guitars built of a wiring are rendered at each of its sounds, with one gain from volts for both and
for the clips that are there: a guitar that is louder than the drawing plays louder by as much.
"""

from __future__ import annotations

import logging
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any

from dsp.chain.ways import DIRECT, WAYS, Way
from dsp.errors import InputError
from dsp.takes.performance import Performance
from server.clips.keys import take_key
from server.clips.level import NEAR_LU
from server.clips.plan import ClipPlan, plan_clip
from server.database.store import Store
from server.files.audio_out import Encoding
from server.files.lock import sole_worker
from server.processes.child import Work
from server.processes.keeper import PAUSE_S, Keeper
from server.processes.parent import Parent
from server.proposals import farthest, variants
from server.proposals import queue as clip_queue
from server.proposals.clip_files import clips_folder, keep_clip, making_folder, sweep
from server.proposals.describe import read_version
from server.proposals.farthest import FarthestJob, Two
from server.proposals.pictures import keep_picture, keep_pictures
from server.proposals.queue import Before, Job, Made
from server.proposals.variants import VariantJob
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
    """Writes the progress of a job to the database, not too often.

    Attributes
    ----------
    save : callable
        Writes a share, 0 to 1.
    seconds : float
        Of sound in all.
    """

    save: Callable[[float], None]
    seconds: float
    done_s: float = 0.0
    written_s: float = 0.0

    def __call__(self, seconds: float) -> None:
        self.done_s += seconds
        if time.monotonic() - self.written_s >= WRITE_EVERY_S:
            self.written_s = time.monotonic()
            self.save(min(0.95 * self.done_s / self.seconds, 0.95))


def render_job(
    data: Path,
    items: Sequence[dict[str, Any]],
    performance: Performance,
    progress: Callable[[float], None],
    loudness_lufs: float = LOUDNESS_LUFS,
    *,
    way: Way = DIRECT,
    lowered_db: float = 0.0,
) -> list[Made]:
    """Render the clips of a set of items with one take and store them.

    Parameters
    ----------
    items : sequence of dict
        As `clip_queue.items_to_render` gives them.
    progress : callable
        Called with seconds of sound done since the last call.
    way : Way
        In which they are heard.
    lowered_db : float
        What its drive gives way by at least.

    Raises
    ------
    InputError
        If the take does not fit a wiring, or a file cannot be written.
    """
    from server.clips.render import RenderOptions, render_set

    plans = [_plan(item, performance, way) for item in items]
    with making_folder(data) as out:
        options = RenderOptions(RATE_HZ, ENCODINGS, loudness_lufs, lowered_db)
        entries = {entry["file"]: entry for entry in render_set(plans, out, options, progress=progress)}
        key = take_key(performance)
        made = [_stored(data, out, entries, item["number"], key) for item in items]
        return [replace(one, way=way.name) for one in made]


def render_beside(
    data: Path,
    item: dict[str, Any],
    performance: Performance,
    before: Before,
    progress: Callable[[float], None],
    way: Way = DIRECT,
) -> list[Made]:
    """Render the clip of one more sound, as loud as those before it.

    A clip whose peaks leave no room for that stays softer; the page makes up for it. It is driven as hard
    as those before it, unless it alone must be driven less.

    Raises
    ------
    InputError
        As `render_job`.
    """
    made = render_job(data, [item], performance, progress, way=way, lowered_db=before.lowered_db)
    found = made[0].loudness_lufs
    if found is not None and before.loudness_lufs is not None and found - before.loudness_lufs > NEAR_LU:
        lower = LOUDNESS_LUFS + before.loudness_lufs - found
        made = render_job(
            data, [item], performance, lambda seconds: None, lower, way=way, lowered_db=before.lowered_db
        )
    return with_wired_gains(made, before.wired_at_db)


def render_two(
    data: Path,
    items: Sequence[dict[str, Any]],
    texts: tuple[str, str],
    performance: Performance,
    before: Before,
    progress: Callable[[float], None],
    way: Way = DIRECT,
) -> list[Two]:
    """Render two guitars at sounds of a proposal, as one set with its clips.

    With its gain to the true differences each clip has the gain from volts of those, so levels of the two
    differ as they do.

    Parameters
    ----------
    texts : tuple of str
        Both wirings.

    Raises
    ------
    InputError
        As `render_job`.
    """
    both = [
        {**item, "number": 2 * k + which, "text": texts[which]}
        for k, item in enumerate(items)
        for which in (0, 1)
    ]
    made = render_job(data, both, performance, progress, way=way, lowered_db=before.lowered_db)
    level = with_wired_gains(made, before.wired_at_db)
    return [
        (replace(level[2 * k], number=item["number"]), replace(level[2 * k + 1], number=item["number"]))
        for k, item in enumerate(items)
    ]


def _plan(item: dict[str, Any], performance: Performance, way: Way) -> ClipPlan:
    wiring = read_version(item["text"])
    plan = plan_clip(wiring, performance, wiring.setting(item["position"], item["knobs"], item["switches"]))
    return ClipPlan(plan.wiring, performance, plan.setting, (), (), _stem(item["number"]), way)


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


def with_wired_gains(made: Sequence[Made], at_db: float | None = None) -> list[Made]:
    """Return clips with gains that restore the true differences.

    Parameters
    ----------
    at_db : float or None
        Undoes the matching of a clip whose gain is then 0 dB; the loudest of the set for None.
    """
    if at_db is None:
        at_db = max((one.wired_gain_db for one in made if one.loudness_lufs is not None), default=0.0)
    return [
        replace(one, wired_gain_db=0.0 if one.loudness_lufs is None else round(one.wired_gain_db - at_db, 3))
        for one in made
    ]


class ClipKeeper(Keeper):
    """Keeps a process at the queue of clips."""

    def __init__(self, settings: Settings, store: Store) -> None:
        self._store = store
        folders = (settings.data, *settings.places)
        super().__init__("clips", Work(f"{__name__}:main"), *(str(folder.resolve()) for folder in folders))

    def waiting(self) -> bool:
        """Whether a job has not ended."""
        return any(queue.waiting(self._store) for queue in (clip_queue, variants, farthest))

    def interrupted(self, *, died: bool) -> None:
        """Do nothing: the next worker queues again what this one left."""


def wake_keeper(state: Any) -> None:
    """Say that something has been queued, for a later server if need be.

    Parameters
    ----------
    state : Any
        Of the application.
    """
    if keeper := getattr(state, "clip_keeper", None):
        keeper.wake()


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
        variants.requeue_interrupted(store)
        farthest.requeue_interrupted(store)
        _do_sooner(store, library)
        while job := farthest.take_next(store):
            _do(store, library, job)
            _do_sooner(store, library)
        store.close()


def _do_sooner(store: Store, library: Library) -> None:
    """Do every job that goes before the farthest two: somebody waits for its clips."""
    while job := clip_queue.take_next(store) or variants.take_next(store):
        _do(store, library, job)


def _do(store: Store, library: Library, job: Job | VariantJob | FarthestJob) -> None:
    fail: Callable[[str], None]
    try:
        if isinstance(job, VariantJob):
            fail = partial(variants.fail, store, job)
            _make_variant(store, library, job)
        elif isinstance(job, FarthestJob):
            fail = partial(farthest.fail, store, job)
            _make_farthest(store, library, job)
        else:
            fail = partial(clip_queue.fail, store, job)
            _make_clips(store, library, job)
    except InputError as error:
        fail(str(error))
    except Exception:
        log.exception("rendering the clips of a proposal")
        fail("an error of the program's own; its log says more")


def _make_clips(store: Store, library: Library, job: Job) -> None:
    performance = library.performance(job.take)
    items = clip_queue.items_to_render(store, job.proposal)
    ways = clip_queue.ways_to_render(store, job.proposal)
    keep_pictures(store, job.proposal, items)
    seconds = performance.seconds * len(items) * len(ways)
    progress = ProgressWriter(partial(clip_queue.save_progress, store, job), max(seconds, 1e-3))
    sets = [render_job(store.folder, items, performance, progress, way=WAYS[way]) for way in ways]
    clip_queue.finish(store, job, [clip for made in sets for clip in with_wired_gains(made)])


def _make_variant(store: Store, library: Library, job: VariantJob) -> None:
    item, to_render = variants.item_to_render(store, job)
    picture = keep_picture(store, to_render)
    before = clip_queue.clips_before(store, job.proposal)
    performances = {take: library.performance(take) for take in before}
    seconds = sum(one.seconds * len(before[take]) for take, one in performances.items())
    progress = ProgressWriter(partial(variants.save_progress, store, job), max(seconds, 1e-3))
    clips = {
        take: [
            clip
            for way, like in before[take].items()
            for clip in render_beside(store.folder, to_render, performance, like, progress, WAYS[way])
        ]
        for take, performance in performances.items()
    }
    variants.offer_variant(store, job, item, clips, picture)


def _make_farthest(store: Store, library: Library, job: FarthestJob) -> None:
    sounds = farthest.sounds_of(store, job)
    items = [one for one in clip_queue.items_to_render(store, job.proposal) if one["number"] in sounds]
    found = farthest.find_two(items, job.built, job.cable)
    before = clip_queue.clips_before(store, job.proposal)
    performances = {take: library.performance(take) for take in before}
    seconds = sum(2 * len(items) * one.seconds * len(before[take]) for take, one in performances.items())
    progress = ProgressWriter(partial(farthest.save_progress, store, job), max(seconds, 1e-3))
    clips: dict[str, list[Two]] = {take: [] for take in performances}
    for take, one in performances.items():
        for way, like in before[take].items():
            _do_sooner(store, library)
            clips[take] += render_two(store.folder, items, found.texts, one, like, progress, WAYS[way])
    farthest.show_two(store, job, found, clips)
