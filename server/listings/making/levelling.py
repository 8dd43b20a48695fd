"""Levelling: one gain for all of an instrument's clips in each format, every file under the ceiling.

A lossy file is measured as it decodes. If it exceeds the ceiling, all files of its format are made anew
with less gain, so that the differences between the clips stay. Clips near the ceiling are encoded first.
A run that is repeated knows from its record which gains were too much: those files are overwritten since.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Generator, Iterable, Sequence
from dataclasses import dataclass, field, replace

from dsp.errors import InputError
from dsp.sound.peak import CEILING_DBTP, MARGIN_DB, dbtp, gain_for_ceiling
from server.clips.level import Measurement, level_text, peak_of, set_gains, tags_of
from server.clips.plan import ClipPlan
from server.clips.run import batch_plans
from server.files.audio_out import EXTRA_DB, TRIES, Encoding
from server.files.cache import cache_folder
from server.files.tags import ClipTags
from server.listings.making import keys
from server.listings.making.folder import FinishedJob
from server.listings.making.job_records import JobRecords, Task
from server.listings.making.jobs import EncodeJob, PlayJob, RenderJob
from server.listings.making.plan import Instrument

HOT_DB = 1.5
"""A clip this near the ceiling may exceed it in a lossy file; such clips are encoded first."""
ON_PAGE = ("mp3", "opus", "ogg", "flac", "wav")
"""A page plays the first of these formats that the listing has."""


@dataclass
class Level:
    """The search for the one gain of all clips in one format."""

    encoding: Encoding
    gain: float
    tried: int = 0
    proved: bool = False
    done: dict[int, FinishedJob] = field(default_factory=dict)


@dataclass
class MeasuredClips:
    """The measured clips of one instrument, on their way to files."""

    instrument: Instrument
    records: JobRecords
    volts_keys: Sequence[str]
    measured: Sequence[Measurement]
    look: Sequence[int]
    covers: dict[str, str]
    pictures: FinishedJob
    lowered_db: float = 0.0
    reused: int = 0

    def __post_init__(self) -> None:
        self.target_lufs = self.records.listing.loudness_lufs
        self.volts = self.target_lufs is None and not self.records.listing.way.amplified
        self.gains = set_gains(self.measured, self.target_lufs)
        encodings = self.records.listing.encodings
        self.on_page = next(name for name in ON_PAGE if name in {one.format for one in encodings})

    def match_levels(self) -> Generator[list[Task], list[FinishedJob], list[Level]]:
        """Bring all clips under the ceiling, with one gain per format."""
        levels = [Level(one, self._first_gain(one)) for one in self.records.listing.encodings]
        for level in levels:
            self._lower_as_recorded(level)
        while True:
            wanted = [(level, i) for level in levels for i in self._next(level)]
            if not wanted:
                return levels
            yield from self._files(wanted)
            for level in levels:
                self._judge(level)

    def _first_gain(self, encoding: Encoding) -> float:
        if encoding.plain_volts and self.volts:
            return 1.0
        return gain_for_ceiling(max(self._peaks()))

    def _peaks(self) -> list[float]:
        return [peak_of(one, gain) for one, gain in zip(self.measured, self.gains, strict=True)]

    def limiter_gain(self, i: int) -> float | None:
        """Return a clip's gain before its limiter, a factor; None without one."""
        return self.gains[i] if self.records.listing.limited else None

    def _next(self, level: Level) -> list[int]:
        """Return the clips to encode now: those near the ceiling first, then the others."""
        missing = [i for i in range(len(self.measured)) if i not in level.done]
        if not level.encoding.lossy or level.proved:
            return missing
        peaks = self._peaks()
        hot = [i for i in missing if dbtp(peaks[i] * level.gain) > CEILING_DBTP - HOT_DB]
        return hot or missing

    def _files(self, wanted: Sequence[tuple[Level, int]]) -> Generator[list[Task], list[FinishedJob], None]:
        keyed = [(level, i, *self.key_and_places(level, i)) for level, i in wanted]
        absent = [one for one in keyed if self.records.find_job(one[2], one[3]) is None]
        silent = [
            i for _, i, *_ in absent if not self.records.has_volts(self.instrument.folder, self.volts_keys[i])
        ]
        if silent:
            yield volts_tasks(self.instrument, self.records, self.volts_keys, silent, self.lowered_db)
        tasks = [self._task(level, i, key, places) for level, i, key, places in absent]
        if tasks:
            yield tasks
        made = {task.key for task in tasks}
        for level, i, key, places in keyed:
            level.done[i] = self.records.require_job(key, places)
            self.reused += key not in made

    def key_and_places(self, level: Level, i: int) -> tuple[str, dict[str, str]]:
        """Return the key of a clip in a format, and the places of its files."""
        clip, encoding = self.instrument.clips[i], level.encoding
        scripted = encoding.format == self.on_page
        cover = self.pictures.files[str(self.look[i])][1]
        gain = self.gains[i] * level.gain
        key = keys.file_key(
            self.volts_keys[i],
            encoding,
            gain,
            self._tags(i, gain),
            cover,
            scripted=scripted,
            limiter_gain=self.limiter_gain(i),
        )
        stem = clip.plan.stem
        places = {"clip": f"{self.instrument.folder}/{stem}.{encoding.format}"}
        return key, places | ({"script": f"{self.instrument.folder}/sound/{stem}.js"} if scripted else {})

    def _tags(self, i: int, gain: float) -> ClipTags:
        level = level_text(self.measured[i], self.target_lufs, gain, self.limiter_gain(i))
        name = self.instrument.name
        tags = tags_of(self.instrument.clips[i].plan, wiring=name, level=level)
        artist, title = self.records.listing.artist, self.instrument.title(i)
        return replace(tags, title=title, artist=artist, album=name, track=f"{i + 1}")

    def _task(self, level: Level, i: int, key: str, places: dict[str, str]) -> Task:
        gain, limiter_gain = self.gains[i] * level.gain, self.limiter_gain(i)
        job = EncodeJob(
            self.records.volts(self.instrument.folder, self.volts_keys[i]),
            level.encoding,
            gain if limiter_gain is None else level.gain,
            self._tags(i, gain),
            self.records.read(self.covers[str(self.look[i])]),
            self.records.listing.rate_hz,
            self.measured[i].true_peak,
            keys.sound_name(self.volts_keys[i]) if "script" in places else "",
            f"{self.records.next_number()}.{level.encoding.format}",
            self.records.scratch,
            limiter_gain,
        )
        return Task(key, job, places, self.instrument.folder, self._limit(level.encoding))

    def _limit(self, encoding: Encoding) -> float | None:
        """Return the largest true peak, full scale 1, of a file that is kept; None for any."""
        plain = encoding.plain_volts and self.volts
        return None if plain or not encoding.lossy else 10.0 ** (CEILING_DBTP / 20.0)

    def _lower_as_recorded(self, level: Level) -> None:
        """Lower a format's gain as an earlier run did, until no recorded try exceeds the ceiling."""
        limit = self._limit(level.encoding)
        while limit is not None:
            for clips in (self._next(level), range(len(self.measured))):
                found = {key: self.records.find_peak(key) for key in self._keys(level, clips)}
                peaks = [peak for peak in found.values() if peak is not None]
                if len(peaks) < len(found):
                    return
                if max(peaks, default=0.0) > limit:
                    break
            else:
                return
            for key in found:
                self.records.keep_facts(key)
            self._lower(level, max(peaks))

    def _keys(self, level: Level, clips: Iterable[int]) -> list[str]:
        return [self.key_and_places(level, i)[0] for i in clips]

    def _judge(self, level: Level) -> None:
        """Lower a format's gain if one of its files exceeded the ceiling."""
        limit = self._limit(level.encoding)
        top = max((float(job.facts["true_peak"]) for job in level.done.values()), default=0.0)
        if limit is None or top <= limit:
            level.proved = True
            return
        self._lower(level, top)

    def _lower(self, level: Level, top: float) -> None:
        """Take the next gain, after a try whose largest true peak was ``top``."""
        self._refuse_endless(level, top)
        level.gain *= gain_for_ceiling(top, CEILING_DBTP - EXTRA_DB * level.tried)
        level.tried += 1
        level.proved = False
        level.done.clear()

    def _refuse_endless(self, level: Level, top: float) -> None:
        if level.tried + 1 >= TRIES:
            where = f"{self.instrument.folder}: {level.encoding.format}"
            got = f"{dbtp(top):.2f} dBTP after {TRIES} tries"
            raise InputError(where, got, f"{CEILING_DBTP - MARGIN_DB:g} dBTP or less")


