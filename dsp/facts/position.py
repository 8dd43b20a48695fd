"""Facts of one setting: coils, hum, level, brightness, resonance and meter reading."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from dsp.circuit.hum import HUM_HZ, hum_residual_db
from dsp.circuit.hum_limits import CANCELLING_DB
from dsp.circuit.meter import jack_reading_ohm
from dsp.circuit.noise import weighted_noise_volt
from dsp.circuit.reduction import Complex, Floats
from dsp.circuit.resonance import Resonance, resonances
from dsp.circuit.response import hum_weights, respond, respond_network
from dsp.facts.connection import Tree, coil_connections, connection_text
from dsp.sound.clean_level import clean_weights
from dsp.sound.open_chord import Chord, open_chord
from dsp.wiring.model import Setting, Wiring
from dsp.wiring.network import build_network, set_pots

SIGN_HZ = np.array([200.0])
"""Frequency at which coils count as in or out of phase: below every resonance."""
HUMS_MOSTLY_DB = -40.0
"""Below this residual no hum is audible. From here to `CANCELLING_DB`, most of it cancels."""
LOW, MIDDLE = 2.0, (5.0, 14.0)
"""Bands of the shares that select the words, in mean pitches of the open strings."""


@dataclass(frozen=True)
class PositionFacts:
    """All facts of one setting.

    Attributes
    ----------
    coils : tuple of str
        Coils wired to the output.
    against : tuple of str
        The coils of these that are out of phase with the stronger side for the string.
    groups : tuple of Tree
        How the coils are connected.
    joined : str
        The same in one line of text.
    hum_residual_db : float
        Hum at the loaded output, relative to the same coils adding up.
    hum : str
        ``none``, ``little``, ``hums`` or ``silent``.
    level_db : float
        Energy of an open chord at the output, dB re 1 V² s. Minus infinity for silence.
    clean_level_db : float
        The same as heard through clean, K-weighted: LU up to a constant.
    brightness_hz : float
        Centroid of that chord's amplitude spectrum, or 0 for silence. It correlates with how
        bright a sound is called (E. Schubert, J. Wolfe, 2006, from memory).
    brightness : float
        The same, divided by the mean pitch of the open strings.
    low_share, middle_share : float
        Share of the chord's power below twice that mean pitch, and from 5 to 14 times it.
    resonance : Resonance or None
        Resonance of the loudest coil.
    reading_ohm : float
        Measured at the jack with the cable unplugged. Infinite for an open circuit.
    noise_volt : float
        Thermal noise, A-weighted.
    """

    setting: Setting
    label: str
    coils: tuple[str, ...]
    against: tuple[str, ...]
    groups: tuple[Tree, ...]
    joined: str
    hum_residual_db: float
    hum: str
    level_db: float
    clean_level_db: float
    brightness_hz: float
    brightness: float
    low_share: float
    middle_share: float
    resonance: Resonance | None
    reading_ohm: float
    noise_volt: float


def position_facts(wiring: Wiring, settings: Sequence[Setting]) -> tuple[PositionFacts, ...]:
    """Return the facts of each setting of one wiring, in order.

    Examples
    --------
    >>> from dsp.parts.kinds import new_part
    >>> from dsp.wiring.model import Joint
    >>> coil = new_part("coil", resistance=6e3, inductance=2.4, capacitance=110e-12)
    >>> ends = [(("neck", "start"), ("output", "tip")), (("neck", "finish"), ("output", "sleeve"))]
    >>> parts = {"neck": coil, "output": new_part("jack")}
    >>> wiring = Wiring("one coil", "", parts, tuple(map(Joint, ends)))
    >>> (facts,) = position_facts(wiring, [wiring.setting("1")])
    >>> facts.joined, facts.hum, round(facts.reading_ohm), facts.coils
    ('neck', 'hums', 6000, ('neck',))
    """
    chord = open_chord(wiring)
    grid_hz, back = np.unique(np.round(chord.hz, 1), return_inverse=True)
    at_partials = respond(wiring, settings, grid_hz).coil[:, :, back]
    heard = clean_weights(grid_hz)[back]
    return tuple(
        _facts(wiring, setting, chord, response, heard)
        for setting, response in zip(settings, at_partials, strict=True)
    )


def _facts(
    wiring: Wiring, setting: Setting, chord: Chord, response: Complex, weights: Floats
) -> PositionFacts:
    hum_responses = respond(wiring, [setting], HUM_HZ).coil[0]
    heard, against = _heard(wiring, setting)
    groups = coil_connections(build_network(wiring, setting), heard)
    residual_db = hum_residual_db(hum_responses, hum_weights(wiring))
    energy = chord.energy(response)
    total, pitches = float(energy.sum()), chord.hz / chord.mean_hz
    loudest = max(heard, key=lambda name: _strength(wiring, chord, response, name), default=None)
    peaks = () if loudest is None else resonances(wiring, setting, coils=(loudest,))
    return PositionFacts(
        setting=setting,
        label=wiring.labels.get(setting.position, ""),
        coils=heard,
        against=against,
        groups=groups,
        joined=connection_text(groups, against),
        hum_residual_db=residual_db,
        hum=_verdict(residual_db) if heard else "silent",
        level_db=_db(total),
        clean_level_db=_db(float(energy @ weights)),
        brightness_hz=_centroid_hz(np.sqrt(energy), chord.hz),
        brightness=_centroid_hz(np.sqrt(energy), chord.hz) / chord.mean_hz,
        low_share=_share(energy, pitches < LOW),
        middle_share=_share(energy, (pitches >= MIDDLE[0]) & (pitches <= MIDDLE[1])),
        resonance=peaks[0] if peaks else None,
        reading_ohm=jack_reading_ohm(wiring, setting),
        noise_volt=weighted_noise_volt(wiring, setting),
    )


def _heard(wiring: Wiring, setting: Setting) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return the coils wired to the output, and those out of phase.

    Those out of phase work against the stronger side for the string.
    A coil heard only through magnetic coupling is left out: no joint connects it.
    """
    network = set_pots(replace(build_network(wiring, setting), couplings=()), setting)
    found, _ = respond_network(network, SIGN_HZ)
    coils = wiring.coils
    signed = {
        name: float(response.real * coil.string_sign * coil.sensitivity)
        for (name, coil), response in zip(coils.items(), found[:, 0], strict=True)
        if response != 0.0
    }
    side = math.copysign(1.0, sum(signed.values()))
    if math.isclose(sum(signed.values()), 0.0, abs_tol=1e-12) and signed:
        side = math.copysign(1.0, next(iter(signed.values())))
    return tuple(signed), tuple(name for name, value in signed.items() if value * side < 0.0)


def _verdict(residual_db: float) -> str:
    if residual_db <= HUMS_MOSTLY_DB:
        return "none"
    return "little" if residual_db <= CANCELLING_DB else "hums"


def _strength(wiring: Wiring, chord: Chord, response: Complex, name: str) -> float:
    k = list(wiring.coils).index(name)
    return float((np.abs(response[k] * chord.volt[k]) ** 2 * chord.seconds).sum())


def _db(energy: float) -> float:
    return 10.0 * math.log10(energy) if energy > 0.0 else -math.inf


def _centroid_hz(amplitudes: Floats, hz: Floats) -> float:
    total = float(amplitudes.sum())
    return float((amplitudes * hz).sum() / total) if total > 0.0 else 0.0


def _share(energy: Floats, within: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> float:
    total = float(energy.sum())
    return float(energy[within].sum()) / total if total > 0.0 else 0.0
