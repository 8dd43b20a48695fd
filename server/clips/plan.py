"""Plan a clip: its setting, its movements and the name of its files."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from dsp.chain.ways import DIRECT, Way
from dsp.parts.pot import KNOB_TOP
from dsp.sound.hum import Hum
from dsp.sound.movement import Flip, Sweep, initial_setting
from dsp.takes.performance import Performance
from dsp.wiring.model import Setting, Wiring
from server.clips.cabinet import CabinetFile
from server.files.names import file_stem


@dataclass(frozen=True)
class ClipPlan:
    """One clip to be rendered.

    Attributes
    ----------
    setting : Setting
        At the start of the clip.
    stem : str
        File name without its ending.
    way : Way
        In which it is heard.
    limited : bool
        Whether a limiter may take its peaks down.
    hum : Hum or None
        Of a room, added to the stems.
    cabinet : CabinetFile or None
        In the place of the way's own.
    """

    wiring: Wiring
    performance: Performance
    setting: Setting
    sweeps: tuple[Sweep, ...]
    flips: tuple[Flip, ...]
    stem: str
    way: Way = DIRECT
    limited: bool = False
    hum: Hum | None = None
    cabinet: CabinetFile | None = None

    @property
    def heard_text(self) -> str:
        """The way, and the cabinet where it has its own."""
        return f"{self.way.name}, cabinet {self.cabinet.name}" if self.cabinet else self.way.name

    @property
    def heard_about(self) -> str:
        """The way in words for listeners, with cabinet and hum."""
        cabinet = f", cabinet {self.cabinet.name}" if self.cabinet else ""
        hum = f", with the hum of {self.hum.text}" if self.hum else ""
        return f"{self.way.about}{cabinet}{hum}"

    @property
    def settings_text(self) -> str:
        """Knobs, switches and movements as the tags show them."""
        knobs = [f"{name}={value:g}" for name, value in self.setting.knobs.items()]
        switches = [f"{name}={position}" for name, position in self.setting.switches.items()]
        return " ".join(
            [*knobs, *switches, *map(describe_sweep, self.sweeps), *map(describe_flip, self.flips)]
        )

    @property
    def source(self) -> str:
        """Wiring file and take file, for errors."""
        return f"{self.wiring.file}, {self.performance.take.file}"


def describe_sweep(sweep: Sweep) -> str:
    """Write a sweep as the command line takes it."""
    times = "" if sweep.from_s is None and sweep.to_s is None else f"@{sweep.from_s:g}-{sweep.to_s:g}"
    return f"{sweep.knob}={sweep.start:g}:{sweep.end:g}{times}"


def describe_flip(flip: Flip) -> str:
    """Write a flip as the command line takes it."""
    return f"{'position' if flip.switch is None else flip.switch}={flip.position}@{flip.at_s:g}"


def plan_clip(
    wiring: Wiring,
    performance: Performance,
    setting: Setting,
    sweeps: Sequence[Sweep] = (),
    flips: Sequence[Flip] = (),
    *,
    way: Way = DIRECT,
    limited: bool = False,
    hum: Hum | None = None,
    cabinet: CabinetFile | None = None,
) -> ClipPlan:
    """Plan a clip.

    Its name is ``<wiring>-<take>-<position>[-<other settings>…][-<way>[-<cabinet>]][-hum-<room>]``.
    """
    setting = initial_setting(setting, sweeps)
    swept = {sweep.knob for sweep in sweeps}  # a sweep says its own start
    words = [Path(wiring.file).stem, performance.name, setting.position]
    words += [
        f"{name}{value:g}" for name, value in setting.knobs.items() if value != KNOB_TOP and name not in swept
    ]
    words += [
        f"{name}-{position}"
        for name, position in setting.switches.items()
        if position != wiring.stands[name][0]
    ]
    words += [describe_sweep(sweep) for sweep in sweeps] + [describe_flip(flip) for flip in flips]
    words += [way.name] if way.amplified else []
    words += [cabinet.name] if cabinet else []
    words += [f"hum-{hum.room}{hum.mains_hz:g}"] if hum else []
    return ClipPlan(
        wiring,
        performance,
        setting,
        tuple(sweeps),
        tuple(flips),
        file_stem(words),
        way,
        limited,
        hum,
        cabinet,
    )
