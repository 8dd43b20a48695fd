"""A score that the string model plays; its stems are kept."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from dsp.parts.instrument import Instrument
from dsp.strings.perform import METHOD, Setup, perform
from dsp.strings.tuned import tension_warnings
from dsp.takes.captions import Caption, score_captions
from dsp.takes.performance import AT_ONCE, Floats, Performance, Progress
from dsp.takes.player import check_places, instrument_of, notes_of, strings_of
from dsp.takes.recording import Keeper
from dsp.takes.score import Score
from dsp.wiring.model import Wiring


@dataclass(frozen=True)
class PlayedScore(Performance):
    """A score on the strings of the wiring that senses them.

    Attributes
    ----------
    keeper : Keeper
        Keeps stems: playing takes seconds.
    """

    keeper: Keeper

    def score_on(self, instrument: Instrument) -> Score:
        """Return the score that is played on an instrument."""
        assert self.take.score is not None  # the reader gives every take of this kind one
        return self.take.score

    @property
    def seconds(self) -> float:
        """Length, s."""
        assert self.take.score is not None
        return self.take.score.seconds

    def notes(self, wiring: Wiring) -> tuple[str, ...]:
        """List strings that had to be assumed and tensions that no string holds."""
        instrument, assumed = instrument_of(wiring.instrument)
        warnings = tension_warnings(instrument.strings, instrument.scale_m)
        return ((assumed,) if assumed else ()) + warnings

    def captions(self, wiring: Wiring) -> tuple[Caption, ...]:
        """Say which notes and chords are played when."""
        instrument, _ = instrument_of(wiring.instrument)
        return score_captions(self.score_on(instrument), instrument)

    def prepare(self, wiring: Wiring, rate_hz: int, *, progress: Progress | None = None) -> None:
        """Play the score now, so that `stems` only reads."""
        n_samples = self.frames(rate_hz)
        done = 0
        for block in self.stems(wiring, rate_hz):
            done += block.shape[1]
            if progress:
                progress(done / n_samples)

    def stems(self, wiring: Wiring, rate_hz: int) -> Iterator[Floats]:
        """Yield the EMF of every coil, blocks of shape (n_coils, n)."""
        check_places(wiring.coils, wiring.file, wiring.lines)
        instrument, _ = instrument_of(wiring.instrument)
        score = self.score_on(instrument)
        notes = notes_of(score, instrument, self.take.file)
        strings = strings_of(score, instrument)
        setup = Setup(strings, list(wiring.coils.values()), float(rate_hz), score.curvature)
        n_samples = self.frames(rate_hz)
        sensed = [(coil.at_m, coil.aperture_m, coil.string_sign, coil.sensitivity, coil.string_balance_db)
                  for coil in setup.coils]  # fmt: skip
        key = ("stems", METHOD, notes, strings, sensed, setup.curvature, rate_hz, n_samples)
        return self.keeper.kept_stream(
            "stems", key, lambda: perform(notes, setup, n_samples), rows=len(setup.coils), at_once=AT_ONCE
        )
