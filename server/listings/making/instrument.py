"""One instrument of a listing, from its plan to its page: which jobs, in what order.

Written as a generator: it yields jobs that may run side by side and is sent their results, those
already on disk never leaving it. What depends on all clips, such as the one gain that keeps the
differences between them, is decided in between.
"""

from __future__ import annotations

from collections.abc import Generator, Sequence

from server.files.names import file_stem
from server.listings.making import keys
from server.listings.making.desk import Desk, Task
from server.listings.making.folder import Kept
from server.listings.making.jobs import PicturesWork, measured_of
from server.listings.making.levelling import Clips, volts_tasks
from server.listings.making.made import Made
from server.listings.making.plan import Instrument, ListedClip

Steps = Generator[list[Task], list[Kept], "Made"]


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
    first += volts_tasks(instrument, desk, sounding, unmeasured)
    if first:
        yield first
    seen = desk.must(pictures.key, places)
    measured = [measured_of(desk.must(key).facts) for key in sounding]
    clips = Clips(instrument, desk, sounding, measured, _look_of(instrument, looks), places, seen)
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
    about = tuple(f"{look.group.label}: {look.plan.settings_text}" for look in looks)
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
