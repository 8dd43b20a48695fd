"""Filters of an offered sound with its knobs turned, as loud as its finished clip."""

from __future__ import annotations

import math
from collections.abc import Mapping

from dsp.wiring.model import Setting
from server.bench.frames import frame_of
from server.bench.hearing import Draft, Drafts
from server.bench.stems import LiveTakes
from server.proposals.knobs_allowed import LiveItem


def turned(drafts: Drafts, item: LiveItem, knobs: Mapping[str, float]) -> Setting:
    """The setting of an item with some of its knobs turned.

    Raises
    ------
    InputError
        For a knob that its wiring does not have.
    """
    wiring = drafts.wiring(Draft(item.version))
    return wiring.setting(item.position, {**item.knobs, **knobs}, item.switches)


def turned_frame(
    drafts: Drafts,
    takes: LiveTakes,
    item: LiveItem,
    knobs: Mapping[str, float],
    *,
    take: str,
    clip_gain_db: float,
    number: int,
) -> bytes:
    """The frame of an item with some of its knobs turned.

    Parameters
    ----------
    drafts : Drafts
    takes : LiveTakes
    item : LiveItem
    knobs : mapping of str to float
        0 to 10; those not named stand as offered.
    take : str
    clip_gain_db : float
        From volts to the finished clip.
    number : int
        Of the request.

    Returns
    -------
    bytes
        See `filters.frame_of`. Its level is the clip's, whatever the knobs, so a volume knob is
        heard to work; but a knob turned up comes out at most at the common loudness of matched
        settings, which protects ears where the sound was offered turned far down.

    Raises
    ------
    InputError
        For a knob that the wiring does not have, or a take that cannot be played.
    """
    setting = turned(drafts, item, knobs)
    draft = Draft(item.version)
    bank = drafts.bank(draft, setting)
    most_db = takes.spectra(drafts.wiring(draft), take).match_gain_db(bank)
    gain_db = clip_gain_db if math.isnan(most_db) else min(clip_gain_db, most_db)
    return frame_of(number, bank, gain_db)
