"""Tell one note of a string from several that ring together, and from what is no note at all.

A window of a note is compared with the partials of one string, n f0 sqrt(1 + B n^2). Power off these
partials is another note. Two notes whose pitches stand in a simple ratio fit a common fundamental,
but leave most of its partials out. A note an octave or a twelfth above another fits its partials
entirely and is not told.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import gcd, log2

import numpy as np
from numpy.typing import NDArray

from dsp.tracking.notes import Note
from dsp.tracking.partials import STIFFEST
from dsp.tracking.pitch import RATE_HZ, Floats

Flags = NDArray[np.bool_]

SEVERAL, NO_NOTE, UNTOLD = "several notes ring together", "no note of a string", "too short or soft to tell"
SINGLE = "one note at a time"
WINDOW_S, SHORT_S = 0.256, 0.128
"""Length of a window in long and in short notes."""
LONG_S = 0.45
"""Length of a note that holds a few long windows."""
LEAD_S = {WINDOW_S: 0.03, SHORT_S: 0.1}
"""From a note's onset to its first window: the pick's noise; in a short note also what is left of the
note before."""
SIZE = 8192
"""Length of the transform."""
LOWEST_HZ, HIGHEST_HZ = 50.0, 3400.0
VISIBLE_DB = -40.0
"""Peaks below this, re the strongest, are not compared."""
ALONE_DB = -50.0
"""A partial whose strongest companion is weaker than this is a tone, not a string."""
LOBE = 3.0
"""Half the width of a peak of the window's transform, in its bins (Blackman)."""
TONAL = 0.75
"""Least share of the power that the strongest peaks hold; noise spreads it."""
MOST_PEAKS = 30
NEAR_HZ, NEAR_SHARE, NEAR_MOVING, MOST_MOVING = 5.0, 0.003, 0.3, 0.012
"""Largest distance of a peak from its partial: Hz, share of its frequency, and share of the range in
which the pitch moves within the window, up to a limit: the tracking follows it a little late."""
CENTS = np.arange(-30.0, 31.0, 6.0)
STIFFNESS = np.array([0.0, 2e-5, 5e-5, 1e-4, 2e-4, 4e-4, 8e-4, STIFFEST])
"""Pitches, re the tracked one, and stiffnesses of the strings that are compared."""
OFF_DB = -14.0
"""Power off the partials, re all, that another note makes."""
FAMILIES = (
    *((p, q) for q in range(3, 10) for p in range(2, q) if gcd(p, q) == 1),
    *((4, 5, 6), (3, 4, 5), (2, 3, 5), (5, 6, 8), (10, 12, 15), (6, 8, 9), (4, 6, 7), (3, 5, 7), (2, 5, 7)),
)
"""Numbers of the partials that the notes of intervals and chords make of a common fundamental."""
LEFT_OUT_DB = {2: -22.0, 3: -40.0}
"""Power that two and three families leave to other partials, re all, if no string has the fundamental's
pitch. Three families leave little to any string."""
MEMBERS = np.array(
    [[n > 0 and not all(n % one for one in family) for n in range(200)] for family in FAMILIES], float
)
"""Which of the partials 0, 1, 2 … each family holds; more partials than fit below `HIGHEST_HZ`."""
LEFT_OUT = np.array([10.0 ** (LEFT_OUT_DB[len(family)] / 10.0) for family in FAMILIES])
MEMBER_DB = -20.0
"""Least power of what one family alone makes, re all."""
UPPER, UPPER_DB, BELOW_DB = 5, -32.0, -15.0
"""Partials from this number on must bear a family out: strong enough re all, and others this far below.
A dark string whose first partial was filtered away shows 2, 3 and 4 alone."""
MISSING_DB = -38.0
"""First and second partial weaker than this re the strongest are missing; the strong ones, without a
common divisor, are then other notes'."""
STRONG_DB = -25.0
LOUD_DB = -24.0
"""Windows this far below the loudest are not judged: noise and hum come near them."""
AROUND_S = 0.5
"""A window counts as most do around it, by amplitude: one note that rings over is no chord."""
MOSTLY = 0.5
FEWEST = 2
"""Windows of a passage."""
STRIKING_DB = -10.0
"""The loudest window of a passage, re the loudest of the take. An echo under a line is softer."""
WIDEST = 2.0
"""Semitones; a pitch that moves further within a window blurs it, and it is not judged."""
GAP_S = 0.7
"""Passages this close are one."""
WHOLE = 0.6
"""Share of the notes' time, or of the judged windows by amplitude, that makes the whole take no line."""
PERIODIC = 0.8
"""Least correlation of a short note with itself a period later."""


