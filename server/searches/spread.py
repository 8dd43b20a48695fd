"""How far instruments built alike differ, and how many keep limits: as a search, and as records."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from dsp.checking.directions import CABLE
from dsp.checking.points import find_settings, setting_text
from dsp.checking.spread import CURVE_HZ, DRAWN, find_curves, find_spread
from dsp.checking.yields import COUNT, find_yield, read_limit
from dsp.errors import InputError, Problem
from dsp.sound.audible import BAND_DB, apart_text, word_of
from server.searches.knobs import as_edits
from server.searches.sounds import read
from server.wirings.ends import end_edits

if TYPE_CHECKING:
    from dsp.checking.spread import Curves, Spread
    from dsp.checking.yields import Share, Yield
    from dsp.wiring.model import Setting, Wiring
    from server.processes.reports import Report

ONE_CABLE = (
    "All with one cable; players' cables differ by about ±20 %, more than all parts together: --cable '20 %'"
)
LEAST_GAIN = 0.03
"""Of the distance that selecting a part must take off to be worth it: our own choice."""


def run(text: str, options: Mapping[str, Any], report: Report) -> None:
    """Build a wiring some times, then draw many for bands and limits.

    Parameters
    ----------
    text : str
        Of a wiring.
    options : mapping
        ``built``, ``cable`` (a share), ``limits`` (in words).

    Raises
    ------
    InputError
        For a wiring without a coil, or words that are no limit.
    """
    wiring = read(text)
    if not wiring.coils:
        raise InputError("wiring", "no coil", "a wiring that sounds")
    limits = read_limits(wiring, options["limits"])
    settings, cable = find_settings(wiring), options["cable"]
    report(share=0.05)
    found = find_spread(wiring, settings, options["built"], cable=cable)
    sounding = [one.setting for one in found.settings]
    report(spread=spread_record(wiring, found), ends=_ends(wiring, found), share=0.4)
    report(curves=_curves(find_curves(wiring, sounding, found, cable=cable)), share=0.6)
    if limits:
        kept = find_yield(
            wiring,
            limits,
            COUNT,
            cable=cable,
            progress=lambda share: report(share=round(0.6 + 0.4 * share, 3)),
        )
        report(limits=yield_record(kept))
    report(share=1.0)


def read_limits(wiring: Wiring, texts: Sequence[str]) -> list[Any]:
    """Read limits in words.

    Raises
    ------
    InputError
        With every problem; ``limit 2`` is the second.
    """
    found, problems = [], []
    for number, text in enumerate(texts, 1):
        try:
            found.append(read_limit(wiring, text, f"limit {number}"))
        except InputError as error:
            problems += [Problem(f"limit {number}", *one[1:]) for one in map(_fields, error.problems)]
    if problems:
        raise InputError.of(problems)
    return found


def _fields(problem: Problem) -> tuple[str, str, str, str]:
    return problem.where, problem.got, problem.allowed, problem.hint


def spread_record(wiring: Wiring, found: Spread) -> dict[str, Any]:
    """Return a spread as the command prints it."""

    def known(value: float) -> float | None:
        return value if math.isfinite(value) else None

    return {
        "built": found.built,
        "drawn": DRAWN,
        "settings": [
            {
                "setting": setting_text(wiring, one.setting),
                "resonance_hz": known(one.resonance_hz),
                "semitones": known(one.semitones),
                "height_db": known(one.height_db),
                "level_db": one.level_db,
                "hum_db": one.hum_db,
                "timbre_db": one.timbre_db,
                "farthest_db": one.farthest_db,
                "farthest_band_db": one.farthest_band_db,
            }
            for one in found.settings
        ],
        "shares": [{"part": one.part, "share": one.share, "selected_gain": one.gain} for one in found.shares],
        "worth_selecting": _worth_selecting(found),
        "honest": honest_text(found),
    }


def _worth_selecting(found: Spread) -> str | None:
    """The part that selecting brings most; None if none brings enough. The cable is the player's."""
    parts = [one for one in found.shares if one.part != CABLE]
    best = max(parts, key=lambda one: one.gain, default=None)
    return best.part if best is not None and best.gain >= LEAST_GAIN else None


def honest_text(found: Spread) -> str:
    """Return whether the farthest two are told apart at once, in words."""

    def widest(turned: bool) -> float | None:
        rows = [one.farthest_band_db for one in found.settings if _turned(one.setting) is turned]
        return max(rows) if rows else None

    up, turned = widest(turned=False), widest(turned=True)
    sentence = f"Built {found.built} times"
    if up is not None:
        sentence += f", the farthest two differ by {apart_text(up)}, with the knobs up"
    if turned is not None:
        sentence += f"{';' if up is not None else ','} with a knob turned {turned:.1f} dB: "
        sentence += word_of(turned, BAND_DB)
    return sentence + "."


def _turned(setting: Setting) -> bool:
    return any(value < 10.0 for value in setting.knobs.values())


def _ends(wiring: Wiring, found: Spread) -> list[list[dict[str, Any]]]:
    """Edits that make the farthest two of the wiring."""
    return [as_edits([(list(path), value) for path, value in end_edits(wiring, found, k)]) for k in (0, 1)]


def _curves(found: Curves) -> dict[str, Any]:
    def rounded(rows: NDArray[np.float64]) -> list[Any]:
        listed: list[Any] = np.round(rows, 2).tolist()
        return listed

    return {
        "frequencies_hz": [round(float(hz), 1) for hz in CURVE_HZ],
        "nominal_db": rounded(found.nominal_db),
        "low_db": rounded(found.low_db),
        "high_db": rounded(found.high_db),
        "ends_db": rounded(found.ends_db),
    }


def yield_record(found: Yield) -> dict[str, Any]:
    """Return what keeps limits as the command prints it."""
    dearest = found.dearest
    return {
        "drawn": found.drawn,
        "limits": [
            {"limit": one.limit.text(), **_share(one.alone), "cost": one.cost} for one in found.limits
        ],
        "together": _share(found.together),
        "dearest": None if dearest is None else dearest.limit.text(),
    }


def _share(one: Share) -> dict[str, Any]:
    return {"passed": one.passed, "share": one.share, "low": one.low, "high": one.high}
