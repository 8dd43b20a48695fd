"""Features of every network of a wiring's coils, in every relative phase."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, field
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from dsp.circuit.hum import HUM_HZ
from dsp.circuit.response import hum_weights
from dsp.errors import InputError, nearest
from dsp.parts.expression import Expression, format_expression, parse_expression
from dsp.parts.kind import Part, Terminal
from dsp.parts.kinds import is_passive
from dsp.sound.clean_level import clean_level_db
from dsp.sound.spectra import standard_notes
from dsp.sound.timbre import Bands, ear_bands, timbre
from dsp.sounds.coupled import Couplings
from dsp.sounds.ear import Ear
from dsp.sounds.elements import Elements, elements_of
from dsp.sounds.port import OutputPort, jack_readings, output_port
from dsp.sounds.sources import AT_ONCE, Element, Sources, SourceTable, dc_resistance
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
    at_m : ndarray, shape (n_elements,)
        Mean distance of each element's coils from the bridge. NaN for what has no place.
    place_m : ndarray, shape (n,)
        The same of each candidate's elements; of all elements where none has a place.
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
    at_m: Floats = field(default_factory=lambda: np.empty(0))
    timbre: Floats = field(init=False)
    level_db: Floats = field(init=False)
    brightness_hz: Floats = field(init=False)
    clean_level_db: Floats = field(init=False)
    low_share: Floats = field(init=False)
    place_m: Floats = field(init=False)

    def __post_init__(self) -> None:
        total = np.maximum(self.energy.sum(axis=1), 1e-300)
        middles = np.sqrt(self.bands.edges_hz[1:] * self.bands.edges_hz[:-1])
        amplitude = np.sqrt(self.energy)
        object.__setattr__(self, "timbre", timbre(self.energy))
        object.__setattr__(self, "level_db", 10.0 * np.log10(total))
        object.__setattr__(self, "clean_level_db", clean_level_db(self.energy, self.bands))
        object.__setattr__(
            self, "brightness_hz", amplitude @ middles / np.maximum(amplitude.sum(axis=1), 1e-150)
        )
        object.__setattr__(self, "low_share", self.energy[:, middles < 250.0].sum(axis=1) / total)
        object.__setattr__(self, "place_m", _mean_places(self.signs[:, : len(self.at_m)] != 0, self.at_m))

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
            self.at_m,
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
    ear = Ear(heard, hum_weights(wiring)[rows], bands, own)
    couplings = Couplings(elements, _couplings(wiring, names), frequencies_hz)
    networks, signs, features = _compute(space, elements, couplings, port, ear, frequencies_hz, progress)
    energy, hum_db, resonance_hz = features
    everything = space.networks
    resistance = dict(zip(map(id, everything), dc_resistance(everything, elements), strict=True))
    relative = signs[:, : len(own.names)] * own.string_signs
    opposed = np.any(relative > 0, axis=1) & np.any(relative < 0, axis=1)
    reading = jack_readings(wiring, np.array([resistance[id(network)] for network in networks]))
    whole = Candidates(
        names, networks, signs, energy, hum_db, reading, resonance_hz, opposed, bands, links, _at(wiring, own)
    )
    if any(wiring.coils[name].dummy for name in own.coils):  # alone they sound no string
        whole = whole.select(list(np.flatnonzero(whole.energy.sum(axis=1) > 0.0)))
    if not any(one.out for one in links):
        return whole
    return whole.select([i for i in range(len(whole)) if whole.expression(i) is not None])


def _at(wiring: Wiring, own: Elements) -> Floats:
    """Return the mean place of each element's coils, shape (n_elements,), m. NaN for no place."""
    places: list[list[float]] = [[] for _ in own.names]
    for name, element in zip(own.coils, own.element, strict=True):
        coil = wiring.coils[name]
        if coil.at_m is not None and not coil.dummy:
            places[element].append(coil.at_m)
    return np.array([np.mean(some) if some else np.nan for some in places])


def _mean_places(inside: NDArray[np.bool_], at_m: Floats) -> Floats:
    """Return the mean place of each row's elements, shape (n,), m."""
    known = np.isfinite(at_m)
    if not known.any():
        return np.zeros(len(inside))
    some = inside & known
    count = some.sum(axis=1)
    total = np.where(known, at_m, 0.0) @ some.T
    means = np.where(count > 0, total / np.maximum(count, 1), at_m[known].mean())
    return np.asarray(np.round(means, 6))  # whatever the order of adding: equal means are equal


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


def _compute(
    space: NetworkSet,
    elements: Sequence[Element],
    couplings: Couplings,
    port: OutputPort,
    ear: Ear,
    frequencies_hz: Floats,
    progress: Progress | None,
) -> tuple[tuple[Topology, ...], NDArray[np.int8], list[Floats]]:
    """Return networks, their signs, and energy, hum and resonance of each.

    Networks of the same elements have the same phases and are computed together.
    """
    table = SourceTable(space.networks, elements, frequencies_hz, couplings.pairs)
    networks: list[Topology] = []
    signs, features, done = [], [], 0
    for mask, some in groupby(space.wanted, lambda i: space.networks[i].mask):
        phases = np.array(space.phases(mask), np.int8)
        windings = couplings.windings(phases)
        coil_signs = ear.own.coil_signs(windings)
        alike = list(some)
        for start in range(0, len(alike), AT_ONCE):
            numbers = alike[start : start + AT_ONCE]
            networks += [space.networks[i] for i in numbers for _ in phases]
            signs.append(np.tile(phases, (len(numbers), 1)))
            weight, current = _loaded(table.sources(numbers), port, couplings.pairs)
            for n, (i, j) in enumerate(couplings.pairs):
                if i == j and not mask >> i & 1:
                    current[n] = table.idle_current(i)
            heard = ear.features(couplings.weights(weight, current, windings), coil_signs)
            features.append(heard)
            done += len(numbers)
            if progress:
                progress(done / len(space.wanted))
    joined = [np.concatenate([one[k] for one in features]) for k in range(3)]
    return tuple(networks), np.concatenate(signs), joined


def _loaded(sources: Sources, port: OutputPort, pairs: Sequence[tuple[int, int]]) -> tuple[Complex, Complex]:
    """Return the output per EMF, and winding currents, of networks connected to the controls."""
    load = 1.0 / (sources.impedance + port.input_ohm)
    through, current = sources.weight * load, sources.current
    for n, (i, j) in enumerate(pairs):
        current[n] += through[i] * sources.weight[j]
    return through * port.transfer_ohm, current
