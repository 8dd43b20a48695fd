"""Run volts at the input through a way to hear them, block by block, with state."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from dsp.chain.soft import DELAY as SOFT_DELAY
from dsp.chain.soft import MOST_DRIVE, SoftStage, SoftState, respond_blocking
from dsp.chain.speaker import design_speaker, respond_speaker
from dsp.chain.stack import KNOBS, design_stack, respond_stack
from dsp.chain.ways import Way
from dsp.circuit.reduction import Complex, Floats
from dsp.filters.design import DELAY as BANK_DELAY
from dsp.filters.run import BankState, Runner

VALVE_MU, VALVE_OHM, PLATE_OHM = 100.0, 62.5e3, 100e3
"""A high-mu double triode (a valve designer's page), its cathode bypassed, and the usual load of its plate
(common practice)."""
VALVE_GAIN = VALVE_MU * PLATE_OHM / (PLATE_OHM + VALVE_OHM)
"""61.5: mu Ra / (Ra + ra), a formula from memory."""
USUAL_KNOBS = KNOBS["scooped"]


@dataclass(frozen=True)
class ChainState:
    """State of a running chain; None for stages that a way has not."""

    stack: BankState | None = None
    soft: SoftState | None = None
    speaker: BankState | None = None


class Chain:
    """Runs one way over volts at the amplifier's input.

    What comes out is no voltage any more: a set of sounds takes one gain.

    Parameters
    ----------
    rate_hz : float
        44.1 to 192 kHz.
    knobs : mapping of str to float
        Of the stack: treble, middle and bass, 0 to 10.
    lowered_db : float
        What the drive gives way by, from `excess_db`.

    Attributes
    ----------
    delay : int
        Samples by which the output lags the input; clips are shifted back by it.
    """

    def __init__(
        self,
        way: Way,
        rate_hz: float,
        *,
        knobs: Mapping[str, float] = USUAL_KNOBS,
        open_back: bool = False,
        axis_deg: int = 0,
        lowered_db: float = 0.0,
    ) -> None:
        self.way = way
        self.delay = 0
        self._gain = drive_gain(way, lowered_db)
        self._stack = self._speaker = None
        self._soft = SoftStage(way.oversampling, rate_hz) if way.oversampling else None
        if way.amplified:
            self._stack = Runner(design_stack(knobs, rate_hz))
            self._speaker = Runner(design_speaker(rate_hz, open_back=open_back, axis_deg=axis_deg))
            self.delay = 2 * BANK_DELAY + (SOFT_DELAY if self._soft else 0)

    def initial_state(self) -> ChainState:
        """Return the state before any sample."""
        if self._stack is None or self._speaker is None:
            return ChainState()
        soft = self._soft.initial_state() if self._soft else None
        return ChainState(self._stack.initial_state(), soft, self._speaker.initial_state())

    def run(self, volts: Floats, state: ChainState) -> tuple[Floats, ChainState]:
        """Run the next samples, any number; direct returns the very same ones.

        Parameters
        ----------
        volts : ndarray, shape (n_samples,)
            At the amplifier's input.
        state : ChainState
            From `initial_state` or the previous call.
        """
        if self._stack is None or self._speaker is None or state.stack is None or state.speaker is None:
            return volts, state
        samples, stack = self._stack.run(self._gain * volts[None, :], state.stack)
        soft = state.soft
        if self._soft is not None and soft is not None:
            samples, soft = self._soft.run(samples, soft)
        samples, speaker = self._speaker.run(samples[None, :], state.speaker)
        return samples, ChainState(stack, soft, speaker)


def drive_gain(way: Way, lowered_db: float = 0.0) -> float:
    """Return the gain before the soft stage, the stack's own left out."""
    return VALVE_GAIN * 10.0 ** ((way.drive_db - lowered_db) / 20.0) if way.amplified else 1.0


def excess_db(way: Way, state: ChainState) -> float:
    """Return by how much the drive must give way, dB, lest sounds fold back.

    Harmonics above half the oversampled rate fold back into the band as tones that no string makes. A set of
    sounds is run once; the largest excess of its clips is then taken off the drive of all.

    Returns
    -------
    float
        0 where the drive stayed below the limit.
    """
    if state.soft is None or state.soft.drive <= MOST_DRIVE[way.oversampling]:
        return 0.0
    return float(20.0 * np.log10(state.soft.drive / MOST_DRIVE[way.oversampling]))


def respond_small(
    way: Way,
    frequencies_hz: Floats,
    *,
    knobs: Mapping[str, float] = USUAL_KNOBS,
    open_back: bool = False,
    axis_deg: int = 0,
) -> Complex:
    """Compute a way's response to small signals, shape (n_freqs,).

    In direct and clean it is the response to any signal.
    """
    if not way.amplified:
        return np.ones(len(frequencies_hz), complex)
    stack = respond_stack(knobs, frequencies_hz)
    speaker = respond_speaker(frequencies_hz, open_back=open_back, axis_deg=axis_deg)
    found: Complex = drive_gain(way) * stack * speaker
    return found * respond_blocking(frequencies_hz) if way.oversampling else found
