"""Which clips a render makes: their settings, names and places on disk."""

from __future__ import annotations

import hashlib
import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from dsp.errors import InputError
from dsp.parts.pot import KNOB_TOP
from dsp.sound.movement import Flip, Sweep, initial_setting
from dsp.takes.performance import Performance
from dsp.wiring.model import Setting, Wiring

LONGEST_NAME = 120
RESERVED = {"con", "prn", "aux", "nul", *(f"{port}{n}" for port in ("com", "lpt") for n in range(10))}
"""Names of devices, which one system takes for no file whatever their ending (common practice)."""


@dataclass(frozen=True)
class ClipPlan:
    """One clip to be rendered.

    Attributes
    ----------
    wiring : Wiring
    performance : Performance
    setting : Setting
        At the start of the clip.
    sweeps, flips : tuple
    stem : str
        File name without its ending.
    """

    wiring: Wiring
    performance: Performance
    setting: Setting
    sweeps: tuple[Sweep, ...]
    flips: tuple[Flip, ...]
    stem: str

    @property
    def stands(self) -> str:
        """Knobs, switches and movements as the tags show them."""
        knobs = [f"{name}={value:g}" for name, value in self.setting.knobs.items()]
        switches = [f"{name}={stand}" for name, stand in self.setting.switches.items()]
        return " ".join(
            [*knobs, *switches, *map(describe_sweep, self.sweeps), *map(describe_flip, self.flips)]
        )


def describe_sweep(sweep: Sweep) -> str:
    """A sweep as it is written on the command line."""
    times = "" if sweep.from_s is None and sweep.to_s is None else f"@{sweep.from_s:g}-{sweep.to_s:g}"
    return f"{sweep.knob}={sweep.start:g}:{sweep.end:g}{times}"


def describe_flip(flip: Flip) -> str:
    """A flip as it is written on the command line."""
    return f"{'position' if flip.switch is None else flip.switch}={flip.position}@{flip.at_s:g}"


def plan_clip(
    wiring: Wiring,
    performance: Performance,
    setting: Setting,
    sweeps: Sequence[Sweep] = (),
    flips: Sequence[Flip] = (),
) -> ClipPlan:
    """A clip, named ``<wiring>-<take>-<position>[-what is not at rest…]``."""
    setting = initial_setting(setting, sweeps)
    swept = {sweep.knob for sweep in sweeps}  # a sweep says its own start
    words = [Path(wiring.file).stem, performance.name, setting.position]
    words += [
        f"{name}{value:g}" for name, value in setting.knobs.items() if value != KNOB_TOP and name not in swept
    ]
    words += [
        f"{name}-{stand}"
        for name, stand in setting.switches.items()
        if stand != next(iter(wiring.switches[name].contacts))
    ]
    words += [describe_sweep(sweep) for sweep in sweeps] + [describe_flip(flip) for flip in flips]
    return ClipPlan(wiring, performance, setting, tuple(sweeps), tuple(flips), file_stem(words))


def file_stem(words: Sequence[str]) -> str:
    """A file name that every system takes, made of words.

    Long names are cut and get a digest of the whole, so that no two become one.
    """
    plain = unicodedata.normalize("NFC", "-".join(words))
    safe = re.sub(r"[^\w.+,()-]+", "_", plain.replace(":", "to").replace("@", "at").replace("=", ""))
    safe = safe.strip("._-") or "clip"
    if safe.partition(".")[0].casefold() in RESERVED:
        safe = f"{safe}_"
    if len(safe.encode()) <= LONGEST_NAME:
        return safe
    digest = hashlib.sha256(plain.encode(errors="surrogatepass")).hexdigest()[:8]
    short = safe.encode()[: LONGEST_NAME - 9].decode(errors="ignore")
    return f"{short}-{digest}"


def refuse_twins(plans: Sequence[ClipPlan]) -> None:
    """Refuse clips that would have one name.

    Raises
    ------
    InputError
    """
    seen: dict[str, ClipPlan] = {}
    for plan in plans:
        key = plan.stem.casefold()
        if key in seen:
            files = f"{seen[key].wiring.file}, {seen[key].performance.take.file}"
            got = f"{plan.wiring.file}, {plan.performance.take.file}: '{plan.stem}' again"
            raise InputError("names of the clips", got, f"another file name than for {files}")
        seen[key] = plan
