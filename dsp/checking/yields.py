"""How many instruments keep limits: drawn by their parts' spreads, each computed exactly."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dsp.checking.directions import draw_steps, find_directions, make_copies, with_taps
from dsp.checking.spread import SILENT_DB, Heard, listen
from dsp.circuit.copies import Copies
from dsp.errors import InputError, nearest
from dsp.units import parse, show
from dsp.wiring.model import Wiring

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

COUNT = 200
"""Instruments drawn."""
SEED = 1717
AT_ONCE = 25
"""Instruments computed between two reports of progress."""
CONFIDENCE = 0.95
RESONANCE, LEVEL, TIMBRE = "resonance", "level", "timbre"
FORMS = (
    "resonance of 1 between 2.5 kHz and 3.1 kHz",
    "level at most 3 dB below the loudest",
    "timbre at most 0.5 dB from nominal",
    "timbre of 1 at most 0.5 dB from nominal",
)
"""What a limit may say: the pattern of each, as an example."""


@dataclass(frozen=True)
class Limit:
    """What an instrument must keep, its knobs at 10.

    Attributes
    ----------
    kind : str
        ``resonance``, ``level`` or ``timbre``.
    position : str
        Of the selector; empty for every position that sounds.
    low, high : float
        Hz for a resonance; dB at most otherwise, in ``high``.
    """

    kind: str
    position: str
    low: float
    high: float

    def text(self) -> str:
        """Return the limit in words, as `read_limit` reads it."""
        of = f" of {self.position}" if self.position else ""
        if self.kind == RESONANCE:
            return f"resonance{of} between {show(self.low, 'frequency')} and {show(self.high, 'frequency')}"
        if self.kind == LEVEL:
            return f"level{of} at most {self.high:g} dB below the loudest"
        return f"timbre{of} at most {self.high:g} dB from nominal"


@dataclass(frozen=True)
class Share:
    """How many of the drawn instruments pass.

    Attributes
    ----------
    share, low, high : float
        Of those drawn, and its interval, 0 to 1.
    """

    passed: int
    share: float
    low: float
    high: float


@dataclass(frozen=True)
class KeptLimit:
    """One limit over all drawn instruments.

    Attributes
    ----------
    alone : Share
        Who keeps this limit.
    cost : float
        By which the share of those who keep all rises without it, 0 to 1.
    """

    limit: Limit
    alone: Share
    cost: float


@dataclass(frozen=True)
class Yield:
    """Instruments that keep limits.

    Attributes
    ----------
    limits : tuple of KeptLimit
        In the order given.
    together : Share
        Who keeps all limits.
    """

    drawn: int
    limits: tuple[KeptLimit, ...]
    together: Share

    @property
    def dearest(self) -> KeptLimit | None:
        """The limit that costs most; None if no single one costs anything."""
        found = max(self.limits, key=lambda one: one.cost, default=None)
        return found if found is not None and found.cost > 0.0 else None


def read_limit(wiring: Wiring, text: str, where: str) -> Limit:
    """Read a limit in words, see `FORMS`.

    Raises
    ------
    InputError
        If the words state no limit, or name a position that the wiring does not have.
    """
    plain = " ".join(text.split())
    found = re.fullmatch(r"(?i)resonance of (.+) between (.+) and (.+)", plain)
    if found:
        position, low, high = found.groups()
        unit = re.search(r"[a-zA-Z]+$", high)
        if unit and re.fullmatch(r"[\d.]+", low):  # between 2.5 and 3.1 kHz
            low = f"{low} {unit.group()}"
        ends = parse(low, "frequency", where), parse(high, "frequency", where)
        if not 0.0 < ends[0] < ends[1]:
            raise InputError(where, text, "the lower frequency first, such as " + FORMS[0])
        return Limit(RESONANCE, _position(wiring, position, where), *ends)
    for kind, words in ((LEVEL, "below the loudest"), (TIMBRE, "from nominal")):
        found = re.fullmatch(rf"(?i){kind}(?: of (.+?))? at most ([\d.]+) ?dB {words}", plain)
        if found:
            position = _position(wiring, found.group(1), where) if found.group(1) else ""
            return Limit(kind, position, 0.0, parse(found.group(2), "number", where))
    raise InputError(where, text, "; ".join(FORMS))


def _position(wiring: Wiring, name: str, where: str) -> str:
    if name not in wiring.positions:
        allowed = ", ".join(wiring.positions)
        raise InputError(where, f"position '{name}'", allowed, nearest(name, wiring.positions))
    return name


def find_yield(
    wiring: Wiring,
    limits: Sequence[Limit],
    count: int = COUNT,
    *,
    cable: float = 0.0,
    seed: int = SEED,
    progress: Callable[[float], None] | None = None,
) -> Yield:
    """Draw instruments and count those that keep limits.

    Parameters
    ----------
    cable : float
        Spread of the player's cable, as a share of its capacitance.
    progress : callable, optional
        Called with the share that is done.

    Raises
    ------
    InputError
        For a resonance of a position that has none, as drawn.
    """
    kept = keep_limits(wiring, limits, count, cable=cable, seed=seed, progress=progress)
    everything: Flags = np.asarray(kept.all(axis=0))
    rows = []
    for i, limit in enumerate(limits):
        others = np.delete(kept, i, axis=0).all(axis=0)
        rows.append(KeptLimit(limit, _share(kept[i]), float(others.mean() - everything.mean())))
    return Yield(count, tuple(rows), _share(everything))


def keep_limits(
    wiring: Wiring,
    limits: Sequence[Limit],
    count: int,
    *,
    cable: float = 0.0,
    seed: int = SEED,
    progress: Callable[[float], None] | None = None,
) -> Flags:
    """Return which instrument keeps which limit, shape (n_limits, count).

    Parameters
    ----------
    cable : float
        As `find_yield`.
    progress : callable, optional
        As `find_yield`.

    Raises
    ------
    InputError
        As `find_yield`.
    """
    wiring = with_taps(wiring)
    directions = find_directions(wiring, alike=True, cable=cable)
    settings = [wiring.setting(position) for position in wiring.positions]
    nominal = listen(wiring, settings, Copies(1))
    sounding = nominal.level_db[:, 0] > nominal.level_db.max() + SILENT_DB
    for one in limits:
        at = wiring.positions.index(one.position) if one.position else None
        if at is not None and not sounding[at]:
            raise InputError(one.text(), f"position {one.position} is silent", "a position that sounds")
        if one.kind == RESONANCE and at is not None and np.isnan(nominal.peak_hz[at, 0]):
            raise InputError(one.text(), f"no resonance at position {one.position}", "another limit")
    steps = draw_steps(count, len(directions), seed)
    found = np.zeros((len(limits), count), bool)
    for start in range(0, count, AT_ONCE):
        part = slice(start, start + AT_ONCE)
        heard = listen(wiring, settings, make_copies(wiring, directions, steps[part]))
        for row, limit in zip(found, limits, strict=True):
            row[part] = _keeps(limit, wiring.positions, heard, nominal, sounding)
        if progress:
            progress(min(1.0, (start + AT_ONCE) / count))
    return found


def _keeps(limit: Limit, positions: Sequence[str], heard: Heard, nominal: Heard, sounding: Flags) -> Flags:
    """Which copies keep a limit, shape (count,)."""
    judged = np.array([name == limit.position for name in positions]) if limit.position else sounding
    if limit.kind == RESONANCE:
        peak = heard.peak_hz[judged]
        return np.asarray(((peak >= limit.low) & (peak <= limit.high)).all(axis=0))
    if limit.kind == LEVEL:
        below = heard.level_db[sounding].max(axis=0) - heard.level_db[judged]
        return np.asarray((below <= limit.high).all(axis=0))
    away = np.sqrt(np.mean((heard.timbre[judged] - nominal.timbre[judged]) ** 2, axis=-1))
    return np.asarray((away <= limit.high).all(axis=0))


def _share(flags: Flags) -> Share:
    passed = int(flags.sum())
    return Share(passed, passed / len(flags), *share_interval(passed, len(flags)))


def share_interval(passed: int, count: int) -> tuple[float, float]:
    """Return the 95 % interval of a share of independent draws.

    Parameters
    ----------
    passed : int
        Of ``count``.

    References
    ----------
    C. J. Clopper, E. S. Pearson, "The use of confidence or fiducial limits illustrated in the case of
    the binomial", Biometrika 26 (1934) 404.
    """
    from scipy.special import betaincinv

    tail = (1 - CONFIDENCE) / 2
    low = 0.0 if passed == 0 else float(betaincinv(passed, count - passed + 1, tail))
    high = 1.0 if passed == count else float(betaincinv(passed + 1, count - passed, 1 - tail))
    return low, high
