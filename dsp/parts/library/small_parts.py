"""Generic pots, capacitors, resistors, chokes and loads.

Values are common practice. Capacitors and resistors have preferred values of IEC 60063.
"""

from __future__ import annotations

from dsp.parts.library.entry import Entry


def _pot(name: str, resistance: str, taper: str, about: str) -> Entry:
    return Entry(name, "pot", about, {"resistance": resistance, "taper": taper})


_MEASURED = "with the mean curve of three measured audio pots (DAFx-19) instead of two straight lines"

_POTS = (
    _pot("pot_25k_audio", "25 kΩ", "audio", "Volume or tone pot for low-impedance coils"),
    _pot(
        "pot_250k_audio", "250 kΩ", "audio", "Volume or tone pot, usual with single coils (common practice)"
    ),
    _pot("pot_250k_linear", "250 kΩ", "linear", "Tone, blend or volume pot, even by resistance"),
    _pot("pot_250k_measured", "250 kΩ", "measured audio", f"Audio pot {_MEASURED}"),
    _pot(
        "pot_500k_audio", "500 kΩ", "audio", "Volume or tone pot, usual with two-coil units (common practice)"
    ),
    _pot("pot_500k_linear", "500 kΩ", "linear", "Tone, blend or volume pot, even by resistance"),
    _pot("pot_500k_measured", "500 kΩ", "measured audio", f"Audio pot {_MEASURED}"),
    _pot("pot_1M_audio", "1 MΩ", "audio", "Volume or tone pot that loads the coils least"),
    _pot("pot_1M_linear", "1 MΩ", "linear", "Blend pot, or tone pot in series with a coil"),
    _pot("pot_1M_reverse", "1 MΩ", "reverse audio", "Bass-cut pot, across its capacitor"),
)


def _capacitor(name: str, capacitance: str, about: str) -> Entry:
    return Entry(name, "capacitor", about, {"capacitance": capacitance})


_TONE = "Tone capacitor, from the tone pot to the sleeve"
_BLEED = "Treble-bleed capacitor, from lug 3 to lug 2 of the volume pot"

_CAPACITORS = (
    _capacitor("bleed_cap_680p", "680 pF", _BLEED),
    _capacitor("bleed_cap_1n", "1 nF", _BLEED),
    _capacitor("bleed_cap_1n5", "1.5 nF", _BLEED),
    _capacitor("series_cap_2n2", "2.2 nF", "Bass-cut capacitor, in series with the signal"),
    _capacitor("tone_cap_4n7", "4.7 nF", f"{_TONE}; slight"),
    _capacitor("tone_cap_10n", "10 nF", f"{_TONE}; light"),
    _capacitor("tone_cap_15n", "15 nF", f"{_TONE}; light"),
    _capacitor("tone_cap_22n", "22 nF", f"{_TONE}; usual with two-coil units (common practice)"),
    _capacitor("tone_cap_33n", "33 nF", f"{_TONE}; between the usual two"),
    _capacitor("tone_cap_47n", "47 nF", f"{_TONE}; usual with single coils (common practice)"),
    _capacitor("tone_cap_100n", "100 nF", f"{_TONE}; deep"),
)


def _resistor(name: str, resistance: str, about: str) -> Entry:
    return Entry(name, "resistor", about, {"resistance": resistance})


_RESISTORS = (
    _resistor("bleed_resistor_100k", "100 kΩ", "Treble-bleed resistor, in parallel with its capacitor"),
    _resistor("bleed_resistor_150k", "150 kΩ", "Treble-bleed resistor, in parallel with its capacitor"),
    _resistor("series_resistor_22k", "22 kΩ", "Takes a coil partly out instead of wholly"),
    _resistor("load_resistor_470k", "470 kΩ", "Loads a coil as another pot would"),
    _resistor(
        "drain_resistor_10M", "10 MΩ", "Keeps a switched capacitor discharged, so that it does not pop"
    ),
)


def _choke(name: str, inductance: str, resistance: str) -> Entry:
    about = "Choke for a mid cut, with a capacitor in series; the values are our own choice"
    return Entry(name, "inductor", about, {"inductance": inductance, "resistance": resistance})


_CHOKES = (
    _choke("choke_500m", "500 mH", "45 Ω"),
    _choke("choke_1H5", "1.5 H", "90 Ω"),
    _choke("choke_2H5", "2.5 H", "140 Ω"),
)


def _load(name: str, length: str, per_length: str, about: str) -> Entry:
    fields: dict[str, object] = {
        "cable": {"length": length, "capacitance": per_length},
        "amplifier": {"resistance": "1 MΩ", "capacitance": "20 pF"},
    }
    keeps = "" if name == "plain_amplifier" else "amplifier"
    return Entry(name, "load", f"{about}; amplifier input 1 MΩ (common practice)", fields, keeps=keeps)


_USUAL = "of about 100 pF/m (Sound on Sound, November 2009)"

_LOADS = (
    _load("cable_3m", "3 m", "100 pF/m", f"3 m cable {_USUAL}"),
    _load("cable_6m", "6 m", "100 pF/m", f"6 m cable {_USUAL}"),
    _load("cable_10m", "10 m", "100 pF/m", f"10 m cable {_USUAL}"),
    _load(
        "low_capacitance_cable_6m", "6 m", "60 pF/m", "6 m cable of low capacitance, our own choice of value"
    ),
    _load("plain_amplifier", "0 m", "100 pF/m", "No cable at all: straight into the amplifier"),
    Entry(
        "sweep_load",
        "load",
        "200 kΩ and 470 pF without a cable, as people who publish sweeps of pickups use (hobby practice)",
        {
            "cable": {"length": "0 m", "capacitance": "100 pF/m"},
            "amplifier": {"resistance": "200 kΩ", "capacitance": "470 pF"},
        },
    ),
)

PARTS: tuple[Entry, ...] = _POTS + _CAPACITORS + _RESISTORS + _CHOKES + _LOADS
