"""Search the networks of a knob for a goal: every network with every track, then the answer.

The search has no clock and leaves nothing out: each network of `goal_networks` is computed with each
track of `sold_tracks`, and with the curve that would even it on each resistance sold.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from dsp.circuit.response import respond
from dsp.errors import InputError
from dsp.knobs.goal import Figures, Goal, leads_there, measure, shortfall
from dsp.knobs.goal_networks import FADED, OPPOSED, fit_across, goal_networks, volume_networks
from dsp.knobs.networks import BESIDE, NetworkVariant, replace_pot
from dsp.knobs.ohm_energy import OhmEnergy, compute_ohm_energy
from dsp.knobs.place import is_divider, is_plain, why_no_place
from dsp.knobs.tracks import VALUES, Track, even_curve, sold_tracks
from dsp.knobs.travel import Travel, compute_travel
from dsp.parts.pot import KNOB_TOP
from dsp.parts.taper import SINGLE, Taper, linear, named
from dsp.sound.spectra import energy_of, standard_notes
from dsp.sound.timbre import Bands, ear_bands, timbre
from dsp.wiring.change import Change
from dsp.wiring.model import Setting, Wiring

Floats = NDArray[np.float64]
Complex = NDArray[np.complex128]
GRID = 96
"""Resistances along which a curve to ask for is sought, evenly spaced by ratio."""
NEARLY_TOP = KNOB_TOP * (1.0 - 1e-9)
MOST_OF_FRONT, MOST_OF_KINDS, MOST_NEAREST = 5, 8, 3


@dataclass(frozen=True)
class Candidate:
    """A network and a track, with its figures by the goal.

    Attributes
    ----------
    kind : str
        Key of `GOAL_KINDS`.
    change_db, spread_db, evenness, start_db
        As in `Figures`.
    start : float
        Value of the knob, 0 or 10, at which the sound is nearest to today's.
    meets : bool
        Whether it meets the goal.
    unbeaten : bool
        No other candidate of its sort beats it in both change and evenness.
    curve : Track or None
        The curve to ask for on a pot of this resistance, if it evens the knob.
    curve_evenness : float
        With that curve.
    of_level : bool
        Whether change and evenness are of level.
    """

    kind: str
    variant: NetworkVariant
    knob: str
    track: Track
    change_db: float
    spread_db: float
    evenness: float
    start_db: float
    start: float
    bass_db: float
    treble_db: float
    level_db: float
    meets: bool
    unbeaten: bool = False
    curve: Track | None = None
    curve_evenness: float = 0.0
    of_level: bool = False

    def change(self, wiring: Wiring) -> Change:
        """Return the complete change: the network and, if it differs, the pot."""
        return _complete(wiring, self.variant, self.knob, self.track)

    def change_with_curve(self, wiring: Wiring) -> Change | None:
        """Return the change with the curve to ask for; None without one."""
        return None if self.curve is None else _complete(wiring, self.variant, self.knob, self.curve)


@dataclass(frozen=True)
class Answer:
    """What a search for a goal found.

    Attributes
    ----------
    candidates : tuple of Candidate
        Those that meet the goal: the front, then the best of each kind. Without any, the nearest.
    networks, computed : int
        Networks, and networks times tracks, all computed.
    meeting : int
        How many of these meet the goal.
    """

    goal: Goal
    candidates: tuple[Candidate, ...]
    networks: int
    computed: int
    meeting: int


def search_goal(
    wiring: Wiring,
    setting: Setting,
    knob: str,
    goal: Goal,
    *,
    progress: Callable[[float], None] | None = None,
) -> Answer:
    """Return what leads a knob to a goal.

    Parameters
    ----------
    setting : Setting
        Position of the selector, switches and other knobs.
    progress : callable, optional
        Called with the share completed, 0 to 1.

    Raises
    ------
    InputError
        If the knob is neither a variable resistor between two joints nor a volume.
    """
    reason = why_no_goal(wiring, knob)
    if reason:
        raise InputError(
            f"knob {knob}", reason, "one track: a variable resistor, as of a tone control, or a volume"
        )
    bench = _Bench(wiring, setting, knob, goal)
    is_volume = bool(why_no_place(wiring, knob))
    every = list(volume_networks(wiring, knob) if is_volume else goal_networks(wiring, setting, knob))
    rows: list[_Rows] = []
    for done, variant in enumerate(every):
        rows += bench.try_volume(variant) if is_volume else [bench.try_all(variant)]
        if progress:
            progress((done + 1) / len(every))
    return bench.answer(rows, len(every))


def why_no_goal(wiring: Wiring, knob: str) -> str:
    """Return why nothing can be searched for a knob; empty if something can."""
    tracks = wiring.knobs[knob]
    if len(tracks) > 1:
        return f"it turns {len(tracks)} tracks ({', '.join(tracks)})"
    return "" if is_plain(wiring, knob) and is_divider(wiring, knob) else why_no_place(wiring, knob)


@dataclass(frozen=True)
class _Rows:
    """A network with every track: the sold ones, then a curve for each resistance."""

    kind: str
    variant: NetworkVariant
    tracks: tuple[Track, ...]
    sold: int
    figures: Figures
    leads: NDArray[np.bool_]
    short: Floats


class _Bench:
    """One knob at one setting with one goal."""

    def __init__(self, wiring: Wiring, setting: Setting, knob: str, goal: Goal) -> None:
        self.wiring, self.setting, self.knob, self.goal = wiring, setting, knob, goal
        pot = wiring.pots[knob]
        self.end_ohm = pot.end_resistance_ohm
        self.tracks = sold_tracks(pot.resistance_ohm, end_ohm=self.end_ohm, opens=pot.no_load)
        if goal.keep_pot:
            own = [
                one
                for one in self.tracks
                if one.resistance_ohm == pot.resistance_ohm and one.name == "linear"
            ]
            name = next((name for name in SINGLE if named(name) == pot.taper), "its present taper")
            self.tracks = tuple(replace(one, taper=pot.taper, name=name) for one in own)
        self.n_sold = len(self.tracks)
        self.ohms = sorted({one.resistance_ohm for one in self.tracks})
        self.largest = max(one.resistance_ohm for one in self.tracks) + 2.0 * self.end_ohm
        self.bands: Bands = ear_bands()
        self.notes = standard_notes(wiring, self.bands)
        self.in_use = {
            rising: np.array([one.in_use(rising=rising) for one in self.tracks]) for rising in (True, False)
        }
        grid = np.geomspace(self.largest / 3e3, self.largest, GRID - 1)
        self.grid = np.concatenate([[0.0], grid])
        top = wiring.setting(setting.position, {**setting.knobs, knob: KNOB_TOP}, setting.switches)
        coil = respond(wiring, [top], self.bands.centres_hz).coil
        self.today = energy_of(coil, self.notes, self.bands)[0]

    def try_all(self, variant: NetworkVariant) -> _Rows:
        """Return the figures of a network with every track."""
        energy = compute_ohm_energy(
            variant, self.wiring, self.setting, self.knob, self.largest, self.notes, self.bands
        )
        curves = tuple(self._curves(variant, energy))
        ohms = [self.in_use[variant.rising], *(one.in_use(rising=variant.rising)[None] for one in curves)]
        figures = measure(self.goal, energy(np.concatenate(ohms)), self.today, self.bands)
        return _Rows(
            self._kind(variant, energy), variant, (*self.tracks, *curves), self.n_sold, figures,
            leads_there(self.goal, figures), shortfall(self.goal, figures),
        )  # fmt: skip

    def try_volume(self, variant: NetworkVariant) -> list[_Rows]:
        """Return the figures of a volume with every resistance, taper and curve."""
        edited = variant.change.apply(self.wiring)
        found = []
        for ohm in self.ohms:
            pot = replace(self.wiring.pots[self.knob], taper=linear(), resistance_ohm=ohm)
            linear_pot = replace_pot(edited, self.knob, pot)
            grid = np.linspace(0.0, 1.0, GRID + 1)
            taper = even_curve(
                grid * ohm, self._way(self._at(linear_pot, grid)), ohm, end_ohm=0.0, rising=True
            )
            tracks = [one for one in self.tracks if one.resistance_ohm == ohm and one.across_ohm is None]
            sold = len(tracks)
            tracks += [self._curve(ohm, taper)] if taper is not None and not self.goal.keep_pot else []
            shares = np.array([one.taper.share(VALUES / KNOB_TOP) for one in tracks])
            figures = measure(self.goal, self._at(linear_pot, shares), self.today, self.bands)
            found.append(
                _Rows(
                    variant.kind, variant, tuple(tracks), sold, figures,
                    leads_there(self.goal, figures), shortfall(self.goal, figures),
                )
            )  # fmt: skip
        return found

    def _at(self, wiring: Wiring, shares: Floats) -> Floats:
        """Return the energy at shares of a straight track, shape (*shares.shape, n_bands)."""
        knobs = KNOB_TOP * shares
        if self.wiring.pots[self.knob].no_load:  # the track opens at 10 alone, whatever its taper
            knobs[..., :-1] = np.minimum(knobs[..., :-1], NEARLY_TOP)
        each, back = np.unique(knobs, return_inverse=True)
        settings = [
            wiring.setting(
                self.setting.position, {**self.setting.knobs, self.knob: float(value)}, self.setting.switches
            )
            for value in each
        ]
        energy = energy_of(respond(wiring, settings, self.bands.centres_hz).coil, self.notes, self.bands)
        return energy[back.reshape(knobs.shape)]

    def _curves(self, variant: NetworkVariant, energy: OhmEnergy) -> Iterator[Track]:
        """Yield the curve to ask for on each resistance that is sold."""
        if self.goal.keep_pot:
            return
        way_db = self._way(energy(self.grid))
        for ohm in self.ohms:
            taper = even_curve(self.grid, way_db, ohm, end_ohm=self.end_ohm, rising=variant.rising)
            if taper is not None:
                yield self._curve(ohm, taper)

    def _curve(self, ohm: float, taper: Taper) -> Track:
        """Return a track with a curve to ask for."""
        return Track(ohm, taper, end_ohm=self.end_ohm, opens=self.wiring.pots[self.knob].no_load)

    def _way(self, found: Floats) -> Floats:
        """Return the sum of the steps along energies: of level or of timbre, as the goal asks."""
        if self.goal.of_level:
            level_db = 10.0 * np.log10(np.maximum(found.sum(axis=1), 1e-300))
            step_db = np.abs(np.diff(np.maximum(level_db, level_db.max() - 60.0)))
        else:
            step_db = np.sqrt(np.mean(np.diff(timbre(found), axis=0) ** 2, axis=1))
        return np.concatenate([[0.0], np.cumsum(step_db)])

    def _kind(self, variant: NetworkVariant, energy: OhmEnergy) -> str:
        """Return the kind, a second coil's by whether it works against the others."""
        if variant.kind not in (BESIDE, FADED) or not variant.fades:
            return variant.kind
        name, sign = variant.fades
        k = list(self.wiring.coils).index(name)
        alone = energy.opened if "parallel" in variant.text or variant.kind == BESIDE else energy.shorted
        low = self.bands.centres_hz < 500.0
        work = np.einsum("lf,fl->", alone[:, low].conj(), self.notes[low, k]).real
        return OPPOSED if sign * work < 0.0 else FADED

    def answer(self, rows: Sequence[_Rows], networks: int) -> Answer:
        """Return the candidates to show."""
        sold = [(row, i) for row in rows for i in range(row.sold)]
        asked = [(row, i) for row in rows for i in range(row.sold, len(row.tracks))]
        computed = len(sold) + len(asked)
        meeting = [one for one in sold if _meets(*one)]
        curved = [one for one in asked if _meets(*one)]
        picked = _pick(meeting) or _pick(curved)
        found = [self._candidate(row, i, unbeaten=front) for row, i, front in picked]
        if not found:
            near = sorted(((row, i) for row, i in (*sold, *asked) if row.leads[i]), key=_by_shortfall)
            unlike = {(row.kind, row.variant.only): (row, i) for row, i in reversed(near)}
            nearest = sorted(unlike.values(), key=_by_shortfall)[:MOST_NEAREST]
            found = [self._candidate(row, i, unbeaten=False) for row, i in nearest]
        return Answer(self.goal, tuple(found), networks, computed, len(meeting) + len(curved))

    def _candidate(self, row: _Rows, i: int, *, unbeaten: bool) -> Candidate:
        one = [float(values[i]) for values in row.figures]
        change_db, spread_db, evenness, start_db, at_ten, bass_db, treble_db, level_db = one
        track = row.tracks[i]
        curves = [
            (float(row.figures.evenness[j]), j)
            for j in range(row.sold, len(row.tracks))
            if row.tracks[j].resistance_ohm == track.resistance_ohm
        ]
        best, j = max(curves, default=(0.0, -1))
        gains = j >= 0 and best > evenness + 0.005
        return Candidate(
            row.kind, row.variant, self.knob, track, change_db, spread_db, evenness, start_db,
            KNOB_TOP if at_ten else 0.0, bass_db, treble_db, level_db, _meets(row, i), unbeaten,
            row.tracks[j] if gains else None, best if gains else 0.0, self.goal.of_level,
        )  # fmt: skip


