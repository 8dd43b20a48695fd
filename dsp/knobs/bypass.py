"""How much treble a volume knob loses when turned down, and parts that restore it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from dsp.circuit.response import respond
from dsp.knobs.place import is_divider, parts_across
from dsp.parts.kind import Part, Terminal
from dsp.parts.kinds import kind_of, new_part
from dsp.sound.spectra import energy_of, standard_notes
from dsp.sound.timbre import Bands, ear_bands, timbre
from dsp.wiring.change import Change, free_name, join_changes
from dsp.wiring.model import Setting, Wiring

Floats = NDArray[np.float64]
Complex = NDArray[np.complex128]
LOW_KNOB = 2.0
"""Below this a volume is close to silence and its tone does not count."""
POINTS = 9
BYPASS_F = (120e-12, 180e-12, 270e-12, 390e-12, 560e-12, 820e-12, 1.2e-9)
"""Every second E12 value in the range used (common practice)."""
RESISTORS_OHM = (None, 100e3, 150e3, 220e3)
"""In series with the capacitor or in parallel with it. None for a capacitor alone."""


@dataclass(frozen=True)
class Bypass:
    """Parts from lug 3 to the wiper, and how far the timbre drifts with them.

    Attributes
    ----------
    capacitance_f, resistance_ohm : float or None
        None for no capacitor, or no resistor.
    wander_db : float
        Largest timbre distance from the knob at 10, over values from 2 up.
    treble_db : ndarray, shape (n,)
        Level from 2 to 8 kHz relative to the total, re that at 10, at ``values``.
    values : ndarray, shape (n,)
    parallel : bool
        Whether the resistor is in parallel with the capacitor instead of in series.
    change : Change
        The change that adds the bypass. Empty for the present wiring.
    """

    capacitance_f: float | None
    resistance_ohm: float | None
    wander_db: float
    treble_db: Floats
    values: Floats
    parallel: bool = False
    change: Change = field(default_factory=Change)


def try_bypasses(wiring: Wiring, setting: Setting, knob: str) -> Iterator[Bypass]:
    """Yield a volume as it is, without bypass, then with each bypass.

    Parameters
    ----------
    setting : Setting
        Position of the selector, switches and other knobs.

    Yields
    ------
    Bypass
        The present wiring first, with any bypass it has. The others replace that bypass.
    """
    bands = ear_bands()
    notes = standard_notes(wiring, bands)

    def tried(
        capacitance_f: float | None, resistance_ohm: float | None, change: Change, *, parallel: bool = False
    ) -> Bypass:
        values = np.linspace(LOW_KNOB, 10.0, POINTS)
        energy = _energy(change.apply(wiring), setting, knob, values, notes, bands)
        wander_db, treble_db = _lost(energy, bands)
        return Bypass(capacitance_f, resistance_ohm, wander_db, treble_db, values, parallel, change)

    yield tried(None, None, Change())
    tracks = [track for track in wiring.knobs[knob] if is_divider(wiring, track)]
    if not tracks:
        return
    present = {track: parts_across(wiring, (track, "3"), (track, "2")) for track in tracks}
    if any(present.values()):
        yield tried(None, None, Change(removed=tuple(name for names in present.values() for name in names)))
    for capacitance_f in BYPASS_F:
        for resistance_ohm in RESISTORS_OHM:
            yield tried(
                capacitance_f, resistance_ohm, _fitted(wiring, present, capacitance_f, resistance_ohm)
            )
            if resistance_ohm is not None:
                beside = _fitted(wiring, present, capacitance_f, resistance_ohm, parallel=True)
                yield tried(capacitance_f, resistance_ohm, beside, parallel=True)


def _energy(
    wiring: Wiring, setting: Setting, knob: str, values: Floats, notes: Complex, bands: Bands
) -> Floats:
    settings = [
        wiring.setting(setting.position, {**setting.knobs, knob: float(value)}, setting.switches)
        for value in values
    ]
    return energy_of(respond(wiring, settings, bands.centres_hz).coil, notes, bands)


def _lost(energy: Floats, bands: Bands) -> tuple[float, Floats]:
    """Return how far the timbre drifts, dB, and the treble re that at 10, dB."""
    points = timbre(energy)
    wander_db = float(np.sqrt(np.mean((points - points[-1]) ** 2, axis=1)).max())
    middles = np.sqrt(bands.edges_hz[1:] * bands.edges_hz[:-1])
    treble = energy[:, (middles > 2e3) & (middles < 8e3)].sum(axis=1) / np.maximum(energy.sum(axis=1), 1e-300)
    treble_db = 10.0 * np.log10(np.maximum(treble, 1e-12))
    return wander_db, treble_db - treble_db[-1]


def _fitted(
    wiring: Wiring,
    present: Mapping[str, tuple[str, ...]],
    capacitance_f: float,
    resistance_ohm: float | None,
    *,
    parallel: bool = False,
) -> Change:
    """Return the change that replaces the parts from lug 3 to the wiper of each track."""
    alone = len(present) == 1
    return join_changes([
        _fitted_track(
            wiring, track, names, capacitance_f, resistance_ohm,
            prefix="" if alone else f"{track}_", parallel=parallel,
        )
        for track, names in present.items()
    ])  # fmt: skip


def _fitted_track(
    wiring: Wiring,
    knob: str,
    present: tuple[str, ...],
    capacitance_f: float,
    resistance_ohm: float | None,
    *,
    prefix: str,
    parallel: bool,
) -> Change:
    capacitor = _named(wiring, present, "capacitor", f"{prefix}bypass_cap")
    parts: dict[str, Part] = {capacitor: new_part("capacitor", capacitance=capacitance_f)}
    solder = [((capacitor, "a"), (knob, "3"))]
    joints: tuple[tuple[Terminal, ...], ...] = ()
    last = capacitor
    if resistance_ohm is not None:
        resistor = _named(wiring, present, "resistor", f"{prefix}bypass_resistor")
        parts[resistor] = new_part("resistor", resistance=resistance_ohm)
        if parallel:
            solder += [((resistor, "a"), (knob, "3")), ((resistor, "b"), (knob, "2"))]
        else:
            joints, last = (((capacitor, "b"), (resistor, "a")),), resistor
    solder.append(((last, "b"), (knob, "2")))
    stays = [name for name in present if name in parts]
    unsolder = tuple((name, lead) for name in stays for lead in ("a", "b"))
    removed = tuple(name for name in present if name not in parts)
    return Change(removed, parts, unsolder, tuple(solder), joints)


def _named(wiring: Wiring, present: tuple[str, ...], kind: str, name: str) -> str:
    same = next((one for one in present if kind_of(wiring.parts[one]).name == kind), None)
    return same or free_name(wiring, name)
