"""The rig that a coil is read with: its words, its cautions, its tone as a file."""

from __future__ import annotations

import textwrap
from pathlib import Path

import numpy as np

from dsp.measuring.tone import make_tone
from server.files.audio_out import wav_bytes
from server.files.whole import make_folder, write_bytes, write_text

CAUTIONS = (
    "Unplug the guitar from amplifier, pedals and charger. Take the battery out of active electronics.",
    "Play from a headphone output only, never from a power amplifier or a loudspeaker's: it burns fine wire.",
    "Start at the lowest level, with headphones off your ears and loudspeakers down: the tone is loud.",
    "Switch phantom power off.",
    "Measure ohms on a dead circuit alone: nothing plugged in but the meter, no battery in it.",
    "Join all sleeves. Put no mains-earthed oscilloscope or bench meter on the tip.",
    "Keep magnets and the exciter away from the ear, pacemakers and cards.",
    "The coil's rig keeps currents below 0.1 mA. Do not raise them against hum: put the coil in a tin.",
)
"""What to heed before the tone plays (common practice)."""

PARTS = (
    "An audio interface with two instrument inputs of 1 MΩ, their gains equal and left alone.",
    "A series resistor of 100 kΩ; its value need not be known.",
    "A known resistor of 100 kΩ, of 0.1 % or read on a good meter. The values are as true as it is.",
    "A meter that reads the coil's resistance, and a thermometer.",
    "Screened leads, and a tin that holds the coil.",
)
STEPS = (
    "Headphones: lead the tip through the series resistor to the coil's start, the sleeve to the finish.",
    "Join input 1 to the output's side of the resistor, input 2 to the coil's side; all sleeves together.",
    "Turn monitoring, effects and phantom power off. Play the tone, and set the level to -12 dB at input 1.",
    "Record both inputs as one file of two channels, 4 s of tone or more, four times at the same rig:",
    "  1. open: nothing where the coil goes;",
    "  2. short: start and finish joined there;",
    "  3. known: the known resistor there;",
    "  4. the coil.",
    "Read the coil's resistance on the meter, and the room's temperature.",
)


EXCITER_CAUTIONS = (
    *CAUTIONS[:4],
    CAUTIONS[5],
    CAUTIONS[6],
    "Keep the 100 Ω in the exciter's lead: without it the output drives a short circuit.",
)
EXCITER_ALONE = tuple(text for text in EXCITER_CAUTIONS if text not in CAUTIONS)
"""What an exciter asks for beside the rig's own."""
EXCITER_PARTS = (
    "An exciter: 50 to 100 turns of thin wire on a drinking straw, or a small choke.",
    "A resistor of 100 Ω; its value need not be known.",
    "An audio interface with two instrument inputs of 1 MΩ, their gains left alone.",
    "The guitar's own cable. A steel blade, such as a thin screwdriver, for the magnets.",
)
EXCITER_STEPS = (
    "Headphones: lead the tip through the exciter to the 100 Ω, and the other end of that to the sleeve.",
    "Join input 1 across the 100 Ω, input 2 to the guitar's cable; all sleeves together. Knobs at 10.",
    "Lay the exciter over one coil, and fix it there. Mark the side that faces the coil.",
    "Play the rig's tone. Record both inputs, 4 s or more, at each setting.",
    "Leave the level and both gains alone. Go on to the next coil, with the same side down.",
    "Signs and the ratio between settings are sure. The levels of two coils hold to some 4 dB where the "
    "exciter keeps its height.",
    "By hand: a tone of 900 Hz. Note the level of input 2 less that of input 1, and a sign before it: "
    "+ where input 2 leads, - where it lags, for all coils alike. So + -40 dB has two signs.",
    "The exciter tells how a coil is wound and joined. A string hears the magnet too: lay a steel blade on a "
    "coil's pole, pull it away, and note whether the first swing at the jack goes up (+) or down (-).",
)
"""Across the resistor lies the current through the exciter, whatever its inductance."""


COMMANDS = (
    "`presolder rig --tone DIR` writes the tone.",
    "`presolder jack` judges settings and signs. `presolder sensitivity --exciter` reads coils' levels.",
)
WIDTH = 110
"""Characters of a line in words."""


def exciter_words() -> list[str]:
    """The exciter in words, cautions first."""
    steps = (*EXCITER_STEPS, *COMMANDS)
    return _under(("Heed", EXCITER_CAUTIONS), ("What you need", EXCITER_PARTS), ("What to do", steps))


def words() -> list[str]:
    """The rig in words, cautions first."""
    return _under(("Heed", CAUTIONS), ("What you need", PARTS), ("What to do", STEPS))


def _under(*heads: tuple[str, tuple[str, ...]]) -> list[str]:
    found = []
    for head, texts in heads:
        found.append(f"{head}:")
        for text in texts:
            within = len(text) - len(text.lstrip())
            indent = " " * (within + 2)
            lines = textwrap.wrap(text.strip(), WIDTH, initial_indent=indent, subsequent_indent=f"{indent}  ")
            found += lines
        found.append("")
    return found[:-1]


def tone_bytes(rate_hz: int, seconds: int) -> bytes:
    """Return the tone as a sound file."""
    samples = np.round(make_tone(rate_hz, seconds) * 32767).astype(np.int16)
    return wav_bytes(samples, rate_hz)


def write_rig(folder: Path, rate_hz: int, seconds: int, *, exciter: bool = False) -> list[Path]:
    """Write the tone and the words into a folder; return the files.

    Parameters
    ----------
    exciter : bool
        Whether the words are those of the exciter.

    Raises
    ------
    InputError
        If the folder cannot be written.
    """
    make_folder(folder)
    tone, told = folder / f"tone-{rate_hz}.wav", folder / ("exciter.txt" if exciter else "rig.txt")
    write_bytes(tone, tone_bytes(rate_hz, seconds))
    write_text(told, "\n".join(exciter_words() if exciter else words()) + "\n")
    return [tone, told]
