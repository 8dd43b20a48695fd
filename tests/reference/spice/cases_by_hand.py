"""Settings of the hand-drawn networks: the product's input, and the same worked out by hand.

The ohms are written out, not computed: share x resistance between lugs 1 and 2, the rest between
2 and 3. For example audio with 15 % at half travel, 500 kΩ, at 7: 0.15 + 0.85 x 0.4 = 0.49, so
245 kΩ and 255 kΩ.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

END = 0.0
"""The side of a pot the wiper has run onto: the netlists draw a plain wire (0 V) there, since a tiny
resistance beside megohms costs nodal analysis its digits (1 µΩ: 0.0002 dB)."""


@dataclass(frozen=True)
class Case:
    """A setting of a network.

    Attributes
    ----------
    network : str
        Name of the files in tests/reference/networks.
    position : int or None
        Of the selector; none where the wiring has none.
    settings : mapping
        Knobs, other switches and plugs, as `--set` takes them.
    by_hand : mapping
        Values for the `.param` names of the hand-written netlist; empty where there is none.
    """

    network: str
    position: int | None
    settings: Mapping[str, float | str]
    by_hand: Mapping[str, float]

    def __str__(self) -> str:
        knobs = ",".join(f"{name}={text_of(value)}" for name, value in self.settings.items())
        return f"{self.network}-{self.position}-{knobs}"


def text_of(value: float | str) -> str:
    """Return a setting's value as `--set` takes it."""
    return value if isinstance(value, str) else f"{value:g}"


HUM_BY_HAND: dict[str, dict[str, float]] = {
    "twelve_one_coil": {"bridge": 1.0},
    "twelve_toggle": {"neck": 0.94, "bridge": -1.08},
    "twelve_series_phase": {"neck": 1.0, "bridge": -0.97},
    "baritone_rotary": {"neck_a": 1.0, "neck_b": -1.02, "bridge_a": 1.0, "bridge_b": -1.0},
    "baritone_two_volumes": {"neck_a": 1.0, "neck_b": -1.0, "bridge_a": 1.1, "bridge_b": -1.0},
    "twelve_choke": {"neck": -0.9},
    "baritone_split": {"neck_a": 1.0, "neck_b": -0.88},
    "baritone_transformer": {"low": 1.0, "high": -1.05},
    "baritone_two_jacks": {"neck": 1.0, "bridge": -1.0, "low": 0.7},
    "baritone_ring": {"neck": 1.0, "bridge": -1.0, "low": 0.7},
    "twelve_metal": {"neck": 1.0, "bridge": -1.1},
    "twelve_slides": {"neck": 1.0, "bridge": -1.04},
    "twelve_losses": {"bridge": 1.0},
    "twelve_blend": {"neck": -1.0, "bridge": 1.2},
    "baritone_tapped": {"bridge": 1.0, "dummy": -1.0},
    "twelve_groups": {"neck": 1.0, "bridge": -1.0},
    "baritone_blade": {"neck_a": 1.0, "neck_b": -1.0, "bridge": 1.25},
}
"""Winding sign times turns area, read from the wiring files by eye."""


def _one_coil(volume: float, tone: float, v12: float, v23: float, t12: float) -> Case:
    settings = {"volume": volume, "tone": tone}
    return Case("twelve_one_coil", None, settings, {"v12": v12, "v23": v23, "t12": t12})


def _losses(volume: float, tone: float, v12: float, v23: float, t12: float) -> Case:
    settings = {"volume": volume, "tone": tone}
    return Case("twelve_losses", None, settings, {"v12": v12, "v23": v23, "t12": t12})


def _toggle(position: int, volume: float, tone: float, v12: float, v23: float, t12: float) -> Case:
    settings = {"volume": volume, "tone": tone}
    by_hand = {"position": position, "v12": v12, "v23": v23, "t12": t12}
    return Case("twelve_toggle", position, settings, by_hand)


def _phase(position: int, phase: int, volume: float, v12: float, v23: float) -> Case:
    settings = {"volume": volume, "phase": phase}
    by_hand = {"position": position, "phase": phase, "v12": v12, "v23": v23}
    return Case("twelve_series_phase", position, settings, by_hand)


def _rotary(position: int, volume: float, tone: float, v12: float, v23: float, t12: float) -> Case:
    settings = {"volume": volume, "tone": tone}
    by_hand = {"position": position, "v12": v12, "v23": v23, "t12": t12}
    return Case("baritone_rotary", position, settings, by_hand)