@dataclass(frozen=True)
class Passage:
    """A stretch of a line, and what it is.

    Attributes
    ----------
    why : str
        `SEVERAL`, `NO_NOTE` or `UNTOLD`; `SINGLE` in a list of verdicts alone.
    """

    start_s: float
    end_s: float
    why: str


@dataclass(frozen=True)
class _Window:
    """What one window of a note shows: ``why`` is empty for a single note."""

    start_s: float
    end_s: float
    amplitude: float
    why: str


def find_passages(notes: Sequence[Note], samples: Floats) -> tuple[Passage, ...]:
    """Find the passages of a line that are no single notes.

    Parameters
    ----------
    notes : sequence of Note
        From `find_notes`.
    samples : ndarray, shape (n,), any unit
        The tracked samples at the tracking rate.

    Returns
    -------
    tuple of Passage
        In order, not overlapping. One passage over everything if most of the line is of the kind.
    """
    return _passages(notes, samples, _windows(notes, samples))


def find_verdicts(notes: Sequence[Note], samples: Floats) -> tuple[Passage, ...]:
    """Say of every stretch with a note what it is.

    The passages are those of `find_passages`.

    A note outside those passages of which no window could be judged is `UNTOLD`: too short, too soft, or
    its pitch moves too far. It still counts as a single note where coil places are filtered.

    Parameters
    ----------
    notes : sequence of Note
        From `find_notes`.
    samples : ndarray, shape (n,), any unit
        The tracked samples at the tracking rate.

    Returns
    -------
    tuple of Passage
        In order, not overlapping; neighbours of one kind are one, over the pauses between them.
    """
    windows = _windows(notes, samples)
    passages = _passages(notes, samples, windows)
    rest = [
        Passage(note.start_s, note.end_s, SINGLE if _is_judged(note, windows) else UNTOLD)
        for note in leave_out(notes, passages)
    ]
    found: list[Passage] = []
    for one in sorted((*passages, *rest), key=lambda one: one.start_s):
        last = found[-1] if found else None
        if last is not None and last.why == one.why:
            found[-1] = replace(last, end_s=max(last.end_s, one.end_s))
        else:
            found.append(one if last is None else replace(one, start_s=max(one.start_s, last.end_s)))
    return tuple(found)


def _is_judged(note: Note, windows: Sequence[_Window]) -> bool:
    return any(one.start_s < note.end_s and one.end_s > note.start_s for one in windows)


def _windows(notes: Sequence[Note], samples: Floats) -> list[_Window]:
    """Return what the windows loud enough to be judged show."""
    loudest = _loudest(samples)
    windows = (window for note in notes for window in _judge(note, samples))
    return [one for one in windows if one.amplitude > loudest * 10.0 ** (LOUD_DB / 20.0)]


def _passages(notes: Sequence[Note], samples: Floats, windows: Sequence[_Window]) -> tuple[Passage, ...]:
    if notes and not windows:
        return (Passage(0.0, len(samples) / RATE_HZ, UNTOLD),)
    striking = _loudest(samples) * 10.0 ** (STRIKING_DB / 20.0)
    found = [passage for run in _runs(windows) for passage in _passage(run, notes, striking)]
    flagged = sum(one.amplitude for one in windows if one.why)
    left = sum(note.end_s - note.start_s for note in leave_out(notes, found))
    if flagged > WHOLE * sum(one.amplitude for one in windows) or left < (1.0 - WHOLE) * sum(
        note.end_s - note.start_s for note in notes
    ):
        return (Passage(0.0, len(samples) / RATE_HZ, _mostly(windows)),)
    return tuple(found)


def _loudest(samples: Floats) -> float:
    """Return the amplitude of the loudest stretch, as long as a short window."""
    size = round(SHORT_S * RATE_HZ)
    starts = np.arange(0, len(samples), size)
    power = np.add.reduceat(np.square(samples), starts) if len(samples) else np.zeros(1)
    return float(np.sqrt(np.max(power) / size))


def leave_out(notes: Sequence[Note], passages: Sequence[Passage]) -> tuple[Note, ...]:
    """Return the notes outside passages.

    A note that a passage cuts keeps its rest, if that is as long as a short window.
    """
    left = list(notes)
    for passage in passages:
        left = [part for note in left for part in _outside(note, passage)]
    return tuple(left)


def _outside(note: Note, passage: Passage) -> Iterator[Note]:
    if note.end_s <= passage.start_s or note.start_s >= passage.end_s:
        yield note
        return
    for start_s, end_s in ((note.start_s, passage.start_s), (passage.end_s, note.end_s)):
        if end_s - start_s > SHORT_S:
            yield replace(note, start_s=start_s, end_s=end_s)


def _runs(windows: Sequence[_Window]) -> Iterator[list[_Window]]:
    """Yield neighbouring windows of which most around them are flagged."""
    run: list[_Window] = []
    for window, most in zip(windows, _most_around(windows), strict=True):
        if run and (not most or window.start_s - run[-1].end_s > GAP_S):
            yield run
            run = []
        if most:
            run.append(window)
    yield run


