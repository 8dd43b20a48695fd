"""Find the tone network and values that give a knob the widest and most even travel."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from dsp.circuit.response import respond
from dsp.knobs.networks import BESIDE, IN_LINE, NetworkVariant, network_variants, replace_pot
from dsp.knobs.travel import STEPS, Travel, travel_of
from dsp.parts.pot import KNOB_TOP
from dsp.parts.taper import SINGLE, linear, named
from dsp.sound.spectra import energy_of, standard_notes
from dsp.sound.timbre import ear_bands, timbre, timbre_distance
from dsp.wiring.change import Change
from dsp.wiring.model import Setting, Wiring

Floats = NDArray[np.float64]
Complex = NDArray[np.complex128]
POTS_OHM = (250e3, 500e3, 1e6)
"""Resistances in which guitar pots are sold (common practice)."""
MOST_DROP_DB = 12.0
"""A knob whose level falls further along its travel acts as a volume, even if the timbre changes."""
LEAST_WIDTH_DB = 1.0
FIELD = 12
"""Number of the best networks of each kind to try with every pot."""
NEARLY_TOP = KNOB_TOP * (1.0 - 1e-9)
HEARD_DB = -40.0
"""A coil that a knob fades in counts from this level up, relative to the loudest coil."""


@dataclass(frozen=True)
class Suggestion:
    """A network, a pot, and the knob's travel with them.

    Attributes
    ----------
    resistance_ohm : float
        Resistance of the pot.
    drop_db : float
        Level difference between the loudest and the softest point of the travel.
    at_ten_db : float
        Timbre distance between the suggestion and the present wiring, both with the knob at 10.
    coils : tuple of str
        Coils that the knob fades in.
    """

    variant: NetworkVariant
    taper: str
    resistance_ohm: float
    travel: Travel
    drop_db: float
    at_ten_db: float
    coils: tuple[str, ...] = ()

    @property
    def worth(self) -> tuple[float, float]:
        """Width, dB, and evenness. Larger is better for both."""
        return self.travel.width_db, self.travel.evenness

    def change(self, wiring: Wiring) -> Change:
        """Return the complete change: the network and, if it differs, the pot."""
        change = self.variant.change
        for track in wiring.knobs[self.travel.knob]:
            pot = wiring.pots[track]
            other = replace(pot, taper=named(self.taper), resistance_ohm=self.resistance_ohm)
            if other != pot:
                change = replace(change, parts={**change.parts, track: other}, taper=self.taper)
        return change


def suggest_networks(
    wiring: Wiring, setting: Setting, knob: str, *, progress: Callable[[float], None] | None = None
) -> tuple[Suggestion, ...]:
    """Return each network with each taper, and the best with other pots.

    Parameters
    ----------
    setting : Setting
        Position of the selector, switches and other knobs.
    progress : callable, optional
        Called with the share completed, 0 to 1.

    Returns
    -------
    tuple of Suggestion
        Networks that change the timbre by at least 1 dB and the level by at most 12. Empty if the
        knob is not a variable resistor between two joints.
    """
    bench = _Bench(wiring, setting, knob)
    every = list(network_variants(wiring, setting, knob))
    own = (bench.pot.resistance_ohm,)
    found: list[Suggestion] = []
    for done, tried in enumerate(every):
        found += bench.tries(tried, own)
        if progress:
            progress(0.8 * (done + 1) / len(every))
    finalists = _finalists(found)
    others = tuple(ohm for ohm in POTS_OHM if ohm not in own)
    for done, tried in enumerate(finalists):
        found += bench.tries(tried, others)
        if progress:
            progress(0.8 + 0.2 * (done + 1) / len(finalists))
    return tuple(found)


def pareto_front(found: Iterable[Suggestion]) -> tuple[Suggestion, ...]:
    """Return the Pareto front of width and evenness, the widest first."""
    best: list[Suggestion] = []
    for one in sorted(found, key=lambda one: (-one.worth[0], -one.worth[1])):
        if not best or one.worth[1] > best[-1].worth[1]:
            best.append(one)
    return tuple(best)


def thin_out(several: Sequence[Suggestion], most: int) -> tuple[Suggestion, ...]:
    """Return evenly spaced suggestions along a front, with both ends.

    Parameters
    ----------
    several : sequence of Suggestion
        From `pareto_front`.
    most : int
        Largest number to return, 2 or more.
    """
    if len(several) <= most:
        return tuple(several)
    places = np.unique(np.round(np.linspace(0, len(several) - 1, most)).astype(int))
    return tuple(several[i] for i in places)


def best_of_kinds(found: Iterable[Suggestion]) -> Mapping[str, Suggestion]:
    """Return the suggestion of each kind with the largest width × evenness."""
    best: dict[str, Suggestion] = {}
    for one in found:
        kind = one.variant.kind
        if kind not in best or _product(one) > _product(best[kind]):
            best[kind] = one
    return best


def pick_suggestions(found: Sequence[Suggestion], most: int) -> tuple[tuple[Suggestion, bool], ...]:
    """Return the suggestions to show: along the front, then per kind.

    Parameters
    ----------
    most : int
        Largest number from the front, 2 or more.

    Returns
    -------
    tuple of (Suggestion, bool)
        Each with a flag, True for those along the front.
    """
    best = thin_out(pareto_front(found), most)
    kinds = [one for one in best_of_kinds(found).values() if one not in best]
    return (*((one, True) for one in best), *((one, False) for one in kinds))


def _product(one: Suggestion) -> float:
    return one.worth[0] * one.worth[1]


def _finalists(found: Sequence[Suggestion]) -> list[NetworkVariant]:
    """Return the networks of each kind to try with other pots.

    Those along the front come first, then the best by width × evenness.
    """
    picked: list[NetworkVariant] = []
    for kind in dict.fromkeys(one.variant.kind for one in found):
        mine = [one for one in found if one.variant.kind == kind]
        ranked = [*thin_out(pareto_front(mine), FIELD // 2), *sorted(mine, key=_product, reverse=True)]
        picked += list({id(one.variant): one.variant for one in ranked}.values())[:FIELD]
    return picked


class _Bench:
    """One knob at one setting, with everything that all networks share."""

    def __init__(self, wiring: Wiring, setting: Setting, knob: str) -> None:
        pot = wiring.pots[knob]
        self.wiring, self.setting, self.knob, self.pot = wiring, setting, knob, pot
        self.bands = ear_bands()
        self.notes = standard_notes(wiring, self.bands)
        self.values = np.linspace(0.0, KNOB_TOP, STEPS + 1)
        top = wiring.setting(setting.position, {**setting.knobs, knob: KNOB_TOP}, setting.switches)
        coil = respond(wiring, [top], self.bands.centres_hz).coil
        self.at_ten = timbre(energy_of(coil, self.notes, self.bands)[0])
        self.tapers = {name: named(name) for name in SINGLE}

    def tries(self, tried: NetworkVariant, ohms: Sequence[float]) -> list[Suggestion]:
        """Return the useful suggestions of a network with each taper and pot."""
        edited = tried.change.apply(self.wiring)
        largest = max(ohms)
        # One linear track replaces all tapers and smaller pots: the knob moves to the value
        # that gives their resistance in use.
        edited = replace_pot(edited, self.knob, replace(self.pot, taper=linear(), resistance_ohm=largest))
        shares = np.array([taper.share(self.values / KNOB_TOP) for taper in self.tapers.values()])
        in_use = shares if tried.rising else 1.0 - shares
        in_use = np.array([in_use * ohm / largest for ohm in ohms])
        knobs = KNOB_TOP * (in_use if tried.rising else 1.0 - in_use)
        if self.pot.no_load:  # the track opens at 10 alone, whatever its taper and its resistance
            knobs[..., :-1] = np.minimum(knobs[..., :-1], NEARLY_TOP)
            knobs[..., -1] = KNOB_TOP
        stands, back = np.unique(np.clip(knobs, 0.0, KNOB_TOP), return_inverse=True)
        settings = [
            edited.setting(
                self.setting.position, {**self.setting.knobs, self.knob: float(v)}, self.setting.switches
            )
            for v in stands
        ]
        coil = respond(edited, settings, self.bands.centres_hz).coil
        energy = energy_of(coil, self.notes, self.bands)[back.reshape(knobs.shape)]
        coils = self._faded(tried, coil)
        if coils is None:
            return []
        return [
            one
            for i, ohm in enumerate(ohms)
            for j, name in enumerate(self.tapers)
            if (one := self._told(tried, name, ohm, energy[i, j], coils)) is not None
        ]

    def _told(
        self, tried: NetworkVariant, taper: str, ohm: float, energy: Floats, coils: tuple[str, ...]
    ) -> Suggestion | None:
        moved = travel_of(self.knob, self.values, energy)
        drop_db = float(np.ptp(moved.level_db))
        if drop_db > MOST_DROP_DB or moved.width_db < LEAST_WIDTH_DB:
            return None
        at_ten_db = float(timbre_distance(timbre(energy[-1]), self.at_ten))
        return Suggestion(tried, taper, ohm, moved, drop_db, at_ten_db, coils)

    def _faded(self, tried: NetworkVariant, coil: Complex) -> tuple[str, ...] | None:
        """Return the coils whose level rises most along the knob.

        Empty for a network that adds no coil. None if an added coil does not fade in.
        """
        if tried.kind not in (BESIDE, IN_LINE):
            return ()
        power = np.sum(np.abs(coil) ** 2, axis=2)
        low, high = power[0], power[-1]
        heard = high > 10.0 ** (HEARD_DB / 10.0) * high.max()
        faded = heard & (low < 0.25 * high)
        still = heard & ~faded
        if not faded.any() or not still.any():
            return None
        return tuple(name for name, one in zip(self.wiring.coils, faded, strict=True) if one)