def _volumes(
    position: int,
    settings: tuple[float, float, float, float],
    ohms: tuple[float, float, float, float, float, float],
) -> Case:
    knobs = dict(zip(("neck_volume", "neck_tone", "bridge_volume", "bridge_tone"), settings, strict=True))
    by_hand = dict(zip(("nv12", "nv23", "nt23", "bv12", "bv23", "bt12"), ohms, strict=True))
    return Case("baritone_two_volumes", position, knobs, {"position": position, **by_hand})


def _choke(depth: float, d23: float) -> Case:
    return Case("twelve_choke", None, {"depth": depth}, {"d23": d23})


def _split(position: int, split: int, volume: float, v12: float, v23: float) -> Case:
    by_hand = {"position": position, "split": split, "v12": v12, "v23": v23}
    return Case("baritone_split", position, {"split": split, "volume": volume}, by_hand)


def _blade(
    position: int, settings: tuple[float, float, float], ohms: tuple[float, float, float, float]
) -> Case:
    knobs = dict(zip(("volume", "neck_tone", "bridge_tone"), settings, strict=True))
    by_hand = dict(zip(("v12", "v23", "nt23", "bt12"), ohms, strict=True))
    return Case("baritone_blade", position, knobs, {"position": position, **by_hand})


def _matching(position: int, trim: float, volume: float, t12: float, v12: float, v23: float) -> Case:
    by_hand = {"position": position, "t12": t12, "v12": v12, "v23": v23}
    return Case("baritone_transformer", position, {"trim": trim, "volume": volume}, by_hand)


def _slides(position: int, voice: int, volume: float, tone: float, ohms: tuple[float, float, float]) -> Case:
    by_hand = dict(zip(("v12", "v23", "t12"), ohms, strict=True))
    knobs = {"voice": voice, "volume": volume, "tone": tone}
    return Case("twelve_slides", position, knobs, {"position": position, "voice": voice, **by_hand})


def _tapped(position: int, volume: float, v12: float, v23: float) -> Case:
    by_hand = {"position": position, "v12": v12, "v23": v23}
    return Case("baritone_tapped", position, {"volume": volume}, by_hand)


def _groups(
    position: int, fat: int, knobs: tuple[float, float, float], ohms: tuple[float, float, float, float, float]
) -> Case:
    settings = dict(zip(("neck_volume", "bridge_tone", "volume"), knobs, strict=True)) | {"fat": fat}
    by_hand = dict(zip(("n12", "n23", "t12", "v12", "v23"), ohms, strict=True))
    return Case("twelve_groups", position, settings, {"position": position, "fat": fat, **by_hand})


NONE = -1.0
"""No track between two lugs: the netlist draws nothing."""
_BLEND = {
    0: (END, 500e3, END, 500e3),
    2: (END, 500e3, 200e3, 300e3),
    5: (END, 500e3, 500e3, END),
    7.5: (250e3, 250e3, 500e3, END),
    10: (500e3, END, 500e3, END),
}
"""Ohms of the neck's track (lugs 1-2, 2-3), then of the bridge's, 500 kΩ each, by the one knob."""
_TAPPED = {
    0: (60.0, NONE, NONE, 150060.0, 100e3),
    2: (50060.0, NONE, NONE, 150060.0, 50e3),
    4: (NONE, 150060.0, 100060.0, NONE, END),
    7: (NONE, 75060.0, 100060.0, NONE, 75e3),
    10: (NONE, 60.0, 100060.0, NONE, 150e3),
}
"""Ohms between lugs 1-2, 2-3, 1-4, 4-3, 2-4 of 250 kΩ linear, tap at 40 %, 60 Ω at each end."""


def _blend(blend: float, volume: float, tone: float, t12: float) -> Case:
    ohms = (*_BLEND[blend], *_TAPPED[volume], t12)
    names = ("nb12", "nb23", "bb12", "bb23", "v12", "v23", "v14", "v43", "v24", "t12")
    settings = {"blend": blend, "volume": volume, "tone": tone}
    return Case("twelve_blend", None, settings, dict(zip(names, ohms, strict=True)))


def _jacks(
    second: str, plug: str, volume: float, bridge: float, ohms: tuple[float, float, float, float]
) -> Case:
    by_hand = dict(zip(("v12", "v23", "b12", "b23"), ohms, strict=True))
    knobs = {"volume": volume, "bridge_volume": bridge, "second": second, "output": plug}
    states = {"second": float(second == "in"), "stereo": float(plug == "stereo")}
    return Case("baritone_two_jacks", None, knobs, {**states, **by_hand})


def _ring(second: str, volume: float, bridge: float, ohms: tuple[float, float, float, float]) -> Case:
    by_hand = dict(zip(("v12", "v23", "b12", "b23"), ohms, strict=True))
    knobs = {"volume": volume, "bridge_volume": bridge, "second": second}
    return Case("baritone_ring", None, knobs, {"second": float(second == "in"), **by_hand})


