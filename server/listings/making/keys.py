"""Keys of job results by content: the same input and method give the same key.

A key depends on what can be heard or seen of the result and on nothing else: not on the path of a file,
the line of a part, or the name of a clip. The method is the text of the program itself, with the
versions of the libraries that shape the bytes: a new version makes every result anew.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache as once
from importlib import metadata

from dsp.wiring.model import Setting, Wiring
from server.clips.plan import ClipPlan
from server.files.audio_formats import Encoding, encoder_version
from server.files.cache import digest, sources_digest
from server.files.tags import ClipTags

ROOMS = ("dsp", "server")
LIBRARIES = ("numpy", "scipy", "soundfile", "soxr", "mutagen", "pillow", "pyloudnorm")


@once
def method() -> str:
    """Return the digest of the program and the libraries it relies on."""
    versions = [f"{name} {metadata.version(name)}" for name in LIBRARIES]
    return digest(sources_digest(ROOMS), versions, encoder_version())


def wiring_key(wiring: Wiring) -> str:
    """Return the digest of everything in a wiring that affects the sound."""
    joints = [joint.terminals for joint in wiring.joints]
    audible = (
        wiring.parts,
        joints,
        wiring.couplings,
        wiring.shafts,
        wiring.load,
        wiring.selector,
        wiring.instrument,
    )
    return digest("wiring", *audible)


def volts_key(plan: ClipPlan, wiring: str, take: str, rate_hz: int, lowered_db: float) -> str:
    """Return the key of a clip in volts, given those of wiring and take.

    Parameters
    ----------
    lowered_db : float
        What the drive of its instrument gives way by.
    """
    setting = plan.setting
    where = (setting.position, sorted(setting.knobs.items()), sorted(setting.switches.items()))
    heard = plan.way, plan.limited, plan.hum, plan.cabinet.digest if plan.cabinet else ""
    return digest(
        "volts", method(), wiring, take, where, plan.sweeps, plan.flips, *heard, rate_hz, lowered_db
    )


def file_key(
    volts: str,
    encoding: Encoding,
    gain: float,
    tags: ClipTags,
    cover: str,
    *,
    scripted: bool,
    limiter_gain: float | None = None,
) -> str:
    """Return the key of an encoded clip, given those of volts and cover.

    Parameters
    ----------
    gain : float
        Factor.
    limiter_gain : float or None
        The part of it before a limiter; None without one.
    scripted : bool
        Whether the page's copy is made too.
    """
    return digest("file", method(), volts, encoding, gain, limiter_gain, tags, cover, scripted)


def pictures_key(wiring: str, name: str, settings: Sequence[Setting], headings: Sequence[str]) -> str:
    """Return the key of the responses and covers of an instrument's settings."""
    positions = [(s.position, sorted(s.knobs.items()), sorted(s.switches.items())) for s in settings]
    return digest("pictures", method(), wiring, name, positions, list(headings))


def sound_name(volts: str) -> str:
    """Return the page's name for a clip, given the key of its volts."""
    return volts[:16]
