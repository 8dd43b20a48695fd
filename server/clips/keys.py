"""The key of a take by content: two takes that sound the same have the same."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from dsp.takes.performance import Performance
from server.files.cache import digest, digest_of


def take_key(performance: Performance) -> str:
    """Return the digest of everything in a take that affects the sound.

    Raises
    ------
    InputError
        If a file that it needs is gone.
    """
    take = performance.take
    folder = Path(take.file).parent
    needed = [folder / name for name in (take.audio, take.source.wiring) if name]
    score = take.score
    if score is not None:
        score = replace(score, events=tuple(replace(event, line=0) for event in score.events), lines={})
    source = replace(take.source, wiring="")
    plain = replace(take, name="", file="", audio="", source=source, score=score, lines={})
    return digest("take", plain, [digest_of(path) for path in needed])
