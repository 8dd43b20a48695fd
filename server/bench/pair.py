"""Two knobs together, as the page draws them."""

from __future__ import annotations

from typing import Any

import numpy as np

from dsp.knobs.pair import choose_knobs, compute_pair
from dsp.knobs.pair_words import pair_record
from dsp.wiring.model import Setting, Wiring


def pair_json(wiring: Wiring, setting: Setting, wanted: tuple[str, str]) -> dict[str, Any]:
    """Return the map over two knobs, with the timbre of every place.

    Parameters
    ----------
    wanted : tuple of str
        Empty for a knob that is chosen here.

    Returns
    -------
    dict
        As `pair_record` has it, and ``timbre``, hundredths of a decibel, by the first knob, the
        second and the band: the page shades by the distance from the present setting.

    Raises
    ------
    InputError
        If a knob is not there, both are the same, or there are fewer than two.
    """
    pair = compute_pair(wiring, setting, choose_knobs(wiring, setting, wanted))
    return {**pair_record(pair), "timbre": np.rint(100.0 * pair.points).astype(int).tolist()}
