"""What is wrong by ear, as readings: words, and what each says of a fault."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from dsp.circuit.copies import Copies, respond_copies
from dsp.circuit.response import hum_weights
from dsp.parts.pot import KNOB_TOP
from dsp.sheet.readings import settings_of
from dsp.wiring.model import Setting, Wiring

Floats = NDArray[np.float64]

EAR_HZ = np.array([150.0, 800.0, 3500.0])
"""Bass, middle and treble of a string, shape (3,)."""
BASS, MIDDLE, TREBLE, HUM = range(4)
FLOOR_DB = -100.0
HEARD, NOT_HEARD = 0.85, 0.05
"""How often somebody says a word where the computation agrees, and where it does not: our own choice."""

Judge = Callable[[Floats, Floats, Floats, Floats], NDArray[np.bool_]]
"""Levels with the fault and of a sound guitar, here and with the knobs at 10; levels in the last axis."""


@dataclass(frozen=True)
class Symptom:
    """A word and when it is true.

    Attributes
    ----------
    about : str
        For help.
    knob : bool
        Whether it is said of a knob, at a setting with that knob turned down.
    """

    about: str
    judge: Judge
    knob: bool = False


def _moved(levels: Floats, at_ten: Floats) -> Floats:
    return np.asarray(np.abs(levels - at_ten)[..., BASS:HUM].max(axis=-1))


WORDS: Mapping[str, Symptom] = {
    "silent": Symptom("nothing is heard", lambda x, x0, y, y0: x[..., MIDDLE] < y[..., MIDDLE] - 25),
    "weak": Symptom(
        "quieter than it should be",
        lambda x, x0, y, y0: (x[..., MIDDLE] < y[..., MIDDLE] - 3) & (x[..., MIDDLE] >= y[..., MIDDLE] - 30),
    ),
    "thin": Symptom(
        "the bass is gone",
        lambda x, x0, y, y0: x[..., BASS] - x[..., TREBLE] < y[..., BASS] - y[..., TREBLE] - 4,
    ),
    "dull": Symptom(
        "the treble is gone",
        lambda x, x0, y, y0: x[..., TREBLE] - x[..., MIDDLE] < y[..., TREBLE] - y[..., MIDDLE] - 3,
    ),
    "hums": Symptom(
        "more hum than it should have",
        lambda x, x0, y, y0: x[..., HUM] - x[..., MIDDLE] > y[..., HUM] - y[..., MIDDLE] + 5,
    ),
    "fine": Symptom("as it should be", lambda x, x0, y, y0: np.abs(x - y)[..., BASS:HUM].max(axis=-1) < 3),
    "does nothing": Symptom(
        "a knob changes nothing", lambda x, x0, y, y0: (_moved(x, x0) < 1) & (_moved(y, y0) > 2), knob=True
    ),
    "works reversed": Symptom(
        "a knob turns the wrong way",
        lambda x, x0, y, y0: (x - x0)[..., BASS:HUM].max(axis=-1) > 2,
        knob=True,
    ),
}
"""Every word that may be heard."""


def ear_settings(wiring: Wiring, heard: Sequence[Setting] = ()) -> tuple[Setting, ...]:
    """Return every position, then each knob down in each.

    Then come those of ``heard`` that are not among them, and the same with the knobs at 10.
    """
    plain = tuple(settings_of(wiring))
    down = (replace(one, knobs={**one.knobs, knob: 0.0}) for knob in wiring.knobs for one in plain)
    found = [*plain, *down]
    for one in (end for setting in heard for end in _ends(setting)):
        if one not in found:  # a setting holds maps: it has no hash
            found.append(one)
    return tuple(found)


def _ends(setting: Setting) -> tuple[Setting, Setting]:
    """The setting with its knobs at 10, and with those that are not at 10 turned down."""
    full = dict.fromkeys(setting.knobs, KNOB_TOP)
    down = {name: 0.0 if value < KNOB_TOP else KNOB_TOP for name, value in setting.knobs.items()}
    return replace(setting, knobs=full), replace(setting, knobs=down)


def ear_levels(wiring: Wiring, settings: Sequence[Setting]) -> Floats:
    """Compute bass, middle, treble and hum, dB, shape (n_settings, 4)."""
    response, _ = respond_copies(wiring, settings, EAR_HZ, Copies(1))
    coils = wiring.coils.values()
    strings = np.array([coil.sensitivity * coil.string_sign for coil in coils])
    hum = hum_weights(wiring)
    heard = np.abs(np.einsum("k,skf->sf", strings, response[:, 0]))
    # Above the bass a coil's place turns phases: coils add by power there.
    power = np.sqrt(np.einsum("k,skf->sf", strings**2, np.abs(response[:, 0]) ** 2))
    left = np.abs(np.einsum("k,sk->s", hum, response[:, 0, :, 0]))
    whole = np.stack([heard[:, 0], power[:, 1], power[:, 2], 0.05 * left], axis=1)
    top = np.sqrt(np.sum(strings**2)) or 1.0
    return np.asarray(np.maximum(20 * np.log10(whole / top + 1e-12), FLOOR_DB))


def weigh_heard(word: str, setting: Setting, settings: Sequence[Setting], levels: Floats) -> Floats:
    """Return how likely a word is under each fault, shape (n_faults,).

    In logarithms.

    Parameters
    ----------
    word : str
        Of `WORDS`.
    setting : Setting
        Where it was heard; a knob that is not at 10 counts as turned down.
    settings : sequence of Setting
        From `ear_settings`, this one among those heard.
    levels : ndarray, shape (n_faults, n_settings, 4)
        The first fault is none.
    """
    ten, at = (settings.index(one) for one in _ends(setting))
    true = WORDS[word].judge(levels[:, at], levels[:, ten], levels[:1, at], levels[:1, ten])
    return np.log(np.where(true, HEARD, NOT_HEARD))
