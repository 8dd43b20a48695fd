"""A setting's filters as the bytes that the page's audio thread takes."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from dsp.filters.bank import Bank
from dsp.wiring.model import Setting
from server.bench.hearing import Draft, Drafts
from server.bench.stems import LiveTakes


@dataclass(frozen=True)
class Asked:
    """A setting of a draft, and the take it is heard on; not checked yet.

    Attributes
    ----------
    id : int
        Given back with the answer.
    draft : Draft
    position : str
    knobs : mapping of str to float
    switches : mapping of str to str
    take : str or None
    """

    id: int
    draft: Draft
    position: str
    knobs: dict[str, float]
    switches: dict[str, str]
    take: str | None = None


class Filters:
    """Answers requests for filters.

    Parameters
    ----------
    drafts : Drafts
    takes : LiveTakes
    """

    def __init__(self, drafts: Drafts, takes: LiveTakes) -> None:
        self._drafts = drafts
        self._takes = takes

    def frame(self, asked: Asked, *, wait: bool) -> tuple[bytes, bool]:
        """The frame of a setting, and whether its level is in it.

        Parameters
        ----------
        asked : Asked
        wait : bool
            Whether to play the take first where that has not been done: it takes seconds.

        Raises
        ------
        InputError
            If the draft cannot be read, or has no such setting, or there is no such take.
        """
        wiring = self._drafts.wiring(asked.draft)
        setting: Setting = wiring.setting(asked.position, asked.knobs, asked.switches)
        bank = self._drafts.bank(asked.draft, setting)
        if asked.take is None:
            return frame_of(asked.id, bank, math.nan), True
        spectra = self._takes.spectra_ready(wiring, asked.take)
        if spectra is None and wait:
            spectra = self._takes.spectra(wiring, asked.take)
        if spectra is None:
            return frame_of(asked.id, bank, math.nan), False
        return frame_of(asked.id, bank, spectra.match_gain_db(bank)), True


def frame_of(number: int, bank: Bank, match_gain_db: float) -> bytes:
    """A bank as little-endian float64: eight numbers, poles, numerators, taps.

    Parameters
    ----------
    number : int
        Of the request.
    bank : Bank
    match_gain_db : float
        Brings the take to the common loudness; NaN or infinite where that is not known or
        there is nothing to be heard.
    """
    n_coils, n_taps = bank.taps.shape
    gain = match_gain_db if math.isfinite(match_gain_db) else math.nan
    error_db = bank.error.level_db
    head = [number, n_coils, len(bank.poles), n_taps, bank.delay, error_db, float(bank.error.meets), gain]
    parts = [np.array(head, float), bank.poles.ravel(), bank.numerators.ravel(), bank.taps.ravel()]
    return np.concatenate(parts).astype("<f8").tobytes()
