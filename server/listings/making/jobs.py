"""The jobs of a listing. A job's result depends on its input alone, whatever the machine.

There are four kinds: a take played once for several of the next; clips of one take through one wiring to
plain volts; one clip at its level to one file; the responses and covers of one instrument. Problems of the
input are part of the result, so no exception has to travel between processes.
"""

from __future__ import annotations

import base64
from collections.abc import Iterator
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np

from dsp.errors import InputError, Problem
from dsp.filters.bank import Deviation
from dsp.takes.performance import Performance
from dsp.wiring.model import Setting, Wiring
from server.clips.level import Measurement
from server.clips.plan import ClipPlan
from server.clips.run import run_clips
from server.files.audio_out import Clip, Encoding, write_scratch
from server.files.raw_volts import read_volts
from server.files.tags import ClipTags
from server.files.whole import NO_ROOM, allowed_after, reason
from server.listings.making.folder import Blob, as_file, read_bytes, release, workplace
from server.processes.threads import use_one_thread

CURVE_HZ = np.geomspace(20.0, 20_000.0, 181)
SHOWN_HZ = slice(None, None, 2)
"""The frequencies of these that a page gets."""
LOWEST_DB = -120.0
PLAIN = "abcdefghijklmnopqrstuvwxyz0123456789"


@dataclass(frozen=True)
class Result:
    """The result of a job.

    Attributes
    ----------
    facts : dict
        As JSON.
    problems : tuple of Problem
        If there are any, there is nothing else.
    fatal : bool
        Whether every job will meet the problem: it is the machine's, such as a full disk.
    """

    facts: dict[str, Any] = field(default_factory=dict)
    files: dict[str, Blob] = field(default_factory=dict)
    problems: tuple[Problem, ...] = ()
    fatal: bool = False


@dataclass(frozen=True)
class PlayJob:
    """A take played into the cache, so that several jobs only read it."""

    performance: Performance
    wiring: Wiring
    rate_hz: int

    def run(self) -> Result:
        """Play; the result is in the cache."""
        self.performance.prepare(self.wiring, self.rate_hz)
        return Result()


@dataclass(frozen=True)
class RenderJob:
    """Clips of one take through one wiring, to plain volts.

    Attributes
    ----------
    keys : tuple of str
        Keys of the clips.
    recording : Blob or None
        The take's sound file, if it has one.
    name : str
        Folder of the results within the scratch folder.
    scratch : Path or None
        None if the disks are not the same.
    lowered_db : float
        What the drive gives way by.
    """

    keys: tuple[str, ...]
    plans: tuple[ClipPlan, ...]
    rate_hz: int
    recording: Blob | None
    name: str
    scratch: Path | None
    lowered_db: float = 0.0

    def run(self) -> Result:
        """Return per clip what was measured, and a file of volts."""
        with workplace(self.scratch) as place:
            performance = self.plans[0].performance
            if isinstance(self.recording, bytes):
                performance = _with_recording(performance, as_file(self.recording, place / "recording"))
            clips = run_clips(
                self.plans,
                place / self.name,
                self.rate_hz,
                stems=performance.stems(self.plans[0].wiring, self.rate_hz),
                lowered_db=self.lowered_db,
            )
            facts = {key: asdict(clip.measured) for key, clip in zip(self.keys, clips, strict=True)}
            files = {
                key: release(clip.volts.path, self.scratch)
                for key, clip in zip(self.keys, clips, strict=True)
            }
        return Result(facts, files)


def _with_recording(performance: Performance, path: Path) -> Performance:
    recording = getattr(performance, "recording", None)
    if recording is None:
        return performance
    moved: Any = replace(recording, path=path)
    return replace(performance, recording=moved)  # type: ignore[call-arg]


def measurement_of(facts: dict[str, Any]) -> Measurement:
    """Return what was measured of a clip, from its facts."""
    powers, error = tuple(facts["block_powers"]), Deviation(**facts["error"])
    lost_lu = tuple(facts.get("lost_lu", ()))
    return Measurement(**{**facts, "block_powers": powers, "error": error, "lost_lu": lost_lu})


