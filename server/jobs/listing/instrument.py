"""One instrument of a listing, from its plan to its page: which jobs, in what order.

Written as a generator: it yields jobs that may run side by side and is sent their results, those
already on disk never leaving it. What depends on all clips, such as the one gain that keeps the
differences between them, is decided in between.
"""

from __future__ import annotations

from collections.abc import Generator, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from dsp.sound.peak import CEILING_DBTP, MARGIN_DB, dbtp, gain_for_ceiling
from server.jobs.clips import ClipPlan, file_stem
from server.jobs.listing import keys
from server.jobs.listing.desk import Desk, Task
from server.jobs.listing.plan import Instrument, ListedClip
from server.jobs.listing.work import FileWork, PicturesWork, VoltsWork, measured_of
from server.jobs.record import Measured, level_words
from server.jobs.render import matching_gains
from server.storage.audio_out import EXTRA_DB, TRIES, Encoding
from server.storage.listing_store import Kept
from server.storage.tags import ClipTags

MOST_SIDE_BY_SIDE = 12
"""Clips of one take rendered together: enough to read the stems seldom, few enough for many workers."""
HOT_DB = 1.5
"""A clip this near the ceiling may go beyond it in a lossy file: such clips are encoded first."""
ON_PAGE = ("mp3", "opus", "ogg", "flac", "wav")
"""The format a page plays: the first of these that the listing asks for."""
Steps = Generator[list[Task], list[Kept], "Made"]


@dataclass(frozen=True)
class MadeFile:
    """A clip in one format: where it stands, and what it measures."""

    encoding: Encoding
    place: str
    script: str
    kept: Kept
    gain: float


@dataclass(frozen=True)
class MadeClip:
    """A clip in all its formats.

    Attributes
    ----------
    clip : ListedClip
    sound : str
        Name under which pages know it.
    measured : Measured
    cover : str
        Place of its picture.
    levels_db : list of float
        Its response.
    files : tuple of MadeFile
    """

    clip: ListedClip
    sound: str
    measured: Measured
    cover: str
    levels_db: list[float]
    files: tuple[MadeFile, ...]


@dataclass(frozen=True)
class Made:
    """An instrument whose clips are all there."""

    instrument: Instrument
    clips: tuple[MadeClip, ...]
    reused: int


@dataclass
class _Level:
    """The one gain of all clips in one format, while it is being found."""

    encoding: Encoding
    gain: float
    tried: int = 0
    proved: bool = False
    done: dict[int, tuple[str, Kept]] = field(default_factory=dict)


def produce(instrument: Instrument, desk: Desk) -> Steps:
    """The steps of one instrument.

    Yields
    ------
    list of Task
        To be run side by side; their results are sent back in the same order.

    Returns
    -------
    Made

    Raises
    ------
    InputError
        If a source has vanished, or a lossy file cannot be brought under the ceiling.
    """
    looks = _looks(instrument)
    pictures, places = _pictures(instrument, looks)
    sounding = _volts_keys(instrument, desk)
    first = [] if desk.found(pictures.key, places) else [pictures]
    unmeasured = [i for i, key in enumerate(sounding) if desk.found(key) is None]
    first += _volts_tasks(instrument, desk, sounding, unmeasured)
    if first:
        yield first
    seen = desk.must(pictures.key, places)
    measured = [measured_of(desk.must(key).facts) for key in sounding]
    clips = _Clips(instrument, desk, sounding, measured, _look_of(instrument, looks), places, seen)
    levels = yield from clips.levelled()
    return Made(instrument, tuple(clips.made(levels)), clips.reused)


def _looks(instrument: Instrument) -> list[ListedClip]:
    """One clip for each group and position: they look alike whatever the take."""
    found: dict[tuple[str, str], ListedClip] = {}
    for clip in instrument.clips:
        found.setdefault((clip.group.name, clip.plan.setting.position), clip)
    return list(found.values())


def _look_of(instrument: Instrument, looks: Sequence[ListedClip]) -> list[int]:
    """For each clip the number of its look."""
    number = {(look.group.name, look.plan.setting.position): i for i, look in enumerate(looks)}
    return [number[clip.group.name, clip.plan.setting.position] for clip in instrument.clips]


