"""Load takes from disk, ready to be heard."""

from __future__ import annotations

import functools
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from dsp.errors import InputError
from dsp.sound.spectra import stem_spectra
from dsp.sound.timbre import ear_bands
from dsp.takes.midi.arrange import Midi
from dsp.takes.model import Take
from dsp.takes.performance import Performance
from dsp.takes.played import PlayedScore
from dsp.takes.reading.take import read_take
from dsp.wiring.model import Setting, Wiring
from server.files.cache import Cache
from server.files.existing import system_errors_of
from server.files.midi import MIDI_FILES
from server.files.yaml_text import TAKE_FILES, load_tree
from server.paths import demo_folder
from server.processes.threads import use_one_thread
from server.takes.midi import load_midi
from server.takes.recordings import load_coils, load_mono, load_strings, name_of
from server.wirings.text import load_wiring

SPECTRA_HZ = 48_000
"""Rate of the stems whose spectra are taken."""


def load_score(take: Take, folder: Path) -> Performance:
    """Load a score; it needs no other file."""
    return PlayedScore(take, Cache(), name=name_of(take))


LOADERS: dict[str, Callable[[Take, Path], Performance]] = {
    "score": load_score,
    "midi": load_midi,
    "coils": load_coils,
    "strings": load_strings,
    "mono": load_mono,
}
"""The loader of each kind of take; called with the take and its folder."""


def load_take(path: Path) -> Performance:
    """Load a take with everything it needs.

    Parameters
    ----------
    path : Path
        A take file; or a sound file, which is taken as one recording of a flat sensor; or a MIDI file,
        whose strings a hand chooses.

    Raises
    ------
    InputError
        With every problem of the take file, or the one that keeps its recording from use.
    """
    use_one_thread()
    with system_errors_of(path):
        if path.suffix.lower() in TAKE_FILES:
            take = read_take(load_tree(path), str(path))
        elif path.suffix.lower() in MIDI_FILES:
            take = Take(path.stem, str(path), "midi", path.name, midi=Midi())
        else:
            take = Take(path.stem, str(path), "mono", path.name)  # every clip's label states it
        return LOADERS[take.kind](take, path.parent)


def require_readable_name(path: Path) -> None:
    """Refuse a name that is not text: answers to the page hold it.

    Raises
    ------
    InputError
    """
    shown = str(path).encode("utf-8", "backslashreplace").decode()
    if shown != str(path):
        raise InputError(shown, "a name with bytes that are not UTF-8", "a readable name in UTF-8")


@functools.cache
def demo_listener() -> Wiring:
    """Return the wiring on which the list describes coil places."""
    return load_wiring(demo_folder() / "baritone.yaml")


def spectra_of(take: Path, wiring: Wiring) -> NDArray[np.complex128]:
    """Compute the cross-spectra of a take's stems.

    Returns
    -------
    ndarray, shape (n_sub_bands, n_coils, n_coils)

    Raises
    ------
    InputError
        If the take cannot be used, or does not fit the wiring.
    """
    return stem_spectra(load_take(take).stems(wiring, SPECTRA_HZ), float(SPECTRA_HZ), ear_bands())


def take_loudness(take: Path, wiring: Wiring, settings: Sequence[Setting]) -> list[dict[str, float]]:
    """Return how loud a take is at each setting, as wired and through clean.

    From the take's spectra: nothing is rendered.

    Returns
    -------
    list of dict
        ``loudness_lufs`` of the volts at the amplifier's input, 1 V as full scale, and
        ``clean_loudness_lufs`` up to a constant; minus infinity for silence.

    Raises
    ------
    InputError
        If the take cannot be used, or does not fit the wiring.
    """
    from dsp.filters.design import design_bank
    from dsp.sound.clean_level import clean_power
    from dsp.sound.live_level import take_spectra

    stems = np.concatenate(list(load_take(take).stems(wiring, SPECTRA_HZ)), axis=1)
    wired = take_spectra(stems, float(SPECTRA_HZ))
    clean = wired.heard(clean_power(wired.centres_hz))
    banks = [design_bank(wiring, setting, float(SPECTRA_HZ)) for setting in settings]
    return [
        {"loudness_lufs": wired.loudness_lufs(bank), "clean_loudness_lufs": clean.loudness_lufs(bank)}
        for bank in banks
    ]
