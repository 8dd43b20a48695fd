"""What to record of a finished guitar, and the verdict on it, in words and as JSON."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from typing import Any

import numpy as np

from dsp.checking.points import find_settings, setting_text
from dsp.errors import InputError, Problem
from dsp.parts.pot import KNOB_TOP
from dsp.sound.timbre import ear_bands
from dsp.verifying.expected import expect_energy, strum
from dsp.verifying.strums import WINDOWS_S, Strums
from dsp.verifying.verdict import (
    AS_PROPOSED,
    FAINT_DB,
    MOST_MISFIT,
    NOT_AS_PROPOSED,
    WIDE,
    Prediction,
    Standing,
    Verdict,
    predict,
    verify,
)
from dsp.wiring.model import Setting, Wiring
from server.verifying.recordings import Heard, measure_all

CAUTIONS = (
    "Record through an instrument input whose load you know; nothing else is plugged in. Phantom power off.",
    "Start with headphones off your ears and loudspeakers down: a strum is loud.",
    "If touching the strings tingles, stop and unplug: a licensed technician looks at the mains first.",
)
"""What to heed while recording (common practice)."""
STEPS = (
    "Record one file for each setting below, at one gain for all, without effects.",
    "Leave the strings damped for a second. Then strum the same chord five times, two seconds apart.",
    "Keep the way you strum: the same place, force and pick.",
)
QUIET_DB = 25.0
"""A setting that falls so far below the loudest is not worth recording."""
MOST_TEXTS, MOST_CAUSES = 6, 5
SIMULATED = (
    "The rule was set and tried on simulated guitars alone; no guitar on a bench has been heard by it yet."
)


def settings_to_record(wiring: Wiring) -> tuple[Setting, ...]:
    """Return every position of every switch that sounds, and each knob at 0.

    A knob is turned down where it moves most, and not where it silences; the others are at 10.
    """
    found = [one for one in find_settings(wiring) if 0.0 in one.knobs.values() or _at_ten(one)]
    heard = strum(wiring, window_s=WINDOWS_S[-1], strums=1)
    level = 10.0 * np.log10(expect_energy(wiring, found, heard)[0].sum(axis=1) + 1e-30)
    least = [level.max() - (FAINT_DB if _at_ten(one) else QUIET_DB) for one in found]
    return tuple(one for one, here, low in zip(found, level, least, strict=True) if here > low)


def _at_ten(setting: Setting) -> bool:
    return all(value == KNOB_TOP for value in setting.knobs.values())


def check_settings(wiring: Wiring, settings: Sequence[Setting], names: Sequence[str], *, some: bool) -> None:
    """Refuse a setting that stands twice, and positions without a recording.

    Parameters
    ----------
    names : sequence of str
        Of the recordings.
    some : bool
        Whether some positions are enough.

    Raises
    ------
    InputError
        With every problem.
    """
    texts = [setting_text(wiring, one) for one in settings]
    problems = [
        Problem(names[i], f"setting {text} again", f"once; {names[texts.index(text)]} has it already")
        for i, text in enumerate(texts)
        if text in texts[:i]
    ]
    recorded = {setting.position for setting in settings}
    missing = [] if some or recorded >= set(wiring.positions) else _missing(wiring, recorded)
    if missing:
        got = f"none of position {', '.join(missing)}"
        problems.append(
            Problem("recordings", got, "one for every position", "--some compares those that you have")
        )
    if len(settings) < 2:
        problems.append(Problem("recordings", f"{len(settings)}", "two or more: positions are compared"))
    if problems:
        raise InputError.of(problems)


def _missing(wiring: Wiring, recorded: Collection[str]) -> list[str]:
    """Return the positions that sound and are not among those recorded."""
    planned = dict.fromkeys(one.position for one in settings_to_record(wiring))
    return [one for one in planned if one not in recorded]


def verify_recordings(
    wiring: Wiring, heard: Sequence[Heard], settings: Sequence[Setting], frets: Sequence[int | None] | None
) -> tuple[Prediction, list[Strums], Verdict]:
    """Hold recordings to a wiring whose load is the recording's.

    Raises
    ------
    InputError
        As `measure_all` and `dsp.verifying.verdict.verify`.
    """
    strums, window_s = measure_all(heard)
    prediction = predict(wiring, settings, frets, window_s=window_s)
    return prediction, strums, verify(prediction, strums, [one.name for one in heard])


def verdict_record(
    wiring: Wiring, heard: Sequence[Heard], strums: Sequence[Strums], prediction: Prediction, verdict: Verdict
) -> dict[str, Any]:
    """Return a verdict as JSON has it; null where a band does not count."""
    texts = [setting_text(wiring, one) for one in prediction.settings]
    centres = np.sqrt(ear_bands().edges_hz[1:] * ear_bands().edges_hz[:-1])
    standing = {one.recording: one for one in verdict.standings}
    planned = [setting_text(wiring, one) for one in settings_to_record(wiring)]
    return {
        "verdict": verdict.word,
        "probability_sound": round(verdict.sound, 4),
        "misfit": round(verdict.misfit, 3),
        "likely": [
            {"probability": round(one.probability, 4), **_causes(one.texts),
             "terminals": sorted({".".join(t) for fault in one.faults for t in fault.terminals})}
            for one in verdict.causes[:MOST_CAUSES]
            if one.probability >= 0.01
        ],
        "named": verdict.named,
        "unheard": _causes(verdict.unheard),
        "planned": len(planned),
        "planned_recorded": sum(one in texts for one in planned),
        "bands_hz": [round(float(one), 1) for one in centres],
        "recordings": [
            {
                "file": one.name,
                "setting": texts[i],
                "label": wiring.labels.get(prediction.settings[i].position, ""),
                "strums": len(strums[i].levels_db),
                "over_noise_db": round(strums[i].over_noise_db, 1),
                "silent": i in verdict.silent,
                "level_db": round(standing[i].level_db, 2) if i in standing else None,
                "level_within_db": round(WIDE * standing[i].level_sd_db, 2) if i in standing else None,
                "words": _words(i, standing, verdict),
            }
            for i, one in enumerate(heard)
        ],
        "pairs": [
            {
                "first": texts[one.first],
                "second": texts[one.second],
                "agrees": one.agrees,
                "misfit": round(one.misfit, 3),
                "level_db": _known(one.level_db),
                "predicted_level_db": _known(one.expected_db),
                "level_within_db": _known(WIDE * one.level_sd_db),
                "heard_db": [_known(value) for value in one.heard_db],
                "predicted_db": [_known(value) for value in one.predicted_db],
                "within_db": [_known(WIDE * value) for value in one.sd_db],
            }
            for one in verdict.pairs
        ],
        "notes": [SIMULATED],
    }  # fmt: skip


def _causes(texts: Sequence[str]) -> dict[str, Any]:
    """The likeliest of causes that sound alike, and how many more there are."""
    return {"causes": list(texts[:MOST_TEXTS]), "more": max(len(texts) - MOST_TEXTS, 0)}


def _words(recording: int, standing: Mapping[int, Standing], verdict: Verdict) -> str:
    """What stands out of one recording."""
    if recording in verdict.silent:
        return "no strum is heard"
    return standing[recording].words() if recording in standing else ""


def _known(value: float) -> float | None:
    return round(float(value), 2) if np.isfinite(value) else None


def verdict_lines(record: Mapping[str, Any]) -> Iterator[str]:
    """Yield the lines of a verdict, from its record."""
    percent = 100.0 * record["probability_sound"]
    misfit = f"Misfit {record['misfit']:.2f}; sound guitars stay below {MOST_MISFIT:g}."
    differs = f"Nothing heard that differs: {percent:.0f} %"
    yield f"{record['verdict'].capitalize()}. {differs}; {recorded_text(record)}. {misfit}"
    if record["verdict"] != NOT_AS_PROPOSED and record["unheard"]["causes"]:
        yield f"These recordings cannot show: {causes_text(record['unheard'], ', ')}."
    yield from cause_lines(record)
    yield ""
    yield f"{'setting':<16}{'strums':>7}{'over noise':>12}{'against the others':>24}"
    for one in record["recordings"]:
        if one["silent"]:
            against = "no strum is heard"
        elif one["level_db"] is None:
            against = "none to compare with"
        else:
            against = f"{one['level_db']:+.1f} ±{one['level_within_db']:.1f} dB"
        words = "" if one["silent"] else one["words"]
        line = f"{one['setting']:<16}{one['strums']:>7}{one['over_noise_db']:>9.0f} dB{against:>24}   {words}"
        yield line.rstrip()
    yield ""
    apart = [one for one in record["pairs"] if not one["agrees"]]
    yield f"{len(record['pairs']) - len(apart)} of {len(record['pairs'])} pairs agree with the prediction."
    for one in apart:  # a pair without a common band has no level, and none disagrees
        heard, said, within = one["level_db"], one["predicted_level_db"], one["level_within_db"]
        yield (
            f"  {one['first']} against {one['second']}: {heard:+.1f} dB heard, {said:+.1f} dB predicted,"
            f" within {within:.1f} dB; misfit {one['misfit']:.1f}"
        )
    yield from (f"note: {note}" for note in record["notes"])


def cause_lines(record: Mapping[str, Any]) -> Iterator[str]:
    """Yield the likely causes, where the verdict is not for the guitar."""
    if record["verdict"] == AS_PROPOSED:
        return
    if not record["named"]:
        yield "No single cause is clear. Read the jack: `presolder fault` asks for the next reading."
    for one in record["likely"][: 1 if record["named"] else 3]:
        yield f"  {100 * one['probability']:.0f} %  {causes_text(one)}"


def causes_text(of: Mapping[str, Any], between: str = ", or ") -> str:
    """Return causes that sound alike, in words."""
    return between.join(of["causes"]) + (f", and {of['more']} more" if of["more"] else "")


def recorded_text(record: Mapping[str, Any]) -> str:
    """Return how many of the settings to record were recorded, in words."""
    return f"{record['planned_recorded']} of {record['planned']} planned settings recorded"