@dataclass(frozen=True)
class EncodeJob:
    """One clip at its level to one file.

    Attributes
    ----------
    gain : float
        Factor.
    limiter_gain : float or None
        Factor before a limiter, besides; None without one.
    known_peak : float
        True peak of the volts, full scale 1.
    script : str
        The page's name for the sound; empty if no page plays this file.
    name : str
        Name of the result in the scratch folder.
    scratch : Path or None
        None if the disks are not the same.
    """

    volts: Blob
    encoding: Encoding
    gain: float
    tags: ClipTags
    cover: bytes
    rate_hz: int
    known_peak: float
    script: str
    name: str
    scratch: Path | None
    limiter_gain: float | None = None

    def run(self) -> Result:
        """Return the file, and what it measures when it is read back."""
        with workplace(self.scratch) as place:
            volts = read_volts(as_file(self.volts, place / f"{self.name}.f32"))
            limited = self.limiter_gain is not None
            clip = Clip(
                place / self.name,
                volts.blocks,
                self.tags,
                gain=self.gain if self.limiter_gain is None else self.limiter_gain,
                limited=limited,
                cover=self.cover,
            )
            written = write_scratch(
                clip,
                self.rate_hz,
                encoding=self.encoding,
                known_peak=None if limited else self.known_peak,
                gain=self.gain if limited else 1.0,
            )
            facts: dict[str, Any] = {
                "frames": written.frames,
                "gain": written.gain,
                "true_peak": written.true_peak,
            }
            if limited:
                facts["limiter_gain"] = self.limiter_gain
            files: dict[str, Blob] = {"clip": release(clip.path, self.scratch)}
            if self.script:
                files["script"] = sound_script(self.script, read_bytes(clip.path))
        return Result(facts, files)


def sound_script(name: str, sound: bytes) -> bytes:
    """Wrap a sound file in a script that hands it to the page.

    Parameters
    ----------
    name : str
        Letters and digits.
    """
    assert all(sign in PLAIN for sign in name)
    return b'presolderSound("' + name.encode() + b'","' + base64.b64encode(sound) + b'");\n'


@dataclass(frozen=True)
class PicturesJob:
    """Responses and covers of an instrument's settings.

    Attributes
    ----------
    headings, about : tuple of str
        Texts of each setting's cover.
    fonts : tuple of Blob
        For letters beyond the drawing library's own.
    """

    wiring: Wiring
    title: str
    settings: tuple[Setting, ...]
    headings: tuple[str, ...]
    about: tuple[str, ...]
    fonts: tuple[Blob, ...] = ()

    def run(self) -> Result:
        """Return the levels per setting at `CURVE_HZ`, and a cover (PNG) each."""
        from dsp.circuit.response import respond
        from server.documents.cover import cover, letters_beyond
        from server.documents.response_plot import heard_together

        together = heard_together(self.wiring, respond(self.wiring, list(self.settings), CURVE_HZ))
        levels = list(20.0 * np.log10(np.maximum(np.abs(together), 10.0 ** (LOWEST_DB / 20.0))))
        lacking = sorted(letters_beyond([self.title, *self.headings, *self.about], self.fonts))
        facts: dict[str, Any] = {"levels_db": [np.round(level[SHOWN_HZ], 2).tolist() for level in levels]}
        facts["lacking"] = "".join(map(chr, lacking))
        files: dict[str, Blob] = {}
        for i, level in enumerate(levels):
            others = [levels[j] for j in self._beside(i)]
            texts = self.title, self.headings[i], self.about[i]
            files[str(i)] = cover(*texts, CURVE_HZ, [level, *others], 0, self.fonts)
        return Result(facts, files)

    def _beside(self, i: int) -> Iterator[int]:
        """Yield the settings that differ from one in the position alone."""
        mine = self.settings[i]
        for j, other in enumerate(self.settings):
            if j != i and (other.knobs, other.switches) == (mine.knobs, mine.switches):
                yield j


Job = PlayJob | RenderJob | EncodeJob | PicturesJob


def shown_hz() -> list[float]:
    """Return the frequencies of the levels that pages get, Hz."""
    return [round(float(hz), 2) for hz in CURVE_HZ[SHOWN_HZ]]


def run_job(job: Job, method: str) -> Result:
    """Run a job; problems of its input become part of the result.

    Parameters
    ----------
    job : PlayJob, RenderJob, EncodeJob or PicturesJob
    method : str
        Digest of the program that asks; another version could give other bytes.
    """
    from server.listings.making import keys

    if keys.method() != method:
        got, allowed = "another version of the program or its libraries", "the same on every machine"
        return Result(problems=(Problem("worker", got, allowed),), fatal=True)
    use_one_thread()
    try:
        return job.run()
    except InputError as error:
        return Result(problems=error.problems, fatal=_of_the_machine(error))
    except OSError as error:
        allowed = allowed_after(error, "a file that can be used")
        problem = Problem(str(error.filename or "worker"), reason(error), allowed)
        return Result(problems=(problem,), fatal=error.errno in NO_ROOM)
    except MemoryError:
        return Result(
            problems=(Problem("worker", "no memory left", "a shorter take, or fewer jobs at once"),)
        )
    except Exception as error:  # a fault of ours with one wiring must not end the whole run
        got = f"{type(error).__name__}: {error}"
        return Result(problems=(Problem("worker", got, "a wiring that can be rendered"),))


def _of_the_machine(error: InputError) -> bool:
    """Whether a full disk is the cause, which every job will meet."""
    cause: BaseException | None = error
    while cause is not None:
        if isinstance(cause, OSError) and cause.errno in NO_ROOM:
            return True
        cause = cause.__cause__
    return any("room" in problem.allowed for problem in error.problems)