def _meets(row: _Rows, i: int) -> bool:
    return bool(row.leads[i]) and float(row.short[i]) <= 1e-9


def _by_shortfall(one: tuple[_Rows, int]) -> tuple[float, float, int]:
    row, i = one
    return round(float(row.short[i]), 9), -round(float(row.figures.evenness[i]), 9), i


def _worth(one: tuple[_Rows, int]) -> tuple[float, float]:
    """Return change and evenness as they are shown: finer differences cannot be heard."""
    row, i = one
    return round(float(row.figures.change_db[i]), 1), round(float(row.figures.evenness[i]), 2)


def find_front(worth: Sequence[tuple[float, float]]) -> list[int]:
    """Return the indexes of the rows that no other beats.

    Parameters
    ----------
    worth : sequence of (float, float)
        Larger is better for both; sorted, the largest first.

    Examples
    --------
    >>> find_front([(5.0, 0.6), (5.0, 0.5), (4.0, 0.7), (3.0, 0.7)])
    [0, 2]
    """
    found: list[int] = []
    for k, (_, second) in enumerate(worth):
        if not found or second > worth[found[-1]][1]:
            found.append(k)
    return found


def _order(one: tuple[_Rows, int]) -> tuple[float, float, int]:
    """Sort key: the widest first, then the most even, then the one with fewer parts."""
    row, i = one
    change_db, evenness = _worth(one)
    return -change_db, -evenness, len(row.variant.change.parts) + (row.tracks[i].across_ohm is not None)


