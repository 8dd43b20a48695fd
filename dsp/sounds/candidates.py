"""Features of every network of a wiring's coils, in every relative phase."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from dsp.circuit.hum import HUM_HZ, NOTHING_DB
from dsp.circuit.response import hum_weights
from dsp.errors import InputError, nearest
from dsp.parts.expression import Expression, format_expression, parse_expression
from dsp.parts.kind import Part, Terminal
from dsp.parts.kinds import is_passive
from dsp.sound.spectra import standard_notes
from dsp.sound.timbre import Bands, ear_bands, timbre
from dsp.sounds.elements import Elements, elements_of
from dsp.sounds.port import OutputPort, jack_readings, output_port
from dsp.sounds.sources import Element, closed_form_sources, coupled_source, dc_resistance
from dsp.sounds.space import NetworkSet, networks_of
from dsp.sounds.topology import Topology
from dsp.wiring.linked_coils import Link, Unit, arrange, links_of, units_of
from dsp.wiring.model import Wiring

Floats = NDArray[np.float64]
Complex = NDArray[np.complex128]
Progress = Callable[[float], None]


@dataclass(frozen=True)
class Candidates:
    """Networks in their phases, with the features of each.

    Attributes
    ----------
    names : tuple of str
        Names of the elements: the coils, and the extra part if there is one.
    networks : tuple of Topology
        One network per candidate.
    signs : ndarray of int, shape (n, n_elements)
        1; -1 for a coil reversed relative to the first; 0 for one not in the network.
    energy : ndarray, shape (n, n_bands), V² s
    hum_db : ndarray, shape (n,)
        Residual at the loaded output, relative to the same coils adding up.
    reading_ohm : ndarray, shape (n,)
        Reading of an ohmmeter at the jack, cable out, every knob at 10. Infinite where no direct
        current flows.
    resonance_hz : ndarray, shape (n,)
        Peak frequency of the loudest coil's response within the bands. NaN if it has no peak there.
        Interpolated between the points of the bands: within 0.5 % of the engine.
    opposed : ndarray of bool, shape (n,)
        Whether some coils are out of phase with others for the string.
    links : tuple of Link
        Permanent joints between coil leads.
    """

    names: tuple[str, ...]
    networks: tuple[Topology, ...]
    signs: NDArray[np.int8]
    energy: Floats
    hum_db: Floats
    reading_ohm: Floats
    resonance_hz: Floats
    opposed: NDArray[np.bool_]
    bands: Bands
    links: tuple[Link, ...] = ()
    timbre: Floats = field(init=False)
    level_db: Floats = field(init=False)
    brightness_hz: Floats = field(init=False)
    low_share: Floats = field(init=False)

    def __post_init__(self) -> None:
        total = np.maximum(self.energy.sum(axis=1), 1e-300)
        middles = np.sqrt(self.bands.edges_hz[1:] * self.bands.edges_hz[:-1])
        amplitude = np.sqrt(self.energy)
        object.__setattr__(self, "timbre", timbre(self.energy))
        object.__setattr__(self, "level_db", 10.0 * np.log10(total))
        object.__setattr__(
            self, "brightness_hz", amplitude @ middles / np.maximum(amplitude.sum(axis=1), 1e-150)
        )
        object.__setattr__(self, "low_share", self.energy[:, middles < 250.0].sum(axis=1) / total)

    def __len__(self) -> int:
        return len(self.networks)

    def select(self, some: Sequence[int]) -> Candidates:
        """Return some of the candidates, in the order given."""
        rows = np.array(some, np.int64)
        return Candidates(
            self.names,
            tuple(self.networks[i] for i in some),
            self.signs[rows],
            self.energy[rows],
            self.hum_db[rows],
            self.reading_ohm[rows],
            self.resonance_hz[rows],
            self.opposed[rows],
            self.bands,
            self.links,
        )

    def expression_text(self, i: int) -> str:
        """Return a candidate as the text of a sketch expression."""
        expression = self.expression(i) if self.links else None
        return self._plain(i) if expression is None else format_expression(expression)

    def expression(self, i: int) -> Expression | None:
        """Return a candidate ordered to keep its links; None if impossible."""
        coils = {name for link in self.links for name, _ in link.leads}
        return arrange(parse_expression(self._plain(i)), self.links, coils)

    def _plain(self, i: int) -> str:
        return self.networks[i].expression_text(self.names, [int(sign) for sign in self.signs[i]])


def find_candidates(
    wiring: Wiring,
    *,
    coils: Sequence[str] | None = None,
    extra: str | None = None,
    spectra: Complex | None = None,
    progress: Progress | None = None,
    link_leads: Collection[Terminal] = (),
) -> Candidates:
    """Return every network of a wiring's coils, in every phase.

    Parameters
    ----------
    wiring : Wiring
        Its selector is a sketch, with hot and cold connected to the controls.
    coils : sequence of str, optional
        Coils and groups to search, at most 6. All coils of the wiring by default; those inside a
        group stand for the group.
    extra : str, optional
        A capacitor, resistor or inductor of the wiring to include once in every network.
    spectra : ndarray, shape (n_sub_bands, n_coils, n_coils), optional
        What the wiring's coils sense. The standard notes by default.
    progress : callable, optional
        Called with the share completed, 0 to 1.
    link_leads : collection of Terminal
        Coil leads whose link leaves its pickup as a separate lead. Coils tied together by any other
        joint of coil leads are one element.

    Raises
    ------
    InputError
        If the selector is not a sketch, a part is unknown, or there are too many coils.
    """
    bands = ear_bands()
    frequencies_hz = np.concatenate([bands.centres_hz, HUM_HZ])
    own = elements_of(wiring, coils, frequencies_hz)
    names, elements = own.names, list(own.parts)
    rows = [list(wiring.coils).index(name) for name in own.coils]
    heard = standard_notes(wiring, bands) if spectra is None else spectra
    heard = heard[:, rows][:, :, rows]
    port = output_port(wiring, frequencies_hz)
    if extra is not None:
        elements.append(_extra(wiring, extra))
        names = (*names, extra)
    plain = [name for name in own.names if name in wiring.coils]
    links = links_of(wiring, plain, link_leads)
    units = units_of(plain, links, wiring)
    units += tuple(Unit((name,), (1,)) for name in own.names if name not in wiring.coils)
    space = networks_of(units, names, len(own.names))
    ear = _Ear(heard, hum_weights(wiring)[rows], bands, own)
    pairs = _couplings(wiring, names)
    if pairs:
        found = _by_nodes(space, elements, pairs, port, ear, frequencies_hz, progress)
    else:
        found = _by_formula(space, elements, port, ear, frequencies_hz, progress)
    networks, signs, energy, hum_db, resonance_hz = found
    everything = space.networks
    resistance = dict(zip(map(id, everything), dc_resistance(everything, elements), strict=True))
    relative = signs[:, : len(own.names)] * own.string_signs
    opposed = np.any(relative > 0, axis=1) & np.any(relative < 0, axis=1)
    reading = jack_readings(wiring, np.array([resistance[id(network)] for network in networks]))
    whole = Candidates(names, networks, signs, energy, hum_db, reading, resonance_hz, opposed, bands, links)
    if any(wiring.coils[name].dummy for name in own.coils):  # alone they sound no string
        whole = whole.select(list(np.flatnonzero(whole.energy.sum(axis=1) > 0.0)))
    if not any(one.out for one in links):
        return whole
    return whole.select([i for i in range(len(whole)) if whole.expression(i) is not None])


def _extra(wiring: Wiring, name: str) -> Part:
    """Return a two-lead part that is not a coil."""
    part = wiring.parts.get(name)
    if part is not None and is_passive(part):
        return part
    known = [n for n, p in wiring.parts.items() if is_passive(p)]
    allowed = f"a capacitor, resistor or inductor: {', '.join(known) or 'none here'}"
    raise InputError("extra", f"'{name}'", allowed, nearest(name, known))


def _couplings(wiring: Wiring, names: Sequence[str]) -> dict[tuple[int, int], float]:
    return {
        (names.index(one.first), names.index(one.second)): one.coefficient
        for one in wiring.couplings
        if one.first in names and one.second in names and one.coefficient
    }


@dataclass(frozen=True)
class _Ear:
    """Converter of responses to energies by band, and hum."""

    heard: Complex
    hum_weights: Floats
    bands: Bands
    own: Elements

    def pairs(self, gains: Complex) -> tuple[Floats, Floats]:
        """Return the quadratic forms of one network, by pairs of coils.

        Parameters
        ----------
        gains : ndarray, shape (n_coils, n_freqs)

        Returns
        -------
        energy : ndarray, shape (n_bands, n_coils, n_coils)
        hum : ndarray, shape (n_coils, n_coils)
        """
        n_sub = len(self.bands.centres_hz)
        heard, hum = gains[:, :n_sub].T, gains[:, n_sub:] * self.hum_weights[:, None]
        energy = (heard[:, :, None] * heard.conj()[:, None, :] * self.heard).real
        by_band = energy.reshape(self.bands.n_bands, -1, *energy.shape[1:]).sum(axis=1)
        return by_band, (hum @ hum.conj().T).real

    def loudest(self, by_band: Floats, gains: Complex) -> Floats:
        """Return the loudest coil's response, shape (n_sub_bands,)."""
        own = np.einsum("bkk->k", by_band)
        return np.asarray(np.abs(gains[int(np.argmax(own)), : len(self.bands.centres_hz)]))

    def hum_db(self, left: Floats, gains: Complex) -> Floats:
        """Return the residual hum re all coils adding up, dB, shape of left."""
        hum = np.abs(gains[:, len(self.bands.centres_hz) :] * self.hum_weights[:, None])
        worst = float(np.sum(hum.sum(axis=0) ** 2))
        if worst == 0.0:
            return np.full(np.shape(left), NOTHING_DB)
        return np.asarray(10.0 * np.log10(np.maximum(left / worst, 10.0 ** (NOTHING_DB / 10.0))))