def _pictures(instrument: Instrument, looks: Sequence[ListedClip]) -> tuple[Task, dict[str, str]]:
    wiring = instrument.wiring
    settings = tuple(look.plan.setting for look in looks)
    headings = tuple(_heading(look) for look in looks)
    about = tuple(f"{look.group.label}: {look.plan.stands}" for look in looks)
    key = keys.pictures_key(keys.wiring_key(wiring), instrument.name, settings, [*headings, *about])
    places = {
        str(i): f"{instrument.folder}/covers/{_cover_name(look, i)}.png" for i, look in enumerate(looks)
    }
    return Task(
        key, PicturesWork(wiring, instrument.name, settings, headings, about), places, instrument.folder
    ), places


def _heading(look: ListedClip) -> str:
    position = look.plan.setting.position
    return f"{position}  {look.plan.wiring.labels.get(position, '')}".strip()


def _cover_name(look: ListedClip, i: int) -> str:
    return file_stem([f"{i + 1:02d}", look.plan.setting.position, look.group.name])


def _volts_keys(instrument: Instrument, desk: Desk) -> list[str]:
    wiring = keys.wiring_key(instrument.wiring)
    return [
        keys.volts_key(clip.plan, wiring, desk.take_key(clip.plan.performance), desk.listing.rate_hz)
        for clip in instrument.clips
    ]


def _volts_tasks(
    instrument: Instrument, desk: Desk, sounding: Sequence[str], wanted: Sequence[int]
) -> list[Task]:
    """Jobs for some clips: those of one take side by side, one with movements by itself."""
    together: dict[str, list[int]] = {}
    for i in dict.fromkeys(wanted):
        plan = instrument.clips[i].plan
        own = f"#{i}" if plan.sweeps or plan.flips else ""
        together.setdefault(plan.performance.take.file + own, []).append(i)
    batches = [
        group[start : start + MOST_SIDE_BY_SIDE]
        for group in together.values()
        for start in range(0, len(group), MOST_SIDE_BY_SIDE)
    ]
    return [
        _volts_task(instrument.folder, desk, sounding, [(i, instrument.clips[i].plan) for i in batch])
        for batch in batches
    ]


def _volts_task(
    folder: str, desk: Desk, sounding: Sequence[str], batch: Sequence[tuple[int, ClipPlan]]
) -> Task:
    by_key = {sounding[i]: plan for i, plan in batch}  # clips that sound alike are rendered once
    rate_hz = desk.listing.rate_hz
    recording = desk.recording(batch[0][1].performance)
    work = VoltsWork(
        tuple(by_key), tuple(by_key.values()), rate_hz, recording, f"{desk.number()}", desk.scratch
    )
    return Task("+".join(by_key), work, {}, folder)


