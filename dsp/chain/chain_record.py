"""The chain in plain numbers, for whoever runs it elsewhere: the page's player."""

from __future__ import annotations

from typing import Any

from dsp.chain.half_band import TAPS, half_band_taps
from dsp.chain.run import USUAL_KNOBS, Chain, drive_gain
from dsp.chain.soft import BEND_PER_V, SHIFT_V, SoftStage
from dsp.chain.speaker import design_speaker
from dsp.chain.stack import design_stack
from dsp.chain.ways import CAUTION, WAYS, Way
from dsp.filters.bank import Bank


def chain_record(rate_hz: float) -> dict[str, Any]:
    """Return every way to hear a guitar, and the filters that they share.

    Parameters
    ----------
    rate_hz : float
        44.1 to 192 kHz.

    Returns
    -------
    dict
        ``ways`` with gain (a factor before the stack), oversampling and delay (samples); ``caution`` for
        whoever tries them with an amplifier; ``stack`` and ``speaker`` as banks of one input; ``soft`` with
        its curve, its half-bands, the pole behind it and the samples of each upper rate by which it is held
        back.

    Raises
    ------
    InputError
        If the sampling rate is outside the filters' range.
    """
    overs = sorted({way.oversampling for way in WAYS.values()} - {0})
    stages = {over: SoftStage(over, rate_hz) for over in overs}
    return {
        "rate_hz": rate_hz,
        "ways": [_way_record(way, rate_hz) for way in WAYS.values()],
        "caution": CAUTION,
        "stack": _bank_record(design_stack(USUAL_KNOBS, rate_hz)),
        "speaker": _bank_record(design_speaker(rate_hz)),
        "soft": {
            "bend_per_v": BEND_PER_V,
            "shift_v": SHIFT_V,
            "pole": stages[overs[0]].pole,
            "half_bands": [half_band_taps(doubling).tolist() for doubling in range(len(TAPS))],
            "late": {str(over): stage.late for over, stage in stages.items()},
        },
    }


def _way_record(way: Way, rate_hz: float) -> dict[str, Any]:
    return {
        "name": way.name,
        "about": way.about,
        "amplified": way.amplified,
        "gain": drive_gain(way),
        "oversampling": way.oversampling,
        "delay": Chain(way, rate_hz).delay,
    }


def _bank_record(bank: Bank) -> dict[str, Any]:
    return {
        "delay": bank.delay,
        "poles": bank.poles.tolist(),
        "numerators": bank.numerators[0].tolist(),
        "taps": bank.taps[0].tolist(),
    }