_Found = tuple[tuple[Topology, ...], NDArray[np.int8], Floats, Floats, Floats]
"""Networks, signs, energy, hum and resonance."""


def _by_formula(
    space: NetworkSet,
    elements: Sequence[Element],
    port: OutputPort,
    ear: _Ear,
    frequencies_hz: Floats,
    progress: Progress | None,
) -> _Found:
    """Compute uncoupled coils: one source per network, all phases at once."""
    sources = closed_form_sources(space.networks, elements, frequencies_hz)
    transfer = port.gain(sources.impedance)
    networks: list[Topology] = []
    signs, energy, hum, curves = [], [], [], []
    for done, i in enumerate(space.wanted):
        network = space.networks[i]
        turned = np.array(space.phases(network), np.int8)
        coil_signs = ear.own.coil_signs(turned)
        gains = ear.own.gains(sources.weight[i]) * transfer[i]
        by_band, hum_form = ear.pairs(gains)
        outer = coil_signs[:, :, None] * coil_signs[:, None, :]
        flat = outer.reshape(len(turned), -1)
        networks += [network] * len(turned)
        curves.append(ear.loudest(by_band, gains))
        signs.append(turned)
        energy.append(np.maximum(flat @ by_band.reshape(len(by_band), -1).T, 0.0))
        hum.append(ear.hum_db(np.maximum(flat @ hum_form.ravel(), 0.0), gains))
        if progress and done % 256 == 0:
            progress(done / len(space.wanted))
    tops_hz = np.repeat(_tops_hz(np.array(curves), ear.bands.centres_hz), list(map(len, signs)))
    return tuple(networks), np.concatenate(signs), np.concatenate(energy), np.concatenate(hum), tops_hz