def volts_tasks(
    instrument: Instrument,
    records: JobRecords,
    volts_keys: Sequence[str],
    clips: Sequence[int],
    lowered_db: float,
) -> list[Task]:
    """Return the jobs that render some of an instrument's clips to volts."""
    numbers = list(dict.fromkeys(clips))
    plans = [instrument.clips[i].plan for i in numbers]
    return [
        _volts_task(
            instrument.folder, records, volts_keys, [(numbers[j], plans[j]) for j in batch], lowered_db
        )
        for batch in batch_plans(plans)
    ]


def play_tasks(tasks: Sequence[Task], records: JobRecords) -> list[Task]:
    """Return jobs that play takes which several other jobs need.

    They need a cache, on a disk that the workers share.
    """
    if records.scratch is None or cache_folder() is None:
        return []
    plans = [task.job.plans[0] for task in tasks if isinstance(task.job, RenderJob)]
    several = Counter(id(plan.performance) for plan in plans)
    once = {id(plan.performance): plan for plan in plans if several[id(plan.performance)] > 1}
    rate_hz = records.listing.rate_hz
    folder = next((task.folder for task in tasks), "")
    return [
        Task(f"played {i}", PlayJob(plan.performance, plan.wiring, rate_hz), {}, folder)
        for i, plan in enumerate(once.values())
    ]


def _volts_task(
    folder: str,
    records: JobRecords,
    volts_keys: Sequence[str],
    batch: Sequence[tuple[int, ClipPlan]],
    lowered_db: float,
) -> Task:
    by_key = {volts_keys[i]: plan for i, plan in batch}  # clips that sound alike are rendered once
    rate_hz = records.listing.rate_hz
    recording = records.recording(batch[0][1].performance)
    name = f"{records.next_number()}"
    plans = tuple(by_key.values())
    job = RenderJob(tuple(by_key), plans, rate_hz, recording, name, records.scratch, lowered_db)
    return Task("+".join(by_key), job, {}, folder)