@dataclass
class _Clips:
    """The clips of one instrument, measured, on their way to files."""

    instrument: Instrument
    desk: Desk
    sounding: Sequence[str]
    measured: Sequence[Measured]
    look: Sequence[int]
    covers: dict[str, str]
    pictures: Kept
    reused: int = 0

    def __post_init__(self) -> None:
        self.asked = self.desk.listing.loudness_lufs
        self.gains = matching_gains(self.measured, self.asked)
        encodings = self.desk.listing.encodings
        self.on_page = next(name for name in ON_PAGE if name in {one.format for one in encodings})

    def levelled(self) -> Generator[list[Task], list[Kept], list[_Level]]:
        """Every clip in every format, under the ceiling, by one gain for each format."""
        levels = [_Level(one, self._first_gain(one)) for one in self.desk.listing.encodings]
        while True:
            wanted = [(level, i) for level in levels for i in self._next(level)]
            if not wanted:
                return levels
            yield from self._files(wanted)
            for level in levels:
                self._judge(level)

    def _first_gain(self, encoding: Encoding) -> float:
        if encoding.plain_volts and self.asked is None:
            return 1.0
        return gain_for_ceiling(max(self._peaks()))

    def _peaks(self) -> list[float]:
        return [one.true_peak * gain for one, gain in zip(self.measured, self.gains, strict=True)]

    def _next(self, level: _Level) -> list[int]:
        """Clips to be encoded now: those near the ceiling first, the others once these are good."""
        missing = [i for i in range(len(self.measured)) if i not in level.done]
        if not level.encoding.lossy or level.proved:
            return missing
        peaks = self._peaks()
        hot = [i for i in missing if dbtp(peaks[i] * level.gain) > CEILING_DBTP - HOT_DB]
        return hot or missing

    def _files(self, wanted: Sequence[tuple[_Level, int]]) -> Generator[list[Task], list[Kept], None]:
        keyed = [(level, i, *self._keyed(level, i)) for level, i in wanted]
        absent = [one for one in keyed if self.desk.found(one[2], one[3]) is None]
        silent = [
            i for _, i, *_ in absent if not self.desk.has_volts(self.instrument.folder, self.sounding[i])
        ]
        if silent:
            yield _volts_tasks(self.instrument, self.desk, self.sounding, silent)
        tasks = [self._task(level, i, key, places) for level, i, key, places in absent]
        if tasks:
            yield tasks
        made = {task.key for task in tasks}
        for level, i, key, places in keyed:
            level.done[i] = (key, self.desk.must(key, places))
            self.reused += key not in made

    def _keyed(self, level: _Level, i: int) -> tuple[str, dict[str, str]]:
        """Key of a clip in a format at its level, and the places of its files."""
        clip, encoding = self.instrument.clips[i], level.encoding
        scripted = encoding.format == self.on_page
        cover = self.pictures.files[str(self.look[i])][1]
        gain = self.gains[i] * level.gain
        key = keys.file_key(self.sounding[i], encoding, gain, self._tags(i, gain), cover, scripted=scripted)
        stem = clip.plan.stem
        places = {"clip": f"{self.instrument.folder}/{stem}.{encoding.format}"}
        return key, places | ({"script": f"{self.instrument.folder}/sound/{stem}.js"} if scripted else {})

    def _tags(self, i: int, gain: float) -> ClipTags:
        plan = self.instrument.clips[i].plan
        return ClipTags(
            wiring=self.instrument.name,
            position=plan.setting.position,
            settings=plan.stands,
            take=plan.performance.take.name or plan.performance.name,
            coil_places=plan.performance.coil_places(plan.wiring),
            level=level_words(self.measured[i], self.asked, gain),
        )

    def _task(self, level: _Level, i: int, key: str, places: dict[str, str]) -> Task:
        gain = self.gains[i] * level.gain
        work = FileWork(
            self.desk.volts(self.instrument.folder, self.sounding[i]),
            level.encoding,
            gain,
            self._tags(i, gain),
            self.desk.read(self.covers[str(self.look[i])]),
            self.desk.listing.rate_hz,
            self.measured[i].true_peak,
            sound_name(self.sounding[i]) if "script" in places else "",
            f"{self.desk.number()}.{level.encoding.format}",
            self.desk.scratch,
        )
        return Task(key, work, places, self.instrument.folder, self._keeps(level.encoding))

    def _keeps(self, encoding: Encoding) -> float | None:
        """True peak, full scale 1, beyond which a file is not kept; None for any."""
        plain = encoding.plain_volts and self.asked is None
        return None if plain or not encoding.lossy else 10.0 ** (CEILING_DBTP / 20.0)

    def _judge(self, level: _Level) -> None:
        """Lower a format's gain where one of its files went beyond the ceiling."""
        limit = self._keeps(level.encoding)
        top = max((float(kept.facts["true_peak"]) for _, kept in level.done.values()), default=0.0)
        if limit is None or top <= limit:
            level.proved = True
            return
        self._refuse_endless(level, top)
        level.gain *= gain_for_ceiling(top, CEILING_DBTP - EXTRA_DB * level.tried)
        level.tried += 1
        level.proved = False
        level.done.clear()

    def _refuse_endless(self, level: _Level, top: float) -> None:
        from dsp.errors import InputError

        if level.tried + 1 >= TRIES:
            where = f"{self.instrument.folder}: {level.encoding.format}"
            got = f"{dbtp(top):.2f} dBTP after {TRIES} tries"
            raise InputError(where, got, f"{CEILING_DBTP - MARGIN_DB:g} dBTP or less")

    def made(self, levels: Sequence[_Level]) -> Iterator[MadeClip]:
        """The clips with all their files."""
        shown: list[Any] = self.pictures.facts["levels_db"]
        for i, clip in enumerate(self.instrument.clips):
            files = []
            for level in levels:
                _, kept = level.done[i]
                _, places = self._keyed(level, i)
                gain = self.gains[i] * level.gain
                files.append(MadeFile(level.encoding, places["clip"], places.get("script", ""), kept, gain))
            look = self.look[i]
            sound = sound_name(self.sounding[i])
            yield MadeClip(clip, sound, self.measured[i], self.covers[str(look)], shown[look], tuple(files))


def sound_name(key: str) -> str:
    """Name under which pages know a clip, from the key of its volts."""
    return key[:16]


def relative(place: str) -> str:
    """A place as seen from its instrument's folder."""
    return Path(place).relative_to(Path(place).parts[0]).as_posix()
