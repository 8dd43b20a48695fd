"""The verdict on kept recordings, in a helper process: seconds of computation."""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from dsp.checking.readings_text import read_setting
from dsp.units import parse
from dsp.verifying.expected import at_input, read_frets
from dsp.verifying.strums import find_starts
from dsp.wiring.model import Wiring
from dsp.wiring.reading.wiring import read_wiring
from server.files.audio_in import decode_flac
from server.files.yaml_text import parse_tree
from server.processes.helper import Helper
from server.verifying.intake import KEPT_PEAK
from server.verifying.recordings import Heard
from server.verifying.verdict import check_settings, verdict_record, verify_recordings

LONGEST_S = 120.0
FILE = "wiring"
"""What problems of a version call the file."""


@dataclass(frozen=True)
class Sound:
    """One kept recording.

    Attributes
    ----------
    peak : float
        Of the file that was brought, full scale 1.
    flac : bytes
        The sound, brought to `KEPT_PEAK`.
    """

    name: str
    setting: str
    peak: float
    flac: bytes


class Verdicts:
    """Judges guitars, one after another."""

    def __init__(self) -> None:
        self._helper = Helper("the verdict", niceness=0)

    def judge(self, text: str, sounds: Sequence[Sound], fields: Mapping[str, str]) -> dict[str, Any]:
        """Return the verdict on recordings of a wiring's text.

        Raises
        ------
        InputError
            As `judge_sounds`.
        TooSlow, Unavailable
            As `Helper.call`.
        """
        found: dict[str, Any] = self._helper.call(judge_sounds, text, sounds, fields, longest_s=LONGEST_S)
        return found

    def close(self) -> None:
        """End the process."""
        self._helper.close()


def wiring_at_input(wiring: Wiring, fields: Mapping[str, str]) -> Wiring:
    """Return a wiring with the load that was typed.

    An empty field keeps its own.

    Raises
    ------
    InputError
        For a value that cannot be read.
    """
    load = wiring.load
    cable, ohm = fields.get("cable", ""), fields.get("input", "")
    return at_input(
        wiring,
        cable_m=parse(cable, "length", "the cable") if cable else load.cable_length_m,
        input_ohm=parse(ohm, "resistance", "the input") if ohm else load.amplifier_ohm,
        input_f=load.amplifier_f,
    )


def judge_sounds(text: str, sounds: Sequence[Sound], fields: Mapping[str, str]) -> dict[str, Any]:
    """Judge recordings.

    Raises
    ------
    InputError
        If the text is no wiring, a field cannot be read, or the recordings cannot be compared.
    """
    wiring = wiring_at_input(read_wiring(parse_tree(text, FILE), FILE), fields)
    frets = read_frets(wiring, fields["frets"], "the chord") if fields.get("frets") else None
    settings = [read_setting(wiring, one.setting, one.name) for one in sounds]
    check_settings(wiring, settings, [one.name for one in sounds], some=True)
    heard = [restore_sound(one) for one in sounds]
    prediction, strums, verdict = verify_recordings(wiring, heard, settings, frets)
    return verdict_record(wiring, heard, strums, prediction, verdict)


def restore_sound(sound: Sound) -> Heard:
    """Read a kept recording at the level that it came with."""
    samples = decode_flac(io.BytesIO(sound.flac)) * (sound.peak / KEPT_PEAK)
    return Heard(sound.name, samples, find_starts(samples, sound.name))
