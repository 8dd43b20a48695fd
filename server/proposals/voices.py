"""All that a page needs to play an offered sound with its knobs turned, without the circuit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from dsp.errors import InputError
from dsp.sound.levels import Floats
from server.bench.hearing import LONGEST_S, Bench
from server.proposals.knobs import TurnableSound
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
        See `TakeSpectra.loud_powers`.
    clip_db : float
        Gain from volts to the sound's clip as the page plays it.
    """

    model: bytes
    name: str
    stems: SentStems
    powers: tuple[Floats, Floats]
    clip_db: float

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
            "clip_db": self.clip_db,
        }


def make_voice(bench: Bench, sound: TurnableSound, take: str, clip_db: float) -> Voice:
    """Compute what a page needs, or take it from the caches.

    Parameters
    ----------
    clip_db : float
        See `clip_gain_db`.

    Raises
    ------
    InputError
        If the take is too long to be played live.
    """
    return Voice(
        model=bench.model(sound.hearing),
        name=f"{sound.same_stems_as} {take}",
        stems=sent_stems(bench, sound, take),
        powers=bench.powers(sound.hearing, take),
        clip_db=clip_db,
    )


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
