"""Run blind tests: render both sounds in a helper process, open trial after trial, score at the end."""

from __future__ import annotations

import logging
import threading
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from dsp.chain.ways import DIRECT, WAYS, Way
from dsp.errors import InputError
from dsp.sound.audible import WORDS, Difference, difference
from dsp.sound.blind_odds import LENGTHS, LIMIT, chance_of_guessing, fewest_right
from dsp.sound.live_level import TARGET_LUFS
from dsp.takes.performance import Performance
from dsp.wiring.editing.document import Edit
from dsp.wiring.model import Setting, Wiring
from server.bench.hearing import RATE_HZ, Bench, Draft, Hearing
from server.blind import files as blind_files
from server.blind import store as blind_tests
from server.blind.store import MAKING, OPEN, Test, TestPlan
from server.clips.plan import plan_clip
from server.clips.run import MeasuredClip, run_clips
from server.database.store import Store
from server.processes.helper import Helper
from server.refusals import Unknown
from server.takes.library import Library

LETTERS = "AB"
SHORTEST_S, LONGEST_S = 0.5, 30.0
"""Of the stretch that is compared: a gating block of the loudness, and what a listener remembers."""
LOUDNESS_LUFS = TARGET_LUFS
"""Of both sounds: that of the bench. A pair whose peaks need more room comes down together: in a test
gain alone keeps peaks below -1 dBTP."""
EDGE_S = 0.01
"""Rise and fall at the ends, so that a loop over the stretch does not click."""
log = logging.getLogger("presolder")
Floats = NDArray[np.float64]
Sound = tuple[Wiring, Setting]


