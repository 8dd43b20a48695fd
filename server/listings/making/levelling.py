"""From measured clips to files: one gain for all of an instrument's clips in each format.

Lossy files are measured as they decode. Where one goes beyond the ceiling, all of that format are made
anew with less gain, so that what differs between the clips stays; those near the ceiling are therefore
made first.
"""

from __future__ import annotations

from collections.abc import Generator, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

from dsp.errors import InputError
from dsp.sound.peak import CEILING_DBTP, MARGIN_DB, dbtp, gain_for_ceiling
from server.clips.level import Measurement, level_text, set_gains, tags_of
from server.clips.plan import ClipPlan
from server.clips.run import batch_plans
from server.files.audio_out import EXTRA_DB, TRIES, Encoding
from server.files.tags import ClipTags
from server.listings.making import keys
from server.listings.making.desk import Desk, Task
from server.listings.making.folder import Kept
from server.listings.making.jobs import FileWork, VoltsWork
from server.listings.making.made import MadeClip, MadeFile, sound_name
from server.listings.making.plan import Instrument

HOT_DB = 1.5
"""A clip this near the ceiling may go beyond it in a lossy file: such clips are encoded first."""
ON_PAGE = ("mp3", "opus", "ogg", "flac", "wav")
"""The format a page plays: the first of these that the listing asks for."""
Steps = Generator[list[Task], list[Kept], Any]


@dataclass
class Level:
    """The one gain of all clips in one format, while it is being found."""

    encoding: Encoding
    gain: float
    tried: int = 0
    proved: bool = False
    done: dict[int, tuple[str, Kept]] = field(default_factory=dict)


@dataclass
class Clips:
    """The clips of one instrument, measured, on their way to files."""

    instrument: Instrument
    desk: Desk
    sounding: Sequence[str]
    measured: Sequence[Measurement]
    look: Sequence[int]
    covers: dict[str, str]
    pictures: Kept
    reused: int = 0

    def __post_init__(self) -> None:
        self.asked = self.desk.listing.loudness_lufs
        self.gains = set_gains(self.measured, self.asked)
        encodings = self.desk.listing.encodings
        self.on_page = next(name for name in ON_PAGE if name in {one.format for one in encodings})

    def levelled(self) -> Generator[list[Task], list[Kept], list[Level]]:
        """Every clip in every format under the ceiling, one gain a format."""
        levels = [Level(one, self._first_gain(one)) for one in self.desk.listing.encodings]
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

    def _next(self, level: Level) -> list[int]:
        """Clips to be encoded now: those near the ceiling first, the others once these are good."""
        missing = [i for i in range(len(self.measured)) if i not in level.done]
        if not level.encoding.lossy or level.proved:
            return missing
        peaks = self._peaks()
        hot = [i for i in missing if dbtp(peaks[i] * level.gain) > CEILING_DBTP - HOT_DB]
        return hot or missing

    def _files(self, wanted: Sequence[tuple[Level, int]]) -> Generator[list[Task], list[Kept], None]:
        keyed = [(level, i, *self._keyed(level, i)) for level, i in wanted]
        absent = [one for one in keyed if self.desk.found(one[2], one[3]) is None]
        silent = [
            i for _, i, *_ in absent if not self.desk.has_volts(self.instrument.folder, self.sounding[i])
        ]
        if silent:
            yield volts_tasks(self.instrument, self.desk, self.sounding, silent)
        tasks = [self._task(level, i, key, places) for level, i, key, places in absent]
        if tasks:
            yield tasks
        made = {task.key for task in tasks}
        for level, i, key, places in keyed:
            level.done[i] = (key, self.desk.must(key, places))
            self.reused += key not in made

    def _keyed(self, level: Level, i: int) -> tuple[str, dict[str, str]]:
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
        level = level_text(self.measured[i], self.asked, gain)
        return tags_of(self.instrument.clips[i].plan, wiring=self.instrument.name, level=level)

    def _task(self, level: Level, i: int, key: str, places: dict[str, str]) -> Task:
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

    def _judge(self, level: Level) -> None:
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

    def _refuse_endless(self, level: Level, top: float) -> None:
        if level.tried + 1 >= TRIES:
            where = f"{self.instrument.folder}: {level.encoding.format}"
            got = f"{dbtp(top):.2f} dBTP after {TRIES} tries"
            raise InputError(where, got, f"{CEILING_DBTP - MARGIN_DB:g} dBTP or less")

    def made(self, levels: Sequence[Level]) -> Iterator[MadeClip]:
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


def volts_tasks(
    instrument: Instrument, desk: Desk, sounding: Sequence[str], wanted: Sequence[int]
) -> list[Task]:
    """Jobs for clips: those of one take together, one that moves by itself."""
    numbers = list(dict.fromkeys(wanted))
    plans = [instrument.clips[i].plan for i in numbers]
    return [
        _volts_task(instrument.folder, desk, sounding, [(numbers[j], plans[j]) for j in batch])
        for batch in batch_plans(plans)
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
