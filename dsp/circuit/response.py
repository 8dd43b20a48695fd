"""Responses from every coil to the amplifier input, by setting and frequency."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby, product
from math import inf

import numpy as np

from dsp.circuit.pots import Key, PotTerms, fold_pots, solve_settings
from dsp.circuit.reduction import Complex, Floats, Reduction, bands, reduce_position
from dsp.errors import InputError
from dsp.wiring.model import Setting, Wiring
from dsp.wiring.network import Network, build_network, knob_ohms, open_segments, resistances

LOWEST_HZ, HIGHEST_HZ = 1e-6, 1e9
SILENT = 1e-12
"""Volt per volt. A coil joined by one lead alone is silent; the solver returns rounding near 1e-15. A
response below this at every frequency is set to zero."""


@dataclass(frozen=True)
class Responses:
    """Responses from coil EMFs to the amplifier input at settings of a wiring.

    Attributes
    ----------
    frequencies_hz : ndarray, shape (n_freqs,)
    coil : ndarray, shape (n_settings, n_coils, n_freqs)
        H_k, volt per volt of EMF.
    hum : ndarray, shape (n_settings, n_freqs)
        Sum over the coils of winding x turns_area x H_k.
    output_impedance_ohm : ndarray, shape (n_settings, n_freqs)
        At the amplifier input, with the load connected.
    """

    settings: tuple[Setting, ...]
    frequencies_hz: Floats
    coils: tuple[str, ...]
    coil: Complex
    hum: Complex
    output_impedance_ohm: Complex


def hum_weights(wiring: Wiring) -> Floats:
    """Return the relative EMF of a uniform hum field, shape (n_coils,)."""
    return np.array([coil.winding * coil.hum_pick_up for coil in wiring.coils.values()])


def respond(wiring: Wiring, settings: Sequence[Setting], frequencies_hz: Floats) -> Responses:
    """Compute the responses at a list of settings.

    Parameters
    ----------
    frequencies_hz : ndarray, shape (n_freqs,)

    Raises
    ------
    InputError
        If a frequency is not between 1 µHz and 1 GHz.

    Examples
    --------
    >>> from dsp.parts.kinds import new_part
    >>> from dsp.wiring.model import Joint
    >>> coil = new_part("coil", resistance=6e3, inductance=2.4, capacitance=110e-12)
    >>> ends = [(("neck", "start"), ("output", "tip")), (("neck", "finish"), ("output", "sleeve"))]
    >>> parts = {"neck": coil, "output": new_part("jack")}
    >>> wiring = Wiring("one coil", "", parts, tuple(map(Joint, ends)))
    >>> found = respond(wiring, [wiring.setting("1")], np.array([100.0, 1000.0]))
    >>> np.abs(found.coil[0, 0]).round(3)
    array([0.995, 1.056])
    """
    frequencies_hz = check_frequencies(frequencies_hz)
    coil = np.zeros((len(settings), len(wiring.coils), len(frequencies_hz)), complex)
    impedance = np.zeros((len(settings), len(frequencies_hz)), complex)
    by_position: dict[tuple[object, ...], list[int]] = {}
    for i, setting in enumerate(settings):
        by_position.setdefault((setting.position, *sorted(setting.switches.items())), []).append(i)
    for rows in by_position.values():
        network = build_network(wiring, settings[rows[0]])
        for band in bands(network, len(frequencies_hz)):
            fill_settings(
                network, frequencies_hz[band], settings, rows, coil[..., band], impedance[..., band]
            )
    _silence(coil)
    hum = np.einsum("k,skf->sf", hum_weights(wiring), coil)
    return Responses(tuple(settings), frequencies_hz, tuple(wiring.coils), coil, hum, impedance)


def respond_network(network: Network, frequencies_hz: Floats) -> tuple[Complex, Complex]:
    """Compute the responses of a network whose pots are set.

    Parameters
    ----------
    network : Network
        From `set_pots`.
    frequencies_hz : ndarray, shape (n_freqs,)

    Returns
    -------
    coil : ndarray, shape (n_coils, n_freqs)
    output_impedance_ohm : ndarray, shape (n_freqs,)
    """
    coil = np.zeros((len(network.coils), len(frequencies_hz)), complex)
    impedance = np.zeros(len(frequencies_hz), complex)
    for band in bands(network, len(frequencies_hz)):
        reduction = reduce_position(network, frequencies_hz[band])
        output, responses = solve_settings(reduction, fold_pots(reduction, frozenset()), {})
        if output is not None:
            impedance[band] = output
        for k, response in enumerate(responses):
            if response is not None:
                coil[k, band] = response
    _silence(coil)
    return coil, impedance


def _silence(coil: Complex) -> None:
    """Set what is only rounding to zero, in place; the last axis is frequency."""
    coil[np.max(np.abs(coil), axis=-1, initial=0.0) < SILENT] = 0.0


def fill_settings(
    network: Network,
    frequencies_hz: Floats,
    settings: Sequence[Setting],
    rows: Sequence[int],
    coil: Complex,
    impedance: Complex,
) -> None:
    """Fill the rows of both arrays for settings of one position.

    Parameters
    ----------
    frequencies_hz : ndarray, shape (n_freqs,)
    rows : sequence of int
        Indexes of the settings at this position.
    coil : ndarray, shape (n_settings, n_coils, n_freqs)
    impedance : ndarray, shape (n_settings, n_freqs), ohm
    """
    tables = {i: resistances(network, settings[i]) for i in rows}
    reductions: dict[frozenset[Key], Reduction] = {}
    by_joints: dict[tuple[frozenset[Key], frozenset[Key]], list[int]] = {}
    for i, table in tables.items():
        by_joints.setdefault(_joined_and_opened(table), []).append(i)
    for (joined, opened), members in by_joints.items():
        if opened not in reductions:
            reductions[opened] = reduce_position(open_segments(network, opened), frequencies_hz)
        open_keys = [key for key in tables[members[0]] if key not in joined and key not in opened]
        values = {key: np.array([[tables[i][key]] for i in members]) for key in open_keys}
        reduction = reductions[opened]
        output, responses = solve_settings(reduction, fold_pots(reduction, joined), values)
        if output is not None:
            impedance[members] = output
        for k, response in enumerate(responses):
            if response is not None:
                coil[members, k] = response


def _joined_and_opened(ohms: Mapping[Key, float]) -> tuple[frozenset[Key], frozenset[Key]]:
    """Segments that are joints, and segments without a track."""
    joined = frozenset(key for key, ohm in ohms.items() if ohm == 0.0)
    return joined, frozenset(key for key, ohm in ohms.items() if ohm == inf)


def knob_grid(
    wiring: Wiring,
    setting: Setting,
    knobs: Mapping[str, Floats],
    frequencies_hz: Floats,
    *,
    progress: Callable[[], None] | None = None,
) -> Complex:
    """Compute the responses of every coil at every combination of knob values.

    Parameters
    ----------
    setting : Setting
        Position, switches and the knobs outside the grid.
    knobs : mapping of str to ndarray, shape (n_values,)
        Knob values of each axis, 0 to 10.
    frequencies_hz : ndarray, shape (n_freqs,)

    Returns
    -------
    ndarray, shape (*n_values of each knob, n_coils, n_freqs)
    """
    frequencies_hz = check_frequencies(frequencies_hz)
    network = build_network(wiring, setting)
    names = list(knobs)
    shape = tuple(len(knobs[name]) for name in names)
    found = np.zeros((*shape, len(wiring.coils), len(frequencies_hz)), complex)
    runs = [_runs(network, name, knobs[name], chunk=axis == 0) for axis, name in enumerate(names)]
    fixed = resistances(network, setting)
    for band in bands(network, len(frequencies_hz)):
        reductions: dict[frozenset[Key], Reduction] = {}
        folds: dict[tuple[frozenset[Key], frozenset[Key]], PotTerms] = {}
        for block in product(*runs):
            joined, opened, values = _block(names, block, fixed)
            if opened not in reductions:
                reductions[opened] = reduce_position(open_segments(network, opened), frequencies_hz[band])
            reduction = reductions[opened]
            if (joined, opened) not in folds:
                folds[joined, opened] = fold_pots(reduction, joined)
            _, responses = solve_settings(reduction, folds[joined, opened], values)
            where = tuple(run for run, _ in block)
            for k, response in enumerate(responses):
                if response is not None:
                    found[where][..., k, band] = response
            if progress:
                progress()
    _silence(found)
    return found


Run = tuple[slice, Mapping[Key, Floats]]
"""Neighbouring values of a knob, and the resistances of its segments at each, shape (n_values,), ohm."""


def _runs(network: Network, name: str, values: Floats, *, chunk: bool) -> list[Run]:
    """Slices of neighbouring values at which the same segments are joints or open.

    The first axis is cut into single values, so that a block fits the processor's cache: three times as
    fast.
    """
    tables = [knob_ohms(network, name, float(value)) for value in values]
    keys = [_joined_and_opened(table) for table in tables]
    runs: list[Run] = []
    for _, group in groupby(range(len(values)), key=lambda i: (keys[i], i if chunk else 0)):
        members = list(group)
        ohms = {key: np.array([tables[i][key] for i in members]) for key in tables[0]}
        runs.append((slice(members[0], members[-1] + 1), ohms))
    return runs


def _block(
    names: Sequence[str], block: Sequence[Run], fixed: Mapping[Key, float]
) -> tuple[frozenset[Key], frozenset[Key], dict[Key, Floats]]:
    """Joints, open segments and resistances of a block of the grid, each knob on its own axis."""
    values: dict[Key, Floats] = {key: np.array([ohm]) for key, ohm in fixed.items()}
    for axis, (_, ohms) in enumerate(block):
        shape = [1] * (len(names) + 1)
        for key, row in ohms.items():
            shape[axis] = len(row)
            values[key] = row.reshape(shape)
    joined, opened = _joined_and_opened({key: float(ohm.flat[0]) for key, ohm in values.items()})
    taken = joined | opened
    return joined, opened, {key: ohm for key, ohm in values.items() if key not in taken}


def check_frequencies(frequencies_hz: Floats) -> Floats:
    """Return frequencies as an array, shape (n_freqs,), if all are in range.

    Parameters
    ----------
    frequencies_hz : ndarray, shape (n_freqs,)

    Raises
    ------
    InputError
        If there are none, or one is not between 1 µHz and 1 GHz.
    """
    array = np.atleast_1d(np.asarray(frequencies_hz, float))
    bad = array[~((array >= LOWEST_HZ) & (array <= HIGHEST_HZ))]
    if bad.size or not array.size:
        got = f"{bad[0]:g} Hz" if bad.size else "none"
        raise InputError("frequency", got, "from 1 µHz to 1 GHz")
    return array
