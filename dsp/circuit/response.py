"""Responses from every coil to the amplifier input, by setting and frequency."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby, product

import numpy as np

from dsp.circuit.pots import Key, PotTerms, fold_pots, solve_settings
from dsp.circuit.reduction import Complex, Floats, Reduction, bands, reduce_position
from dsp.errors import InputError
from dsp.wiring.model import Setting, Wiring
from dsp.wiring.network import Network, build_network, resistances, segment_ohms

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
    return np.array([coil.winding * coil.turns_area for coil in wiring.coils.values()])


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
            reduction = reduce_position(network, frequencies_hz[band])
            fill_settings(reduction, settings, rows, coil[..., band], impedance[..., band])
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
    reduction: Reduction,
    settings: Sequence[Setting],
    rows: Sequence[int],
    coil: Complex,
    impedance: Complex,
) -> None:
    """Fill the rows of both arrays for settings of one position.

    Parameters
    ----------
    rows : sequence of int
        Indexes of the settings at this position.
    coil : ndarray, shape (n_settings, n_coils, n_freqs)
    impedance : ndarray, shape (n_settings, n_freqs), ohm
    """
    network = reduction.network
    tables = {i: resistances(network, settings[i]) for i in rows}
    by_joints: dict[frozenset[Key], list[int]] = {}
    for i, table in tables.items():
        by_joints.setdefault(frozenset(key for key, ohm in table.items() if ohm == 0.0), []).append(i)
    for joined, members in by_joints.items():
        open_keys = [key for key in tables[members[0]] if key not in joined]
        values = {key: np.array([[tables[i][key]] for i in members]) for key in open_keys}
        output, responses = solve_settings(reduction, fold_pots(reduction, joined), values)
        if output is not None:
            impedance[members] = output
        for k, response in enumerate(responses):
            if response is not None:
                coil[members, k] = response


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
        reduction = reduce_position(network, frequencies_hz[band])
        folds: dict[frozenset[Key], PotTerms] = {}
        for block in product(*runs):
            joined, values = _block(network, names, block, fixed)
            if joined not in folds:
                folds[joined] = fold_pots(reduction, joined)
            _, responses = solve_settings(reduction, folds[joined], values)
            where = tuple(run for run, _ in block)
            for k, response in enumerate(responses):
                if response is not None:
                    found[where][..., k, band] = response
            if progress:
                progress()
    _silence(found)
    return found


def _runs(network: Network, name: str, values: Floats, *, chunk: bool) -> list[tuple[slice, Floats]]:
    """Slices of neighbouring values at which the same segments are joints.

    The first axis is cut into single values, so that a block fits the processor's cache: three times as
    fast.
    """
    pot = network.pots[name]
    pairs = np.array([segment_ohms(pot, float(value)) for value in values])
    keys = [tuple(pair == 0.0) + ((i,) if chunk else ()) for i, pair in enumerate(pairs)]
    runs = []
    for _, group in groupby(range(len(values)), key=lambda i: keys[i]):
        members = list(group)
        runs.append((slice(members[0], members[-1] + 1), pairs[members]))
    return runs


def _block(
    network: Network,
    names: Sequence[str],
    block: Sequence[tuple[slice, Floats]],
    fixed: Mapping[Key, float],
) -> tuple[frozenset[Key], dict[Key, Floats]]:
    """Joints and resistances of a block of the grid, each knob on its own axis."""
    values: dict[Key, Floats] = {key: np.array([ohm]) for key, ohm in fixed.items()}
    for axis, (name, (_, pairs)) in enumerate(zip(names, block, strict=True)):
        shape = [1] * (len(names) + 1)
        shape[axis] = len(pairs)
        for number in range(pairs.shape[1]):
            values[name, number] = pairs[:, number].reshape(shape)
    joined = frozenset(key for key, ohm in values.items() if not np.any(ohm))
    return joined, {key: ohm for key, ohm in values.items() if key not in joined}


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
