"""Movements during a clip: sweeps of knobs and flips of switches, as a chain of steps."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from dsp.errors import InputError, nearest
from dsp.parts.pot import KNOB_ALLOWED, KNOB_TOP
from dsp.wiring.model import Setting, Wiring

FADE_S = 0.02
"""Length of one fade; a raised cosine of this length leaves a flip below -100 dB."""
SWEEP_STEP_S = 0.005
"""Time between two settings of a sweep; tests/dsp/sound/test_sweeps.py justifies it."""
MOST_STEPS = 1500
"""Settings in one sweep; a longer sweep takes longer steps, not more."""


@dataclass(frozen=True)
class Sweep:
    """A knob moved evenly from one value to another.

    Attributes
    ----------
    start, end : float
        0 to 10.
    from_s, to_s : float or None
        None for the start and the end of the clip.
    """

    knob: str
    start: float
    end: float
    from_s: float | None = None
    to_s: float | None = None


@dataclass(frozen=True)
class Flip:
    """A switch, or the selector (name None), moved to a position at a time.

    A jack is a switch whose positions are its plugs.
    """

    at_s: float
    position: str
    switch: str | None = None


@dataclass(frozen=True)
class Step:
    """A setting of the chain, and the fade that reaches it.

    Attributes
    ----------
    at : int
        Sample at which the fade towards this setting starts.
    fade : int
        Length of the fade in samples; 0 for the first step.
    straight : bool
        Linear instead of raised cosine: in a sweep, fades follow one another without a pause, and
        linear ones add up to a steady movement.
    """

    at: int
    fade: int
    setting: Setting
    straight: bool = False


def steps_of(
    wiring: Wiring,
    setting: Setting,
    sweeps: Sequence[Sweep],
    flips: Sequence[Flip],
    *,
    n_samples: int,
    rate_hz: float,
) -> tuple[Step, ...]:
    """Return the chain of settings of a clip.

    Parameters
    ----------
    setting : Setting
        At the start; swept knobs begin at the start of their sweep.
    n_samples : int
        Length of the clip.

    Returns
    -------
    tuple of Stage
        In order; each fade ends before the next starts.

    Raises
    ------
    InputError
        For an unknown knob, switch or position, a value or time out of range, a sweep shorter
        than one fade, two sweeps of one knob at once or with a jump between them, or flips
        closer than one fade.
    """
    ordered = sorted(flips, key=lambda flip: flip.at_s)
    whole, times = check_movements(wiring, sweeps, ordered, n_samples=n_samples, rate_hz=rate_hz)
    state = _Moving(wiring, setting, whole, list(zip(times, ordered, strict=True)), rate_hz)
    fade = round(FADE_S * rate_hz)
    steps = _without(_sweep_grid(whole, rate_hz), times, fade)
    found = [Step(0, 0, state.at(0, flipped=0))]
    fades = [(start, end, True) for start, end in steps] + [(at, at + fade, False) for at in times]
    for start, end, straight in sorted(fades):
        following = state.at(end, flipped=start)
        if following != found[-1].setting and start < n_samples:
            found.append(Step(start, end - start, following, straight))
    return tuple(found)


def check_movements(
    wiring: Wiring, sweeps: Sequence[Sweep], flips: Sequence[Flip], *, n_samples: int, rate_hz: float
) -> tuple[list[Sweep], list[int]]:
    """Check sweeps and flips; fill in their times.

    It refuses all that `steps_of` refuses, without making the chain: planning a catalogue needs no more.

    Parameters
    ----------
    n_samples : int
        Length of the clip.

    Returns
    -------
    sweeps : list of Sweep
    times : list of int
        Sample at which each flip's fade starts, in order.

    Raises
    ------
    InputError
        As `steps_of` does.
    """
    length_s = n_samples / rate_hz
    whole = [_checked(wiring, sweep, length_s, rate_hz) for sweep in sweeps]
    _refuse_overlap(whole)
    ordered = sorted(flips, key=lambda flip: flip.at_s)
    return whole, _flip_times(wiring, ordered, length_s, rate_hz)


def initial_setting(setting: Setting, sweeps: Sequence[Sweep]) -> Setting:
    """Return the setting at the start of a clip, swept knobs at their start."""
    knobs = dict(setting.knobs)
    for sweep in sorted(sweeps, key=lambda one: one.from_s or 0.0, reverse=True):
        knobs[sweep.knob] = sweep.start
    return replace(setting, knobs=knobs)


@dataclass(frozen=True)
class _Moving:
    """The setting as a function of the sample."""

    wiring: Wiring
    setting: Setting
    sweeps: Sequence[Sweep]
    flips: Sequence[tuple[int, Flip]]
    rate_hz: float

    def at(self, sample: int, *, flipped: int) -> Setting:
        """Return the setting: knobs at one sample, switches at another, earlier one."""
        knobs = dict(initial_setting(self.setting, self.sweeps).knobs)
        for sweep in sorted(self.sweeps, key=lambda one: one.from_s or 0.0):
            assert sweep.from_s is not None  # _checked() fills in both times
            assert sweep.to_s is not None
            share = (sample / self.rate_hz - sweep.from_s) / (sweep.to_s - sweep.from_s)
            if share >= 0.0:
                knobs[sweep.knob] = sweep.start + min(share, 1.0) * (sweep.end - sweep.start)
        position, switches = self.setting.position, dict(self.setting.switches)
        for start, flip in self.flips:
            if start <= flipped and flip.switch is None:
                position = flip.position
            elif start <= flipped and flip.switch is not None:
                switches[flip.switch] = flip.position
        return self.wiring.setting(position, knobs, switches)


def _checked(wiring: Wiring, sweep: Sweep, length_s: float, rate_hz: float) -> Sweep:
    """Fill in the times of a sweep; refuse an impossible one."""
    where = f"sweep of {sweep.knob}"
    if sweep.knob not in wiring.knobs:
        allowed = f"a knob: {', '.join(wiring.knobs) or 'none here'}"
        raise InputError("sweep", f"'{sweep.knob}'", allowed, nearest(sweep.knob, wiring.knobs))
    for value in (sweep.start, sweep.end):
        if not 0.0 <= value <= KNOB_TOP:
            raise InputError(where, f"{value:g}", KNOB_ALLOWED)
    from_s = 0.0 if sweep.from_s is None else sweep.from_s
    to_s = length_s if sweep.to_s is None else sweep.to_s
    if not 0.0 <= from_s < to_s <= length_s + 1.0 / rate_hz:
        raise InputError(where, f"{from_s:g} to {to_s:g} s", f"times in order within 0 to {length_s:g} s")
    if to_s - from_s < FADE_S * (1.0 - 1e-9):
        raise InputError(
            where, f"{1000 * (to_s - from_s):g} ms", f"at least {1000 * FADE_S:g} ms: less clicks"
        )
    return replace(sweep, from_s=from_s, to_s=to_s)


def _refuse_overlap(sweeps: Sequence[Sweep]) -> None:
    ordered = sorted(sweeps, key=lambda sweep: (sweep.knob, sweep.from_s or 0.0))
    for before, after in pairwise(ordered):
        if before.knob != after.knob:
            continue
        gap_s = (after.from_s or 0.0) - (before.to_s or 0.0)
        if gap_s < 0.0:
            raise InputError(f"sweep of {after.knob}", "two sweeps at once", "one after the other")
        if after.start != before.end:
            got = f"{before.end:g}, then a jump to {after.start:g}"
            raise InputError(f"sweep of {after.knob}", got, "a sweep that starts where the one before ended")


def _sweep_grid(sweeps: Sequence[Sweep], rate_hz: float) -> list[tuple[int, int]]:
    """Return start and end sample of every fade of the sweeps, without gaps while a knob moves."""
    spans = sorted((round((s.from_s or 0) * rate_hz), round((s.to_s or 0) * rate_hz)) for s in sweeps)
    joined: list[list[int]] = []
    for start, end in spans:
        if joined and start <= joined[-1][1]:
            joined[-1][1] = max(joined[-1][1], end)
        else:
            joined.append([start, end])
    grid: list[tuple[int, int]] = []
    for start, end in joined:
        step = max(SWEEP_STEP_S * rate_hz, (end - start) / MOST_STEPS)
        count = max(1, round((end - start) / step))
        edges = [start + round(i * (end - start) / count) for i in range(count + 1)]
        grid += list(pairwise(edges))
    return grid


def _without(grid: Sequence[tuple[int, int]], flips: Sequence[int], fade: int) -> list[tuple[int, int]]:
    """Cut the fades of flips out of the steps of sweeps, so that no two fades overlap."""
    left = list(grid)
    for at in flips:
        cut = [((start, min(end, at)), (max(start, at + fade), end)) for start, end in left]
        left = [piece for pieces in cut for piece in pieces if piece[0] < piece[1]]
    return left


def _flip_times(wiring: Wiring, flips: Sequence[Flip], length_s: float, rate_hz: float) -> list[int]:
    """Return the sample at which each flip's fade starts."""
    times: list[int] = []
    for flip in flips:
        known = wiring.positions if flip.switch is None else tuple(_switch(wiring, flip.switch))
        if flip.position not in known:
            what = "a plug" if flip.switch in wiring.jacks else "a position"
            raise InputError("flip", f"'{flip.position}'", f"{what}: {', '.join(known)}")
        if not 0.0 <= flip.at_s < length_s:
            allowed = f"a time from 0 to {length_s:g} s, the clip's length"
            raise InputError("flip", f"{flip.at_s:g} s", allowed)
        at = round(flip.at_s * rate_hz)
        if times and at - times[-1] < round(FADE_S * rate_hz):
            raise InputError("flip", f"two within {1000 * FADE_S:g} ms", "flips at least one fade apart")
        times.append(at)
    return times


def _switch(wiring: Wiring, name: str) -> Sequence[str]:
    if name == wiring.selector:
        raise InputError("flip", f"'{name}'", "position=N@SECONDS for the selector")
    stands = wiring.stands
    if name not in stands:
        raise InputError("flip", f"'{name}'", f"a switch or jack: {', '.join(stands) or 'none here'}")
    return stands[name]