class BlindTests:
    """Begins tests, presents their trials and takes their answers."""

    def __init__(self, store: Store, library: Library, bench: Bench) -> None:
        self._store, self._library, self._bench = store, library, bench
        self._helper = Helper("blind tests")
        self._lock, self._guard = threading.Lock(), threading.Lock()
        self._making: set[str] = set()
        self._computed: dict[str, Difference | None] = {}
        blind_files.sweep(store.folder, blind_tests.unfinished(store))

    def begin(
        self,
        commission: str,
        sounds: Sequence[Hearing],
        take: str,
        *,
        from_s: float,
        to_s: float | None,
        trials: int,
        way: Way = DIRECT,
    ) -> str:
        """Begin a test and return its id; a thread makes its sounds.

        Parameters
        ----------
        sounds : sequence of Hearing
            Two; a take in them is ignored.
        from_s, to_s : float
            Stretch of the take; None for as long as it may be.
        way : Way
            How both are heard.

        Raises
        ------
        Unknown
            If there is no such take or commission.
        InputError
            For a wrong sound, stretch or number of trials.
        """
        if trials not in LENGTHS:
            raise InputError("trials", str(trials), ", ".join(map(str, LENGTHS)))
        row = self._library.row(take)
        seconds = round(self._library.performance(take).seconds, 3)
        end_s = min(seconds, from_s + LONGEST_S) if to_s is None else to_s
        _require_stretch(from_s, end_s, seconds)
        rows = [self._row(sound) for sound in sounds]
        plan = TestPlan(take, row.name, from_s, end_s, trials, rows, way.name)
        test = blind_tests.begin(self._store, commission, plan)
        self._make_meanwhile(test)
        return test

    def _row(self, sound: Hearing) -> dict[str, Any]:
        """Return a sound as the database keeps it: its whole setting."""
        setting = self._bench.setting(sound)
        return {
            "version": sound.draft.version,
            "edits": [{"path": list(edit.path), "value": edit.value} for edit in sound.draft.edits],
            "position": setting.position,
            "knobs": dict(setting.knobs),
            "switches": dict(setting.switches),
        }

    def get(self, test: str) -> dict[str, Any]:
        """Return a test with its present trial; go on with it after a restart."""
        found = blind_tests.get(self._store, test)
        if found.state == MAKING:
            self._make_meanwhile(test)
        trial = self._trial(test) if found.state == OPEN else None
        return {**test_json(found, self.computed(found)), "trial": trial}

    def computed(self, test: Test) -> Difference | None:
        """Return the computed difference of a finished test, or None.

        They are compared by the standard notes, not by the take. In a way that bends, no measure is known to
        hold, so there is none.
        """
        if not test.correct or WAYS[test.plan.way].oversampling:
            return None
        if test.id not in self._computed:
            try:
                self._computed[test.id] = _difference(*map(self._sound, test.plan.sounds))
            except InputError:  # the version can no longer be read as a wiring
                self._computed[test.id] = None
        return self._computed[test.id]

    def answer(self, test: str, number: int, choice: str) -> dict[str, Any]:
        """Store an answer, A or B, and return the test as it is then."""
        blind_tests.answer(self._store, test, number, LETTERS.index(choice))
        self._clear(test)
        return self.get(test)

    def give_up(self, test: str) -> dict[str, Any]:
        """End a test before its last trial, and return it as it is then."""
        blind_tests.give_up(self._store, test)
        self._clear(test)
        return self.get(test)

    def clip(self, test: str, name: str) -> bytes:
        """Return a clip of the present trial.

        Raises
        ------
        Unknown
            If the present trial has no such clip.
        """
        trial = blind_tests.present_trial(self._store, test)
        if trial is None or name not in trial.clips.values():
            raise Unknown("clip", "another name", "a clip of the present trial")
        return blind_files.read_clip(self._store.folder, test, name)

    def close(self) -> None:
        """End what is being made; the next request makes it again."""
        self._helper.close()

    def _trial(self, test: str) -> dict[str, Any] | None:
        """Return number and clips of the present trial; make the clips if they are missing."""
        with self._lock:
            trial = blind_tests.present_trial(self._store, test)
            if trial is None:
                return None
            clips, data = trial.clips, self._store.folder
            if not clips or not blind_files.clips_there(data, test, clips.values()):
                self._make_sounds(test)
                order = {"A": 0, "B": 1, "X": trial.x}
                clips = self._helper.call(blind_files.make_clips, data, test, RATE_HZ, order)
                blind_tests.set_clips(self._store, test, trial.number, clips)
            return {"number": trial.number, "clips": clips}

    def _clear(self, test: str) -> None:
        """Remove the files of a test that has ended."""
        with self._lock:
            if blind_tests.get(self._store, test).ended:
                blind_files.drop_test(self._store.folder, test)

    def _make_meanwhile(self, test: str) -> None:
        """Make a test's sounds in a thread, unless a thread already does."""
        with self._guard:
            if test in self._making:
                return
            self._making.add(test)
        threading.Thread(target=self._make, args=(test,), name="blind test", daemon=True).start()

    def _make(self, test: str) -> None:
        try:
            self._make_sounds(test)
            blind_tests.open_first_trial(self._store, test)
            self._trial(test)
        except InputError as error:
            if not self._helper.closed:
                blind_tests.fail(self._store, test, str(error))
        except Exception:
            log.exception("making the sounds of a blind test")
            blind_tests.fail(self._store, test, "an error of the program's own; its log says more")
        finally:
            self._making.discard(test)

    def _make_sounds(self, test: str) -> None:
        """Write both sounds of a test to the disk, unless they are there."""
        if blind_files.has_sounds(self._store.folder, test):
            return
        plan = blind_tests.get(self._store, test).plan
        sounds = [self._sound(row) for row in plan.sounds]
        performance = self._library.performance(plan.take)
        span, way = (plan.from_s, plan.to_s), WAYS[plan.way]
        self._helper.call(make_sounds, self._store.folder, test, performance, sounds, span, way)

    def _sound(self, row: Any) -> Sound:
        edits = tuple(Edit(tuple(edit["path"]), edit["value"]) for edit in row["edits"])
        wiring = self._bench.wiring(Draft(row["version"], edits))
        return wiring, wiring.setting(row["position"], row["knobs"], row["switches"])


def _difference(first: Sound, second: Sound) -> Difference | None:
    from dsp.sound.spectra import band_energy
    from dsp.sound.timbre import ear_bands

    energy = [band_energy(wiring, [setting], ear_bands())[0] for wiring, setting in (first, second)]
    return difference(*energy) if all(one.sum() > 0.0 for one in energy) else None


def _require_stretch(from_s: float, to_s: float, seconds: float) -> None:
    if not (0.0 <= from_s < to_s <= seconds + 0.01 and SHORTEST_S <= to_s - from_s <= LONGEST_S + 1e-6):
        allowed = f"{SHORTEST_S:g} to {LONGEST_S:g} s within the take's {seconds:g} s"
        raise InputError("stretch of the take", f"{from_s:g} to {to_s:g} s", allowed)


def test_json(test: Test, computed: Difference | None) -> dict[str, Any]:
    """Return a test without its trial, with its score once it is done.

    Parameters
    ----------
    computed : Difference or None
        Of the two sounds, if the test is done.
    """
    plan = test.plan
    return {
        "id": test.id,
        "commission": test.commission,
        "state": test.state,
        "problem": test.problem,
        "created": test.created,
        "ended": test.ended,
        "take": plan.take,
        "take_name": plan.take_name,
        "from_s": plan.from_s,
        "to_s": plan.to_s,
        "sounds": list(plan.sounds),
        "way": plan.way,
        "heard": WAYS[plan.way].about,
        "trials": plan.trials,
        "needed": fewest_right(plan.trials),
        "answered": len(test.answers),
        "score": _score(test) if test.correct else None,
        "computed": None
        if computed is None
        else {"largest_db": round(computed.largest_db, 2), "heard": computed.heard},
    }