def _passage(run: Sequence[_Window], notes: Sequence[Note], striking: float) -> Iterator[Passage]:
    flagged = [one for one in run if one.why]
    if len(flagged) >= FEWEST and max(one.amplitude for one in flagged) > striking:
        start_s, end_s = max(flagged[0].start_s - LEAD_S[SHORT_S], 0.0), flagged[-1].end_s
        rings_to_s = max((note.end_s for note in notes if note.start_s < end_s), default=end_s)
        yield Passage(start_s, max(rings_to_s, end_s), _mostly(run))


def _most_around(windows: Sequence[_Window]) -> list[bool]:
    """Whether most of what sounds around each window is flagged."""
    middles = np.array([0.5 * (one.start_s + one.end_s) for one in windows])
    size = np.array([one.amplitude for one in windows])
    flagged = np.array([bool(one.why) for one in windows])
    found = []
    for middle in middles:
        near = np.abs(middles - middle) <= AROUND_S
        found.append(bool(np.sum(size[near & flagged]) > MOSTLY * np.sum(size[near])))
    return found


def _mostly(windows: Sequence[_Window]) -> str:
    """Return the cause that holds for most of what sounds."""
    return max((SEVERAL, NO_NOTE), key=lambda why: sum(one.amplitude for one in windows if one.why == why))


def _judge(note: Note, samples: Floats) -> Iterator[_Window]:
    """Judge the windows of a note; of a short one its end, or whether it repeats at all."""
    seconds = note.end_s - note.start_s
    length_s = WINDOW_S if seconds >= LONG_S else SHORT_S
    last_s = max(seconds - length_s, 0.0)
    for lead_s in np.arange(min(LEAD_S[length_s], last_s), last_s + 1e-9, 0.5 * length_s):
        start_s = note.start_s + float(lead_s)
        end_s = min(start_s + length_s, note.end_s)
        low_hz, high_hz = _limits(note, start_s, end_s)
        part, pitch_hz = _part(note, samples, start_s, end_s)
        if 12.0 * log2(high_hz / low_hz) > WIDEST or not part.any():
            continue
        if seconds < SHORT_S:
            why = "" if _periodic(part, pitch_hz) else NO_NOTE
        else:
            why = _why(part, pitch_hz, NEAR_SHARE + min(NEAR_MOVING * (high_hz / low_hz - 1.0), MOST_MOVING))
        yield _Window(start_s, end_s, float(np.sqrt(np.mean(np.square(part)))), why)


def _limits(note: Note, start_s: float, end_s: float) -> tuple[float, float]:
    """Lowest and highest pitch within a span, Hz."""
    inner = note.pitch_hz[(note.times_s > start_s) & (note.times_s < end_s)] if not note.steady else ()
    pitch_hz = [note.pitch_at(start_s), *inner, note.pitch_at(end_s)]
    return min(pitch_hz), max(pitch_hz)


def _part(note: Note, samples: Floats, start_s: float, end_s: float) -> tuple[Floats, float]:
    """Return samples of a note at one pitch, Hz; a moving pitch is flattened."""
    first, last = max(round(start_s * RATE_HZ), 0), min(round(end_s * RATE_HZ), len(samples))
    count = max(last - first, 0)
    if note.steady or count < 2:
        return samples[first : first + count], note.lowest_hz
    from scipy.ndimage import map_coordinates

    pitch_hz = np.interp(start_s + np.arange(count) / RATE_HZ, note.times_s, note.pitch_hz)
    mean_hz = float(np.mean(pitch_hz))
    periods = np.concatenate([[0.0], np.cumsum(pitch_hz[:-1])]) / mean_hz
    at = first + np.interp(np.arange(int(periods[-1]) + 1), periods, np.arange(count))
    flat: Floats = map_coordinates(samples, [at], order=3, mode="nearest")
    return flat, mean_hz


def _periodic(part: Floats, pitch_hz: float) -> bool:
    """Whether a short part repeats with its period."""
    period = round(RATE_HZ / pitch_hz)
    here, later = part[:-period], part[period:]
    size = float(np.sqrt(np.sum(np.square(here)) * np.sum(np.square(later))))
    return len(here) >= period and bool(np.sum(here * later) > PERIODIC * size > 0.0)


