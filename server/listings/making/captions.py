"""A clip in words: its settings, and captions of what is played and moved when (W3C WebVTT)."""

from __future__ import annotations

from collections.abc import Sequence

from dsp.takes.captions import Caption
from server.clips.plan import ClipPlan

ESCAPED = str.maketrans({"&": "&amp;", "<": "&lt;", ">": "&gt;"})


def captions_of(plan: ClipPlan) -> tuple[Caption, ...]:
    """Return what a clip lets one hear: notes, sweeps and flips, by time."""
    seconds, name = plan.performance.seconds, plan.performance.take.name or plan.performance.name
    played = plan.performance.captions(plan.wiring) or (Caption(0.0, seconds, f"{name}, a recording"),)
    sweeps = tuple(
        Caption(
            sweep.from_s or 0.0,
            seconds if sweep.to_s is None else sweep.to_s,
            f"the {sweep.knob} knob moves from {sweep.start:g} to {sweep.end:g}",
        )
        for sweep in plan.sweeps
    )
    ends_s = [*(flip.at_s for flip in plan.flips[1:]), seconds][: len(plan.flips)]
    flips = tuple(
        Caption(flip.at_s, end_s, f"{flip.switch or 'selector'} in position {flip.position}")
        for flip, end_s in zip(plan.flips, ends_s, strict=True)
    )
    return tuple(sorted((*played, *sweeps, *flips), key=lambda one: (one.start_s, one.end_s)))


def settings_words(plan: ClipPlan) -> str:
    """Say where knobs and switches stand, and what moves, for people."""
    swept = {sweep.knob for sweep in plan.sweeps}
    knobs = [f"{name} {value:g}" for name, value in plan.setting.knobs.items() if name not in swept]
    switches = [f"{name} {position}" for name, position in plan.setting.switches.items()]
    sweeps = [f"{sweep.knob} from {sweep.start:g} to {sweep.end:g}" for sweep in plan.sweeps]
    flips = [f"{flip.switch or 'selector'} to {flip.position} at {flip.at_s:g} s" for flip in plan.flips]
    return ", ".join([*knobs, *switches, *sweeps, *flips])


def web_vtt(captions: Sequence[Caption]) -> bytes:
    """Write captions as a WebVTT file."""
    cues = [
        f"{_clock(one.start_s)} --> {_clock(one.end_s)}\n{one.text.translate(ESCAPED)}\n" for one in captions
    ]
    return "\n".join(["WEBVTT\n", *cues]).encode(errors="replace")


def _clock(seconds: float) -> str:
    whole_ms = round(1000.0 * seconds)
    minutes, ms = divmod(whole_ms, 60_000)
    return f"{minutes // 60:02d}:{minutes % 60:02d}:{ms // 1000:02d}.{ms % 1000:03d}"