def measure_record(tests: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """Count finished tests, and those that showed a difference.

    A row for each word that was computed.

    Parameters
    ----------
    tests : sequence of mapping
        From `test_json`.
    """
    done = [one for one in tests if one["score"] and one["computed"]]
    rows = []
    for word in WORDS:
        some = [one["score"]["heard"] for one in done if one["computed"]["heard"] == word]
        if some:
            rows.append({"computed": word, "tests": len(some), "shown": sum(some)})
    return rows


def _score(test: Test) -> dict[str, Any]:
    right = sum(answer == x for answer, x in zip(test.answers, test.correct, strict=True))
    p = chance_of_guessing(right, len(test.correct))
    return {
        "right": right,
        "chance": p,
        "heard": p < LIMIT,
        "drawn": "".join(LETTERS[x] for x in test.correct),
        "answers": "".join(LETTERS[answer] for answer in test.answers),
    }


def make_sounds(
    data: Path,
    test: str,
    performance: Performance,
    sounds: Sequence[Sound],
    span: tuple[float, float],
    way: Way = DIRECT,
) -> None:
    """Render both sounds over a stretch of a take, match and keep them.

    Raises
    ------
    InputError
        If the take does not fit a wiring, or a sound is silent.
    """
    with blind_files.rendering_folder(data) as scratch:
        pair = render_pair(performance, sounds, span, scratch, way)
    blind_files.keep_sounds(data, test, match_pair(pair))


def render_pair(
    performance: Performance,
    sounds: Sequence[Sound],
    span: tuple[float, float],
    scratch: Path,
    way: Way = DIRECT,
) -> list[Floats]:
    """Render a stretch of a take through each setting, both heard in one way.

    Where one of them would drive a way too far, both are driven less.

    Parameters
    ----------
    span : tuple of float
        Start and end of the stretch, s.

    Returns
    -------
    list of ndarray, shape (n,), volt
        The filters of each run from the start of the take.

    Raises
    ------
    InputError
        If the take does not fit a wiring, or has a sample that is not finite.
    """
    first, last = (round(at * RATE_HZ) for at in span)
    plans = [plan_clip(wiring, performance, setting, way=way) for wiring, setting in sounds]

    def run(lowered_db: float) -> list[MeasuredClip]:
        folders = [scratch / f"{letter}{'-lowered' if lowered_db else ''}" for letter in LETTERS]
        return [
            run_clips([plan], folder, RATE_HZ, span=(first, last), lowered_db=lowered_db)[0]
            for plan, folder in zip(plans, folders, strict=True)
        ]

    clips = run(0.0)
    excess_db = max(clip.measured.excess_db for clip in clips)
    if excess_db > 0.0:
        clips = run(excess_db)
    rendered = []
    for clip in clips:
        samples = np.concatenate([np.zeros(0), *clip.volts.blocks()])
        if not np.isfinite(samples).all():
            raise InputError("the take", "a sample that is not finite", "finite samples")
        rendered.append(samples)
    return rendered


def match_pair(rendered: Sequence[Floats]) -> list[Floats]:
    """Both sounds at one loudness and one length, their ends faded.

    Parameters
    ----------
    rendered : sequence of ndarray, shape (n,), volt

    Returns
    -------
    list of ndarray, shape (n,), full scale 1
        At `LOUDNESS_LUFS`, or lower together where peaks leave no room for it.

    Raises
    ------
    InputError
        If one of them is silent.
    """
    from dsp.sound.loudness import LoudnessMeter
    from dsp.sound.peak import true_peak
    from dsp.sound.set_levels import matching_gains

    n = min(map(len, rendered))
    rise = 0.5 - 0.5 * np.cos(np.pi * np.minimum(np.arange(n) / (EDGE_S * RATE_HZ), 1.0))
    sounds, powers = [samples[:n] * rise * rise[::-1] for samples in rendered], []
    for letter, sound in zip(LETTERS, sounds, strict=True):
        meter = LoudnessMeter(RATE_HZ)
        meter.add(sound)
        if not np.isfinite(meter.integrated_lufs()):
            got, allowed = "silence in this stretch", "two sounds that can be heard"
            raise InputError(f"sound {letter}", got, allowed, "silence cannot be level-matched")
        powers.append(np.array(meter.block_powers()))
    gains = matching_gains(powers, [true_peak(sound, RATE_HZ) for sound in sounds], LOUDNESS_LUFS)
    return [sound * gain for sound, gain in zip(sounds, gains, strict=True)]