def _metal(lift: int, volume: float, v12: float, v23: float) -> Case:
    settings = {"lift": lift, "volume": volume}
    return Case("twelve_metal", None, settings, {"lift": lift, "v12": v12, "v23": v23})


CASES: tuple[Case, ...] = (
    # linear 250 kΩ; audio 250 kΩ, 15 %: at 3 0.09, at 6.5 0.405
    _one_coil(10, 10, 250e3, END, 250e3),
    _one_coil(10, 0, 250e3, END, END),
    _one_coil(5, 10, 125e3, 125e3, 250e3),
    _one_coil(7, 3, 175e3, 75e3, 22.5e3),
    _one_coil(2, 6.5, 50e3, 200e3, 101.25e3),
    _one_coil(0, 10, END, 250e3, 250e3),
    _losses(10, 0, 250e3, END, END),
    _losses(7, 3, 175e3, 75e3, 22.5e3),
    _losses(2, 10, 50e3, 200e3, 250e3),
    _losses(0, 0, END, 250e3, END),
    # audio 250 kΩ, 10 %: at 8 0.1 + 0.9 x 0.6 = 0.64, at 4 0.08, at 5 0.1; linear 500 kΩ
    _toggle(1, 10, 10, 250e3, END, 500e3),
    _toggle(2, 10, 10, 250e3, END, 500e3),
    _toggle(3, 10, 10, 250e3, END, 500e3),
    _toggle(2, 8, 2, 160e3, 90e3, 100e3),
    _toggle(3, 4, 0, 20e3, 230e3, END),
    _toggle(1, 5, 7.5, 25e3, 225e3, 375e3),
    # linear 500 kΩ, 40 Ω more at each end
    _phase(1, 1, 10, 500040.0, 40.0),
    _phase(1, 2, 6, 300040.0, 200040.0),
    _phase(2, 1, 10, 500040.0, 40.0),
    _phase(2, 2, 10, 500040.0, 40.0),
    _phase(2, 2, 3, 150040.0, 350040.0),
    _phase(3, 1, 10, 500040.0, 40.0),
    _phase(3, 2, 0, 40.0, 500040.0),
    # audio 500 kΩ, 15 %: at 7 0.49, at 5 0.15, at 2 0.06; linear 500 kΩ
    *(_rotary(position, 10, 10, 500e3, END, 500e3) for position in range(1, 7)),
    *(_rotary(position, 7, 4, 245e3, 255e3, 200e3) for position in range(1, 7)),
    _rotary(4, 5, 0, 75e3, 425e3, END),
    _rotary(3, 2, 10, 30e3, 470e3, 500e3),
    _rotary(1, 0, 10, END, 500e3, 500e3),
    # neck volume audio 15 %, neck tone audio 20 % over lugs 2-3, bridge pots linear, all 500 kΩ
    # neck tone at 2.5: share 0.1, so 450 kΩ between 2 and 3; at 7.5: 0.6, so 200 kΩ
    _volumes(1, (10, 0, 10, 10), (500e3, END, 500e3, 500e3, END, 500e3)),
    _volumes(2, (10, 0, 10, 10), (500e3, END, 500e3, 500e3, END, 500e3)),
    _volumes(2, (10, 10, 10, 0), (500e3, END, END, 500e3, END, END)),
    _volumes(2, (7, 2.5, 6, 8), (245e3, 255e3, 450e3, 300e3, 200e3, 400e3)),
    _volumes(2, (10, 0, 0, 10), (500e3, END, 500e3, END, 500e3, 500e3)),
    _volumes(2, (0, 7.5, 10, 5), (END, 500e3, 200e3, 500e3, END, 250e3)),
    _volumes(3, (10, 0, 4, 3), (500e3, END, 500e3, 200e3, 300e3, 150e3)),
    # reverse audio 100 kΩ, 85 % at half travel, 120 Ω at the end: at 10 0 + 120; at 8 share 0.94;
    # at 5 0.85; at 1 0.17; at 0 the whole track
    _choke(10, 120.0),
    _choke(8, 6120.0),
    _choke(5, 15120.0),
    _choke(1, 83120.0),
    _choke(0, 100120.0),
    # points (0, 0) (0.3, 0.05) (0.62, 0.22) (1, 1), 500 kΩ: at 1.5 0.025, at 4.6 0.135, at 8.1 0.61
    *(_split(position, 1, 10, 500e3, END) for position in range(1, 8)),
    *(_split(position, 2, 10, 500e3, END) for position in range(1, 8)),
    _split(1, 1, 4.6, 67.5e3, 432.5e3),
    _split(2, 2, 8.1, 305e3, 195e3),
    _split(3, 1, 1.5, 12.5e3, 487.5e3),
    # points (0, 0) (0.62, 0.22) (1, 1), 250 kΩ: at 8.1 0.61, at 3.1 0.11; neck tone linear over 2-3:
    # at 10 0 Ω, at 4 150 kΩ; bridge tone audio 15 %: at 5 37.5 kΩ
    *(_blade(position, (10, 0, 10), (250e3, END, 250e3, 250e3)) for position in range(1, 6)),
    _blade(2, (8.1, 4, 10), (152.5e3, 97.5e3, 150e3, 250e3)),
    _blade(2, (10, 10, 10), (250e3, END, END, 250e3)),
    _blade(4, (3.1, 0, 5), (27.5e3, 222.5e3, 250e3, 37.5e3)),
    _blade(5, (10, 5, 0), (250e3, END, 125e3, END)),
    # tone audio 500 kΩ, 15 %, open at 10; at 9.8 0.966
    _blend(5, 10, 10, NONE),
    _blend(5, 10, 9.8, 483e3),
    _blend(0, 7, 5, 75e3),
    _blend(2, 4, 0, END),
    _blend(7.5, 2, 10, NONE),
    _blend(10, 0, 5, 75e3),
    _blend(7.5, 7, 9.8, 483e3),
    # volume linear 500 kΩ
    *(_tapped(position, 10, 500e3, END) for position in range(1, 7)),
    *(_tapped(position, 6, 300e3, 200e3) for position in range(1, 7)),
    # neck volume audio 500 kΩ, 15 %: at 5 0.15, at 8 0.66; bridge tone and volume linear, 250 and 500 kΩ
    *(_groups(p, 1, (10, 10, 10), (500e3, END, 250e3, 500e3, END)) for p in range(1, 5)),
    *(_groups(p, 2, (8, 3, 6), (330e3, 170e3, 75e3, 300e3, 200e3)) for p in range(1, 5)),
    _groups(3, 1, (5, 0, 10), (75e3, 425e3, END, 500e3, END)),
    _groups(2, 2, (0, 10, 9), (END, 500e3, 250e3, 450e3, 50e3)),
    # linear 10 kΩ; audio 500 kΩ, 15 %: at 5 0.15, at 7 0.49
    _matching(1, 10, 10, 10e3, 500e3, END),
    _matching(1, 3, 7, 3e3, 245e3, 255e3),
    _matching(1, 0, 10, END, 500e3, END),
    _matching(2, 10, 10, 10e3, 500e3, END),
    _matching(2, 5, 5, 5e3, 75e3, 425e3),
    _matching(2, 0, 10, END, 500e3, END),
    _matching(3, 10, 10, 10e3, 500e3, END),
    _matching(3, 2, 7, 2e3, 245e3, 255e3),
    _matching(3, 0, 5, END, 75e3, 425e3),
    _matching(4, 10, 10, 10e3, 500e3, END),
    _matching(4, 4, 5, 4e3, 75e3, 425e3),
    _matching(4, 10, 0, 10e3, END, 500e3),
    _matching(5, 10, 10, 10e3, 500e3, END),
    _matching(5, 1, 7, 1e3, 245e3, 255e3),
    _matching(5, 0, 5, END, 75e3, 425e3),
    _matching(6, 10, 10, 10e3, 500e3, END),
    _matching(6, 6, 7, 6e3, 245e3, 255e3),
    # linear 250 kΩ
    *(_metal(lift, 10, 250e3, END) for lift in (1, 2)),
    *(_metal(lift, 6, 150e3, 100e3) for lift in (1, 2)),
    _metal(2, 0, END, 250e3),
    # audio 500 kΩ, 15 %: at 7 0.49; linear 500 kΩ
    *(_jacks(s, p, 10, 10, (500e3, END, 500e3, END)) for s in ("out", "in") for p in ("mono", "stereo")),
    *(_jacks(s, p, 7, 4, (245e3, 255e3, 200e3, 300e3)) for s in ("out", "in") for p in ("mono", "stereo")),
    _jacks("out", "mono", 10, 0, (500e3, END, END, 500e3)),
    _jacks("in", "mono", 10, 0, (500e3, END, END, 500e3)),
    *(_ring(second, 10, 10, (500e3, END, 500e3, END)) for second in ("out", "in")),
    *(_ring(second, 7, 4, (245e3, 255e3, 200e3, 300e3)) for second in ("out", "in")),
    # linear 250 kΩ; audio 500 kΩ, 15 %: at 7 0.49
    *(_slides(p, v, 10, 0, (500e3, END, END)) for p in (1, 2, 3) for v in (1, 2, 3)),
    *(_slides(p, v, 7, 4, (245e3, 255e3, 100e3)) for p, v in ((1, 3), (2, 1), (3, 2), (3, 3))),
)