def _why(part: Floats, pitch_hz: float, near_share: float) -> str:
    """Judge a window; empty for a single note of a string."""
    hz, power, tonal = _peaks(part)
    strongest = np.sort(power)[::-1]
    if tonal < TONAL or len(hz) < 2 or strongest[1] < strongest[0] * 10.0 ** (ALONE_DB / 10.0):
        return NO_NOTE
    seen = power > strongest[0] * 10.0 ** (VISIBLE_DB / 10.0)
    hz, power = hz[seen], power[seen]
    for fundamental_hz in (pitch_hz, 0.5 * pitch_hz):
        numbers, near = _partials(hz, power, fundamental_hz, near_share)
        of_partials = np.bincount(numbers[near], power[near], minlength=2).astype(float)
        if fundamental_hz < pitch_hz and of_partials[1] < np.max(of_partials) * 10.0 ** (STRONG_DB / 10.0):
            break  # the tracking did not take partial 2 for partial 1
        if np.sum(power[~near]) <= np.sum(power) * 10.0 ** (OFF_DB / 10.0):
            return SEVERAL if _common_fundamental(of_partials) else ""
    return SEVERAL


def _peaks(part: Floats) -> tuple[Floats, Floats, float]:
    """Return frequency and power of the peaks, and the share of all power that the strongest hold."""
    spectrum = np.abs(np.fft.rfft(part * np.blackman(len(part)), SIZE))
    step_hz = RATE_HZ / SIZE
    first, last = int(LOWEST_HZ / step_hz), int(HIGHEST_HZ / step_hz)
    here = spectrum[first:last]
    at = first + np.flatnonzero(
        (here > spectrum[first - 1 : last - 1]) & (here >= spectrum[first + 1 : last + 1])
    )
    at = at[spectrum[at] > np.max(spectrum[at], initial=0.0) * 10.0 ** (1.2 * ALONE_DB / 20.0)]
    if not len(at):
        return np.zeros(0), np.zeros(0), 0.0
    left, middle, right = (np.log(spectrum[at + shift] + 1e-300) for shift in (-1, 0, 1))
    moved = 0.5 * (left - right) / np.minimum(left - 2.0 * middle + right, -1e-12)
    power = np.square(spectrum[at])
    reach = int(LOBE * RATE_HZ / len(part) / step_hz)
    held = np.zeros(len(spectrum), bool)
    for peak in at[np.argsort(power)[::-1][:MOST_PEAKS]]:
        held[peak - reach : peak + reach + 1] = True
    every = np.square(here)
    return (at + moved) * step_hz, power, float(np.sum(every[held[first:last]]) / np.sum(every))


def _partials(
    hz: Floats, power: Floats, pitch_hz: float, near_share: float
) -> tuple[NDArray[np.int_], Flags]:
    """Number each peak by the string that explains most power, and tell which lie near a partial."""
    f0 = (pitch_hz * 2.0 ** (CENTS / 1200.0))[:, None, None]
    stiff = STIFFNESS[None, :, None]
    ratio = np.square(hz / f0)
    with np.errstate(divide="ignore", invalid="ignore"):
        curved = (np.sqrt(1.0 + 4.0 * stiff * ratio) - 1.0) / (2.0 * stiff)
    numbers = np.maximum(np.round(np.sqrt(np.where(stiff > 0.0, curved, ratio))), 1.0)
    distance = np.abs(numbers * f0 * np.sqrt(1.0 + stiff * np.square(numbers)) - hz)
    distance = distance / (NEAR_HZ + near_share * hz)
    explained = np.sum(power * np.maximum(1.0 - np.square(distance), 0.0), axis=2)
    best = np.unravel_index(int(np.argmax(explained)), explained.shape)
    return numbers[best].astype(int), distance[best] <= 1.0


def _common_fundamental(power: Floats) -> bool:
    """Whether the power of partials 0, 1, 2 … is that of notes on a common fundamental."""
    every, count = float(np.sum(power)), len(power)
    left_out = every - MEMBERS[:, :count] @ power
    for i in np.flatnonzero(left_out < every * LEFT_OUT):
        multiples = np.array([np.arange(count) % number == 0 for number in FAMILIES[i]])
        alone = np.where(np.sum(multiples, axis=0) == 1, multiples, False)
        if np.all(alone @ power > every * 10.0 ** (MEMBER_DB / 10.0)) and _borne_out(
            power[UPPER:], MEMBERS[i, UPPER:count] > 0.0, every
        ):
            return True
    strongest = float(np.max(power))
    strong = np.flatnonzero(power > strongest * 10.0 ** (STRONG_DB / 10.0))
    lowest = float(np.max(power[1:3], initial=0.0))
    return bool(lowest < strongest * 10.0 ** (MISSING_DB / 10.0) and np.gcd.reduce(strong) == 1)


def _borne_out(power: Floats, members: Flags, every: float) -> bool:
    inside, outside = float(np.sum(power[members])), float(np.sum(power[~members]))
    strong = every * 10.0 ** (UPPER_DB / 10.0)
    return bool(inside > strong and outside < inside * 10.0 ** (BELOW_DB / 10.0))
