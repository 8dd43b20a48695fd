"""One instrument of a listing, from its plan to its files: which jobs, in what order.

`make_instrument` is a generator: it yields jobs that may run side by side, and receives their results.
Decisions that need all clips, such as the one gain that keeps their differences, fall in between.
"""

from __future__ import annotations

from collections.abc import Generator, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from server.clips.level import Measurement
from server.documents.cover import letters_beyond
from server.files.audio_out import Encoding
from server.files.cache import digest_of
from server.files.fonts import find_fonts
from server.files.names import file_stem
from server.listings.making import keys
from server.listings.making.captions import settings_words
from server.listings.making.folder import FinishedJob, read_bytes
from server.listings.making.job_records import JobRecords, Task
from server.listings.making.jobs import PicturesJob, measurement_of
from server.listings.making.levelling import Level, MeasuredClips, play_tasks, volts_tasks
from server.listings.making.plan import GroupedClip, Instrument


@dataclass(frozen=True)
class FileResult:
    """A clip in one format: its place, its script's place, and its job."""

    encoding: Encoding
    place: str
    script: str
    job: FinishedJob
    gain: float


@dataclass(frozen=True)
class ClipResult:
    """A clip in all its formats.

    Attributes
    ----------
    sound : str
        The page's name for it.
    cover : str
        Place of its picture.
    levels_db : list of float
        Its response.
    lowered_db : float
        What the drive of its instrument gave way by.
    """

    clip: GroupedClip
    sound: str
    measured: Measurement
    cover: str
    levels_db: list[float]
    lowered_db: float
    files: tuple[FileResult, ...]


@dataclass(frozen=True)
class InstrumentResult:
    """An instrument with all its clips.

    Attributes
    ----------
    reused : int
        Files that were there, unchanged.
    lacking : str
        Letters of its covers that no font has.
    """

    instrument: Instrument
    clips: tuple[ClipResult, ...]
    reused: int
    lacking: str


Steps = Generator[list[Task], list[FinishedJob], InstrumentResult]


def make_instrument(instrument: Instrument, records: JobRecords) -> Steps:
    """Make the clips, covers and files of one instrument, step by step.

    Yields
    ------
    list of Task
        To be run side by side; their results are sent back in the same order.

    Raises
    ------
    InputError
        If a source is gone, or a lossy file cannot be brought under the ceiling.
    """
    looks = _looks(instrument)
    pictures, places = _pictures(instrument, looks, records)
    first = [] if records.find_job(pictures.key, places) else [pictures]
    volts_keys = _volts_keys(instrument, records, 0.0)
    measured = yield from _measure(instrument, records, volts_keys, 0.0, first)
    lowered_db = max((one.excess_db for one in measured), default=0.0)
    if lowered_db > 0.0:
        volts_keys = _volts_keys(instrument, records, lowered_db)
        measured = yield from _measure(instrument, records, volts_keys, lowered_db, [])
    clips = MeasuredClips(
        instrument,
        records,
        volts_keys,
        measured,
        _look_of(instrument, looks),
        places,
        records.require_job(pictures.key, places),
        lowered_db,
    )
    levels = yield from clips.match_levels()
    lacking = str(clips.pictures.facts["lacking"])
    return InstrumentResult(instrument, tuple(_results(clips, levels)), clips.reused, lacking)


def _measure(
    instrument: Instrument,
    records: JobRecords,
    volts_keys: Sequence[str],
    lowered_db: float,
    others: list[Task],
) -> Generator[list[Task], list[FinishedJob], list[Measurement]]:
    """Render the clips that no record knows, beside other jobs."""
    unmeasured = [i for i, key in enumerate(volts_keys) if records.find_job(key) is None]
    volts = volts_tasks(instrument, records, volts_keys, unmeasured, lowered_db)
    if played := play_tasks(volts, records):
        yield [*others, *played]
        others = []
    if others or volts:
        yield [*others, *volts]
    return [measurement_of(records.require_job(key).facts) for key in volts_keys]


def _results(clips: MeasuredClips, levels: Sequence[Level]) -> Iterator[ClipResult]:
    """Yield the clips with all their files."""
    curves: list[Any] = clips.pictures.facts["levels_db"]
    for i, clip in enumerate(clips.instrument.clips):
        files = []
        for level in levels:
            _, places = clips.key_and_places(level, i)
            gain = clips.gains[i] * level.gain
            script = places.get("script", "")
            files.append(FileResult(level.encoding, places["clip"], script, level.done[i], gain))
        look, sound = clips.look[i], keys.sound_name(clips.volts_keys[i])
        cover = clips.covers[str(look)]
        measured, files_of_it = clips.measured[i], tuple(files)
        yield ClipResult(clip, sound, measured, cover, curves[look], clips.lowered_db, files_of_it)


def _looks(instrument: Instrument) -> list[GroupedClip]:
    """Return one clip for each group and position: those look alike whatever the take."""
    found: dict[tuple[str, str], GroupedClip] = {}
    for clip in instrument.clips:
        found.setdefault((clip.group.name, clip.plan.setting.position), clip)
    return list(found.values())


def _look_of(instrument: Instrument, looks: Sequence[GroupedClip]) -> list[int]:
    """Return for each clip the number of its look."""
    number = {(look.group.name, look.plan.setting.position): i for i, look in enumerate(looks)}
    return [number[clip.group.name, clip.plan.setting.position] for clip in instrument.clips]


def _pictures(
    instrument: Instrument, looks: Sequence[GroupedClip], records: JobRecords
) -> tuple[Task, dict[str, str]]:
    wiring = instrument.wiring
    settings = tuple(look.plan.setting for look in looks)
    headings = tuple(_heading(look) for look in looks)
    about = tuple(f"{look.group.label}: {settings_words(look.plan)}" for look in looks)
    texts = [*headings, *about]
    fonts = find_fonts(letters_beyond([instrument.name, *texts]))
    key = keys.pictures_key(
        keys.wiring_key(wiring), instrument.name, settings, [*texts, *map(digest_of, fonts)]
    )
    places = {
        str(i): f"{instrument.folder}/covers/{_cover_name(look, i)}.png" for i, look in enumerate(looks)
    }
    sent = tuple(font if records.scratch is not None else read_bytes(font) for font in fonts)
    job = PicturesJob(wiring, instrument.name, settings, headings, about, sent)
    return Task(key, job, places, instrument.folder), places


def _heading(look: GroupedClip) -> str:
    position = look.plan.setting.position
    return f"{position}  {look.plan.wiring.labels.get(position, '')}".strip()


def _cover_name(look: GroupedClip, i: int) -> str:
    return file_stem([f"{i + 1:02d}", look.plan.setting.position, look.group.name])


def _volts_keys(instrument: Instrument, records: JobRecords, lowered_db: float) -> list[str]:
    wiring, rate_hz = keys.wiring_key(instrument.wiring), records.listing.rate_hz
    return [
        keys.volts_key(clip.plan, wiring, records.take_key(clip.plan.performance), rate_hz, lowered_db)
        for clip in instrument.clips
    ]