def _pick(several: Sequence[tuple[_Rows, int]]) -> list[tuple[_Rows, int, bool]]:
    """Return the front of change and evenness, thinned, then the best of each other kind and place."""
    ordered = sorted(several, key=_order)
    front = [ordered[k] for k in find_front([_worth(one) for one in ordered])]
    if len(front) > MOST_OF_FRONT:
        places = np.unique(np.round(np.linspace(0, len(front) - 1, MOST_OF_FRONT)).astype(int))
        front = [front[k] for k in places]
    best: dict[tuple[str, str], tuple[_Rows, int]] = {}
    for one in ordered:
        key = one[0].kind, one[0].variant.only
        if key not in best or _product(one) > _product(best[key]):
            best[key] = one
    shown = {(one[0].kind, one[0].variant.only) for one in front}
    others = [one for key, one in best.items() if key not in shown]
    others = sorted(others, key=lambda one: -_product(one))[:MOST_OF_KINDS]
    return [*((row, i, True) for row, i in front), *((row, i, False) for row, i in others)]


def _product(one: tuple[_Rows, int]) -> float:
    change_db, evenness = _worth(one)
    return change_db * evenness


def _complete(wiring: Wiring, variant: NetworkVariant, knob: str, track: Track) -> Change:
    change = variant.change
    pot = wiring.pots[knob]
    other = replace(pot, taper=track.taper, resistance_ohm=track.resistance_ohm)
    if other != pot:
        change = replace(change, parts={**change.parts, knob: other}, taper=track.name)
    if track.across_ohm is not None:
        change = fit_across(change, wiring, variant, knob, track.across_ohm)
    return change