def _by_nodes(
    space: NetworkSet,
    elements: Sequence[Element],
    couplings: dict[tuple[int, int], float],
    port: OutputPort,
    ear: _Ear,
    frequencies_hz: Floats,
    progress: Progress | None,
) -> _Found:
    """Compute coupled coils: solve each network and phase separately."""
    networks: list[Topology] = []
    signs, energy, hum, curves = [], [], [], []
    for done, i in enumerate(space.wanted):
        network = space.networks[i]
        for turned in space.phases(network):
            impedance, weight = coupled_source(network, turned, elements, couplings, frequencies_hz)
            gains = ear.own.gains(weight) * port.gain(impedance)
            by_band, hum_form = ear.pairs(gains)
            networks.append(network)
            signs.append(turned)
            curves.append(ear.loudest(by_band, gains))
            energy.append(np.maximum(by_band.sum(axis=(1, 2)), 0.0))
            hum.append(float(ear.hum_db(np.maximum(hum_form.sum(), 0.0), gains)))
        if progress and done % 16 == 0:
            progress(done / len(space.wanted))
    tops_hz = _tops_hz(np.array(curves), ear.bands.centres_hz)
    return tuple(networks), np.array(signs, np.int8), np.array(energy), np.array(hum), tops_hz


def _tops_hz(curves: Floats, frequencies_hz: Floats) -> Floats:
    """Return the frequency of each curve's peak, shape (n,), Hz.

    It is the vertex of the parabola through the highest point and its neighbours, dB over log
    frequency. NaN if the highest point is at an end.
    """
    top = np.argmax(curves, axis=1)
    inside = (top > 0) & (top < curves.shape[1] - 1)
    rows, at = np.flatnonzero(inside), top[inside, None] + np.arange(-1, 2)
    x = np.log(frequencies_hz)[at]
    y = np.log(np.maximum(curves[rows[:, None], at], 1e-300))
    before, after = (x[:, side] - x[:, 1] for side in (0, 2))
    down, up = (y[:, side] - y[:, 1] for side in (0, 2))
    bend = down * after - up * before
    found = np.full(len(curves), np.nan)
    away = 0.5 * (down * after**2 - up * before**2) / np.where(bend == 0.0, np.inf, bend)
    found[rows] = np.exp(x[:, 1] + away)
    return found
