"""What a recording of an exciter says: the sign and the level of the transfer to the jack."""

from __future__ import annotations

import numpy as np

from dsp.checking.exciter import EXCITER_HZ, TYPED_HZ
from dsp.errors import InputError
from dsp.measuring.transfer import SWAPPED, Transfer
from dsp.units import show

REACH = 0.15
"""Lines so near a frequency, as a share of it, are read for it: three of the rig's tone."""
SILENT_SDS = 5.0
"""Standard deviations of the noise below which the jack is silent."""


def read_exciter(transfer: Transfer) -> tuple[tuple[float, float], ...]:
    """Return frequency and transfer at `EXCITER_HZ`, each with its sign.

    Input 1 reads the current through the exciter, across its resistor. The EMF that it induces leads
    by a quarter of a period and grows with frequency: both are taken out, so that a transfer is the
    wiring's own times one number that no setting changes.

    Parameters
    ----------
    transfer : Transfer
        Of the jack over the resistor.

    Raises
    ------
    InputError
        For exchanged channels, or a signal that reaches none of the frequencies.
    """
    loud = float(np.median(np.abs(transfer.ratio)))
    if loud > SWAPPED:
        raise InputError(
            transfer.where,
            f"channel 2 is {loud:.1f} times as loud as channel 1",
            "channel 1 at the exciter's resistor, channel 2 at the jack",
            "are the two inputs exchanged?",
        )
    found = []
    hz = transfer.frequencies_hz
    for one in EXCITER_HZ:
        near = np.abs(np.log(hz / one)) < REACH
        if not near.any():
            reach = f"{show(float(hz[0]), 'frequency', 3)} to {show(float(hz[-1]), 'frequency', 3)}"
            allowed = f"{show(one, 'frequency', 3)} within: the rig's tone, noise or a sweep"
            raise InputError(transfer.where, reach, allowed)
        induced = transfer.ratio[near] / (1j * hz[near] / TYPED_HZ)
        sd = transfer.sd[near] / (hz[near] / TYPED_HZ)
        mean = complex(np.mean(induced))
        noise = float(np.sqrt(np.mean(sd**2) / near.sum()))
        found.append((one, mean.real if abs(mean) > SILENT_SDS * noise else 0.0))
    return tuple(found)