# --- along the way, and elsewhere


@dataclass(frozen=True)
class Elsewhere:
    """What a candidate does in another position.

    Attributes
    ----------
    travel, today : Travel
        Of the knob with the candidate, and as it is.
    at_ten_db, at_ten_level_db : float
        Timbre distance and level with the knob at 10, re today's.
    """

    position: str
    travel: Travel
    today: Travel
    at_ten_db: float
    at_ten_level_db: float

    @property
    def same(self) -> bool:
        """Whether the knob does there what it does today."""
        return bool(
            np.allclose(self.travel.step_db, self.today.step_db, atol=0.01)
            and np.allclose(self.travel.level_db, self.today.level_db, atol=0.01)
            and self.at_ten_db < 0.01
            and abs(self.at_ten_level_db) < 0.01
        )


def compute_along(wiring: Wiring, setting: Setting, one: Candidate) -> Travel:
    """Return the travel of the wiring as built."""
    built = one.change(wiring).apply(wiring)
    return compute_travel(built, built.setting(setting.position, setting.knobs, setting.switches), one.knob)


def compute_elsewhere(wiring: Wiring, setting: Setting, one: Candidate) -> tuple[Elsewhere, ...]:
    """Return what a candidate does in every other position."""
    built = one.change(wiring).apply(wiring)
    bands = ear_bands()
    notes = standard_notes(wiring, bands)
    found = []
    for position in wiring.positions:
        if position == setting.position:
            continue
        knobs = {**setting.knobs, one.knob: KNOB_TOP}
        before, after = (which.setting(position, knobs, setting.switches) for which in (wiring, built))
        energies = [
            energy_of(respond(which, [at], bands.centres_hz).coil, notes, bands)[0]
            for which, at in ((wiring, before), (built, after))
        ]
        apart = timbre(energies[1]) - timbre(energies[0])
        level_db = 10.0 * float(np.log10(max(energies[1].sum(), 1e-300) / max(energies[0].sum(), 1e-300)))
        found.append(
            Elsewhere(
                position,
                compute_travel(built, after, one.knob),
                compute_travel(wiring, before, one.knob),
                float(np.sqrt(np.mean(apart**2))),
                level_db,
            )
        )
    return tuple(found)
