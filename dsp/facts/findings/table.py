"""All findings, with their severity and text."""

from __future__ import annotations

from dataclasses import dataclass

from dsp.circuit.hum_limits import CANCELLING_DB, FULLY_DB
from dsp.parts.coil import SENSITIVITY_V_S_M
from dsp.parts.load import Load
from dsp.units import show

JUMP_DB = 6.0
"""`check` reports neighbouring positions that differ by more: half or twice the voltage. Our own line."""
ALONE_DB = 1.0
"""A volume that makes the other coils softer by less leaves them alone. Our own line."""
SEVERITIES = ("error", "warning", "note", "reminder")


def _usual_load() -> str:
    usual = Load()
    cable = f"{show(usual.cable_length_m, 'length')} of {show(usual.cable_f_per_m, 'capacitance per length')}"
    return (
        f"{cable} into {show(usual.amplifier_ohm, 'resistance')} and {show(usual.amplifier_f, 'capacitance')}"
    )


RULES: dict[str, tuple[str, str]] = {
    "jack shorted": ("error", "tip and sleeve are joined: no sound"),
    "no coil reaches the jack": ("error", "no coil is heard: silence"),
    "silent at 10": (
        "error",
        "silent with every knob at 10, heard at 5: are lugs 1 and 3 the wrong way round?",
    ),
    "silent with a switch": ("warning", "silent in some switch positions; meant as a kill switch?"),
    "coil lead hanging": ("note", "the lead is joined to nothing"),
    "coil lead never joined": ("warning", "the lead is joined to nothing in any position"),
    "part lead never joined": ("warning", "the lead is joined to nothing in any position"),
    "coil shorted": ("note", "start and finish are joined"),
    "section of a coil shorted": ("warning", "a shorted part of a winding damps the rest of it heavily"),
    "hot end left as aerial": ("warning", "the coil hangs from a live lug by one lead and picks up buzz"),
    "knob without effect": ("warning", "turning it changes nothing"),
    "knob of other coils": ("note", "turning it changes nothing; its coils are not heard there"),
    "both ends of a knob alike": (
        "warning",
        "the whole way changes nothing: do lugs 1 and 3 lead to the same place?",
    ),
    "other coils silenced": (
        "warning",
        "turned down it shorts the signal for them too; a volume leaves the others alone with its coil on "
        "lug 2 and lug 3 onward",
    ),
    "position silenced by a knob": (
        "warning",
        "it shorts the signal, and it is not the volume: is its capacitor missing or bridged?",
    ),
    "knob the wrong way round": (
        "warning",
        "it takes more away at 10 than at 0: are lugs 1 and 3 exchanged?",
    ),
    "volume independent": (
        "note",
        f"turned down it makes no other coil softer by more than {ALONE_DB:g} dB",
    ),
    "volume not independent": ("note", "turned down it makes other coils softer too"),
    "positions identical": ("warning", "they sound the same"),
    "positions differ by polarity": (
        "warning",
        "only the polarity of the whole differs, which alone is not heard",
    ),
    "loudness jump": (
        "note",
        f"neighbours differ by more than {JUMP_DB:g} dB in the level of an open chord, every knob at 10,"
        " as wired or through clean",
    ),
    "silent with another plug": ("note", "a plug in that jack silences the output"),
    "ring lost with a mono plug": (
        "note",
        "a mono plug joins ring and sleeve: what the ring carries needs a stereo plug",
    ),
    "shorted between positions": (
        "note",
        "the switch joins tip and sleeve on its way: a moment of silence, perhaps a click",
    ),
    "silent between positions": (
        "note",
        "no coil is heard while the switch moves: a click, or a pop if no pot holds the output to ground",
    ),
    "place of no part": ("note", "the drawing ignores it"),
    "wire of no joint": ("note", "the drawing wishes for a wire between lugs that no joint holds: ignored"),
    "no load given": (
        "note",
        f"{_usual_load()} are taken; into a valve input of 150 pF resonances lie 8 to 10 % lower",
    ),
    "input removes the resonance": (
        "warning",
        "it loads the coils so heavily that no peak is left: is it a line input? Take an instrument input, "
        "or put a buffer before it",
    ),
    "sensitivity assumed": ("note", f"the file writes none: {SENSITIVITY_V_S_M:g} V per m/s are taken"),
    "coupling opposes": (
        "warning",
        "coils side by side that cancel hum but oppose in inductance: measured pickups aid, k about +0.16; "
        "is the sign right?",
    ),
    "jack lug never joined": ("error", "no joint leads from it to a part: no sound"),
    "pot lug never joined": ("warning", "no joint leads from it to another part"),
    "open track not used": ("warning", "at 10 the track opens towards lug 1, which is joined to nothing"),
    "out of phase": ("note", "they work against one another for the string: thin and quieter"),
    "hum-cancelling": ("note", f"hum of the coils cancels at the loaded output ({FULLY_DB:g} dB or less)"),
    "mostly hum-cancelling": (
        "note",
        f"hum of the coils mostly cancels at the loaded output ({CANCELLING_DB:g} dB or less)",
    ),
    "not hum-cancelling": ("note", f"hum of the coils is heard (above {CANCELLING_DB:g} dB)"),
    "string tension": ("warning", "not a usual tension: check note, gauge and scale"),
    "metal live": (
        "warning",
        "it carries signal, so touching it hums or clicks: ground it by itself, apart from the coil's leads",
    ),
    "metal floating": ("warning", "nothing grounds it: it picks up hum and passes it on"),
    "ground made twice": (
        "note",
        "two ways to ground close a loop that can pick up hum; one of them will do",
    ),
    "strings grounded": (
        "note",
        "they carry any mains fault of the amplifier to the player: use sound mains gear and a "
        "residual-current device, follow local codes, and leave amplifiers to a licensed technician",
    ),
    "strings not grounded": (
        "reminder",
        "ground the strings and bridge to the sleeve yourself: the file does not show it. They then carry "
        "any mains fault of the amplifier to the player: use sound mains gear and a residual-current device, "
        "follow local codes, and leave amplifiers to a licensed technician",
    ),
}
"""Each finding's severity and text."""


@dataclass(frozen=True)
class Finding:
    """One finding.

    Attributes
    ----------
    finding : str
        Key of `RULES`.
    lugs : tuple of str
        Terminals or parts concerned, as the file writes them.
    positions : tuple of str
        Selector positions in which it holds. Empty for the whole wiring.
    line : int
        Line of the file, or 0 if there is none.
    detail : str
        Numbers or a condition. May be empty.
    """

    finding: str
    lugs: tuple[str, ...] = ()
    positions: tuple[str, ...] = ()
    line: int = 0
    detail: str = ""

    @property
    def severity(self) -> str:
        """Severity: error, warning, note or reminder."""
        return RULES[self.finding][0]

    def text(self) -> str:
        """Return the finding as a sentence."""
        where = f" in position{'s' if len(self.positions) > 1 else ''} {', '.join(self.positions)}"
        lugs = f": {', '.join(self.lugs)}" if self.lugs else ""
        detail = f" ({self.detail})" if self.detail else ""
        return f"{self.finding}{where if self.positions else ''}{lugs}{detail}: {RULES[self.finding][1]}"
