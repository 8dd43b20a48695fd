"""All that a page needs to play an offered sound with its knobs turned, without the circuit.

The knobs stand before the amplifier. A way that is linear is a response behind the model's; one that bends
is run by the page. Either way the sound at its offered setting is as loud as its clip.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from dsp.chain.divider import input_share
from dsp.chain.run import respond_small
from dsp.chain.ways import WAYS
from dsp.circuit.reduction import Complex
from dsp.errors import InputError
from dsp.live.model import model_frequencies
from dsp.sound.levels import Floats
from server.bench.hearing import LONGEST_S, Bench, played_chain
from server.proposals.knobs import ClipLevel, TurnableSound
from server.proposals.stem_files import SentStems, send_stems


@dataclass(frozen=True)
class Voice:
    """An offered sound on a take, for any knob values.

    Attributes
    ----------
    model : bytes
        As `dsp.live.model` packs it.
    name : str
        Equal for sounds with the same stems.
    powers : tuple of ndarray
        See `TakeSpectra.loud_powers`; weighted by the way, and by what it bends at the offered setting.
    level : ClipLevel
        Of the sound's clip.
    share : float
        Of the voltage at the input that reaches the way; see `input_share`.
    """

    model: bytes
    name: str
    stems: SentStems
    powers: tuple[Floats, Floats]
    level: ClipLevel
    share: float

    def told(self, model: str, files: Sequence[str]) -> dict[str, Any]:
        """Return what the page is told.

        Parameters
        ----------
        model, files : str, sequence of str
            Where the page gets the model and the stems' files.
        """
        hz, values = self.powers
        return {
            "model": {"file": model, "bytes": len(self.model)},
            "stems": {
                "name": self.name,
                "files": [
                    {"file": file, "bytes": len(content)}
                    for file, content in zip(files, self.stems.files, strict=True)
                ],
                "gain": self.stems.gain,
            },
            "powers": {
                "hz": [round(one, 2) for one in hz.tolist()],
                "values": [float(f"{one:.4g}") for one in values.tolist()],
            },
            "clip_db": self.level.gain_db,
            **self._way(),
        }

    def _way(self) -> dict[str, Any]:
        """Return what is behind the model; nothing where it is heard direct."""
        way = WAYS[self.level.way]
        if not way.amplified:
            return {}
        if way.oversampling:
            whole = played_chain()
            chosen = next(one for one in whole["ways"] if one["name"] == way.name)
            gain = chosen["gain"] * self.share * 10.0 ** (-self.level.lowered_db / 20.0)
            stages = {key: whole[key] for key in ("rate_hz", "stack", "soft", "speaker")}
            return {"chain": {**stages, "way": {**chosen, "gain": gain}}}
        behind = _behind(self.level, self.share, model_frequencies())
        return {"behind": [float(f"{one:.7g}") for one in np.concatenate([behind.real, behind.imag])]}


def _behind(level: ClipLevel, share: float, hz: Floats) -> Complex:
    """Return the response of a way to small signals, shape (n_freqs,)."""
    found: Complex = share * 10.0 ** (-level.lowered_db / 20.0) * respond_small(WAYS[level.way], hz)
    return found


def make_voice(bench: Bench, sound: TurnableSound, take: str, level: ClipLevel) -> Voice:
    """Compute what a page needs, or take it from the caches.

    Raises
    ------
    InputError
        If the take is too long to be played live.
    """
    stems = sent_stems(bench, sound, take)
    share = input_share(bench.wiring(sound.hearing.draft).load)
    return Voice(
        model=bench.model(sound.hearing),
        name=f"{sound.same_stems_as} {take}",
        stems=stems,
        powers=_powers(bench, sound, take, level, share),
        level=level,
        share=share,
    )


def _powers(
    bench: Bench, sound: TurnableSound, take: str, level: ClipLevel, share: float
) -> tuple[Floats, Floats]:
    spectra, bank = bench.spectra(sound.hearing.draft, take), bench.bank(sound.hearing)
    if WAYS[level.way].amplified:
        spectra = spectra.heard(np.abs(_behind(level, share, spectra.centres_hz)) ** 2)
    hz, values = spectra.loud_powers(bank)
    if WAYS[level.way].oversampling and level.loudness_lufs is not None:
        # turned louder it bends more: the page then plays it softer than it might. Without its bass it bends
        # less and may come out louder: the page measures the finished loop and turns it down
        bent_db = level.loudness_lufs - level.gain_db - spectra.loudness_lufs(bank)
        values = values * 10.0 ** (bent_db / 10.0)
    return hz, values


def sent_stems(bench: Bench, sound: TurnableSound, take: str) -> SentStems:
    """Return the stems of a take as files, if a page can hold them whole.

    Raises
    ------
    InputError
        If it cannot.
    """
    stems = bench.stems(sound.hearing.draft, take)
    if stems.seconds > LONGEST_S:
        raise InputError("take", f"{stems.seconds:.0f} s", f"up to {LONGEST_S:.0f} s for live knobs")
    return send_stems(stems.samples, stems.digest)
