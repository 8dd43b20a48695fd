"""Run volts at the input through a way to hear them, block by block, with state."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import inf

import numpy as np

from dsp.chain.impulse import Cabinet, CabinetRunner
from dsp.chain.soft import DELAY as SOFT_DELAY
from dsp.chain.soft import MOST_DRIVE, SoftStage, SoftState, respond_blocking
from dsp.chain.speaker import design_speaker, respond_speaker
from dsp.chain.stack import KNOBS, design_stack, respond_stack
from dsp.chain.ways import Way
from dsp.circuit.reduction import Complex, Floats
from dsp.errors import InputError
from dsp.filters.design import DELAY as BANK_DELAY
from dsp.filters.run import BankState, Runner

VALVE_MU, VALVE_OHM, PLATE_OHM = 100.0, 62.5e3, 100e3
"""A high-mu double triode (a valve designer's page), its cathode bypassed, and the usual load of its plate
(a public page on amplifier stages)."""
VALVE_GAIN = VALVE_MU * PLATE_OHM / (PLATE_OHM + VALVE_OHM)
"""61.5: mu Ra / (Ra + ra), a formula from memory."""
USUAL_KNOBS = KNOBS["scooped"]


@dataclass(frozen=True)
class ChainState:
    """State of a running chain; None for stages that a way has not."""

    stack: BankState | None = None
    soft: SoftState | None = None
    speaker: BankState | None = None
    cabinet: Floats | None = None


class Chain:
    """Runs one way over volts at the amplifier's input.

    What comes out is no voltage any more: a set of sounds takes one gain. Run `delay` zeros after the last
    sample, and leave out as many at the start.

    Parameters
    ----------
    rate_hz : float
        44.1 to 192 kHz.
    knobs : mapping of str to float
        Of the stack: treble, middle and bass, 0 to 10.
    cabinet : Cabinet or None
        A measured impulse response in place of the model's loudspeaker.
    lowered_db : float
        What the drive gives way by, from `excess_db`.
    input_share : float
        Of the voltage, from `divider.input_share`; direct has the voltage itself.

    Attributes
    ----------
    delay : int
        Samples by which the output lags the input.

    Raises
    ------
    InputError
        If the sampling rate is outside the filters' range or not the cabinet's, or the axis is not offered.
    """

    def __init__(
        self,
        way: Way,
        rate_hz: float,
        *,
        knobs: Mapping[str, float] = USUAL_KNOBS,
        open_back: bool = False,
        axis_deg: int = 0,
        cabinet: Cabinet | None = None,
        lowered_db: float = 0.0,
        input_share: float = 1.0,
    ) -> None:
        self.delay = 0
        self._most_drive = MOST_DRIVE.get(way.oversampling, inf)
        self._gain = input_share * drive_gain(way, lowered_db)
        self._stack = self._soft = self._speaker = self._cabinet = None
        if not way.amplified:
            return
        self._stack = Runner(design_stack(knobs, rate_hz))
        self.delay += BANK_DELAY
        if way.oversampling:
            self._soft = SoftStage(way.oversampling, rate_hz)
            self.delay += SOFT_DELAY
        if cabinet is not None:
            if cabinet.rate_hz != rate_hz:
                got, allowed = f"{cabinet.rate_hz:g} Hz", f"{rate_hz:g} Hz, as the chain"
                raise InputError("impulse response", got, allowed)
            self._cabinet = CabinetRunner(cabinet)
        else:
            self._speaker = Runner(design_speaker(rate_hz, open_back=open_back, axis_deg=axis_deg))
            self.delay += BANK_DELAY

    def initial_state(self) -> ChainState:
        """Return the state before any sample."""
        return ChainState(
            self._stack.initial_state() if self._stack else None,
            self._soft.initial_state() if self._soft else None,
            self._speaker.initial_state() if self._speaker else None,
            self._cabinet.initial_state() if self._cabinet else None,
        )

    def run(self, volts: Floats, state: ChainState) -> tuple[Floats, ChainState]:
        """Run the next samples, any number; direct returns the very same ones.

        Parameters
        ----------
        volts : ndarray, shape (n_samples,)
            At the amplifier's input.
        state : ChainState
            From `initial_state` or the previous call.
        """
        samples, stack, soft, speaker, cabinet = volts, state.stack, state.soft, state.speaker, state.cabinet
        if self._stack is not None and stack is not None:
            samples, stack = self._stack.run(self._gain * samples[None, :], stack)
        if self._soft is not None and soft is not None:
            samples, soft = self._soft.run(samples, soft)
        if self._speaker is not None and speaker is not None:
            samples, speaker = self._speaker.run(samples[None, :], speaker)
        if self._cabinet is not None and cabinet is not None:
            samples, cabinet = self._cabinet.run(samples, cabinet)
        return samples, ChainState(stack, soft, speaker, cabinet)

    def excess_db(self, state: ChainState) -> float:
        """Return by how much the drive must give way, dB, lest sounds fold back.

        Harmonics above half the oversampled rate fold back into the band as tones that no string makes. Run
        a set of sounds once; then take the largest excess of its clips off the drive of all.

        Returns
        -------
        float
            0 where the drive stayed below the limit.
        """
        if state.soft is None or state.soft.drive <= self._most_drive:
            return 0.0
        return float(20.0 * np.log10(state.soft.drive / self._most_drive))


def drive_gain(way: Way, lowered_db: float = 0.0) -> float:
    """Return the gain before the soft stage, the stack's own left out."""
    return VALVE_GAIN * 10.0 ** ((way.drive_db - lowered_db) / 20.0) if way.amplified else 1.0


def respond_small(
    way: Way,
    frequencies_hz: Floats,
    *,
    knobs: Mapping[str, float] = USUAL_KNOBS,
    open_back: bool = False,
    axis_deg: int = 0,
    cabinet: Cabinet | None = None,
) -> Complex:
    """Compute a way's response to small signals, shape (n_freqs,).

    In direct and clean it is the response to any signal.
    """
    if not way.amplified:
        return np.ones(len(frequencies_hz), complex)
    stack = respond_stack(knobs, frequencies_hz)
    if cabinet is None:
        speaker = respond_speaker(frequencies_hz, open_back=open_back, axis_deg=axis_deg)
    else:
        speaker = cabinet.response(frequencies_hz)
    found: Complex = drive_gain(way) * stack * speaker
    return found * respond_blocking(frequencies_hz) if way.oversampling else found
