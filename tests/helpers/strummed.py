"""A simulated guitar that is strummed in every position: other players, other parts, faults."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from dsp.checking.directions import draw_steps, find_directions, make_copies, with_taps
from dsp.circuit.copies import respond_copies
from dsp.strings.perform import Setup, perform
from dsp.takes.player import PLUCK_SHARE, instrument_of, notes_of, strings_of
from dsp.takes.score import Event, Score
from dsp.verifying.strums import Strums, find_starts, measure, window_of
from dsp.wiring.model import Joint, Setting, Wiring

Floats = NDArray[np.float64]
RATE_HZ = 48_000
STILL_S, TAIL_S = 0.5, 1.6
GRID_HZ = np.concatenate([[0.5], np.geomspace(20.0, 24_000.0, 420)])
HANDS = ("pick", "thin pick", "thick pick", "finger", "thumb")


@dataclass(frozen=True)
class Performance:
    """Strums of one recording before the circuit.

    Attributes
    ----------
    spectrum : ndarray, shape (n_coils, n_samples // 2 + 1), volt
        Of the stems.
    """

    spectrum: NDArray[np.complex128]
    n_samples: int


def strum_stems(wiring: Wiring, seed: int, *, hand: str = "pick", strums: int = 4,
                frets: Sequence[int | None] | None = None) -> Performance:  # fmt: skip
    """Strum a chord as one player does in one recording: force, place and tempo differ by seed."""
    chance = np.random.default_rng([seed, 41])
    instrument, _ = instrument_of(wiring.instrument)
    n_strings = len(instrument.strings)
    force = float(np.clip(0.5 * 10.0 ** (chance.normal(0.0, 1.5) / 20.0), 0.15, 1.0))
    place = instrument.scale_m * PLUCK_SHARE + chance.normal(0.0, 0.012)
    gap_s = float(chance.uniform(1.5, 2.3))
    cross_s = float(chance.uniform(0.006, 0.014))
    events = [
        Event(
            k * gap_s + STILL_S + 0.02 * chance.normal(),
            string=n_strings - index,
            fret=fret or 0,
            force=force,
            pluck_at_m=place,
            hand=hand,
            delay_s=cross_s * index * 6 / n_strings,
        )
        for k in range(strums)
        for index, fret in enumerate(frets if frets is not None else [0] * n_strings)
        if fret is not None
    ]
    score = Score(
        60.0, tuple(events), seed=seed, timing_s=0.003, dynamics_db=1.2, place_m=0.005, tail_s=TAIL_S
    )
    coils = list(wiring.coils.values())
    setup = Setup(strings_of(score, instrument), coils, RATE_HZ, score.curvature)
    n = round(score.seconds * RATE_HZ)
    stems = np.concatenate(list(perform(notes_of(score, instrument, "strums"), setup, n)), axis=1)
    return Performance(np.fft.rfft(stems, axis=1), n)


@dataclass(frozen=True)
class Guitar:
    """One built instrument: its responses at every setting, drawn by tolerance.

    Attributes
    ----------
    coil : ndarray, shape (n_settings, n_coils, n_grid)
    """

    coil: NDArray[np.complex128]


def build(wiring: Wiring, settings: Sequence[Setting], seed: int, *, sensitivity_db: float = 1.0,
          cable: float = 0.1) -> Guitar:  # fmt: skip
    """Build an instrument of parts drawn by tolerance."""
    wiring = with_taps(wiring)
    directions = find_directions(wiring, cable=cable)
    steps = draw_steps(1, len(directions), 10_000 + seed)
    coil, _ = respond_copies(wiring, settings, GRID_HZ, make_copies(wiring, directions, steps))
    gain = 10.0 ** (sensitivity_db * np.random.default_rng([seed, 43]).standard_normal(coil.shape[2]) / 20.0)
    return Guitar(coil[:, 0] * gain[:, None])


def record(guitar: Guitar, setting: int, played: Performance, seed: int, *, noise_db: float = -70.0,
           hum_db: float = -60.0, gain: float = 1.0) -> Floats:  # fmt: skip
    """Record one performance at one setting, with noise and hum relative to 0.1 V."""
    hz = np.fft.rfftfreq(played.n_samples, 1.0 / RATE_HZ)
    at = np.log(np.maximum(hz, GRID_HZ[0]))
    grid = np.log(GRID_HZ)
    total = np.zeros(len(hz), complex)
    for response, stem in zip(guitar.coil[setting], played.spectrum, strict=True):
        if np.abs(response).max() > 1e-9:
            total += stem * np.interp(at, grid, response)
    samples = np.fft.irfft(total, played.n_samples)
    chance = np.random.default_rng([seed, 47])
    time_s = np.arange(played.n_samples) / RATE_HZ
    samples += 0.1 * 10.0 ** (noise_db / 20.0) * chance.standard_normal(played.n_samples)
    for number, level in ((1, 1.0), (2, 0.4), (3, 0.5), (5, 0.2)):
        samples += 0.1 * 10.0 ** (hum_db / 20.0) * level * np.sin(2 * np.pi * 50 * number * time_s + number)
    return gain * samples


def measured(recordings: Sequence[Floats]) -> tuple[list[Strums], float]:
    """Return the strums of recordings and the time over which they count, s."""
    starts = [find_starts(samples, "recording") for samples in recordings]
    windows = [window_of(at, len(one)) for at, one in zip(starts, recordings, strict=True) if len(at)]
    window_s = min(windows)
    return [measure(one, at, window_s) for one, at in zip(recordings, starts, strict=True)], window_s


def with_leads_turned(wiring: Wiring, coil: str) -> Wiring:
    """Return a wiring with start and finish of a coil exchanged."""
    to = {(coil, "start"): (coil, "finish"), (coil, "finish"): (coil, "start")}
    joints = (Joint(tuple(to.get(t, t) for t in joint.terminals)) for joint in wiring.joints)
    return replace(wiring, joints=tuple(joints))


def without_terminal(wiring: Wiring, part: str, lead: str) -> Wiring:
    """Return a wiring in which a lead came off its joint."""
    joints = (Joint(tuple(t for t in joint.terminals if t != (part, lead))) for joint in wiring.joints)
    return replace(wiring, joints=tuple(joints))


def with_coil_shorted(wiring: Wiring, coil: str) -> Wiring:
    """Return a wiring with start and finish of a coil joined."""
    return replace(wiring, joints=(*wiring.joints, Joint(((coil, "start"), (coil, "finish")))))


class Bench:
    """A pool of performances by one player's hand; each guitar is played by some of them.

    Parameters
    ----------
    settings : sequence of Setting
        To record.
    pool : int
        Performances, more than settings.
    """

    def __init__(
        self, wiring: Wiring, settings: Sequence[Setting], pool: int, seed: int, *, hand: str, strums: int = 4
    ) -> None:
        self.wiring, self.settings = wiring, list(settings)
        self.played = [strum_stems(wiring, 1000 * seed + k, hand=hand, strums=strums) for k in range(pool)]

    def record_all(
        self, wiring: Wiring, seed: int, order: Sequence[int] | None = None, *, hum_db: float = -60.0
    ) -> list[Floats]:
        """Build a guitar and record every setting, in another order if one is given."""
        guitar = build(wiring, self.settings, seed)
        chosen = np.random.default_rng([seed, 5]).permutation(len(self.played))
        return [
            record(guitar, at, self.played[chosen[i]], 100 * seed + i, hum_db=hum_db)
            for i, at in enumerate(order or range(len(self.settings)))
        ]


def settings_of(wiring: Wiring) -> list[Setting]:
    """Return every position, of the twelve-string the turned coil too, and the tone knob down."""
    turned = [wiring.setting("2", switches={"phase": "2"})] if "phase" in wiring.stands else []
    plain = [wiring.setting(position) for position in wiring.positions]
    return [*plain, *turned, wiring.setting(wiring.positions[0], {"tone": 0.0})]
