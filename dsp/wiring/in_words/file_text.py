"""Write an instrument in words as a wiring file, its switch still a sketch."""

from __future__ import annotations

from collections.abc import Iterator

from dsp.documents.tree import Text
from dsp.parts.expression import names_in, parse_expression
from dsp.parts.kind import Terminal
from dsp.parts.library.index import LIBRARY
from dsp.parts.library.string_sets import STRING_SETS
from dsp.parts.sketch import sketch_joints
from dsp.wiring.editing.document import as_flow, as_text
from dsp.wiring.in_words.questions import EACH, NONE, ONE, PICKUP_KINDS, PLACES, VALUES
from dsp.wiring.in_words.sounds import GROUP, WordedSound, forward_places
from dsp.wiring.in_words.words import InstrumentWords, coil_entries
from dsp.wiring.union import Merge

HEAD = "# Written from words. Places, pots and capacitors are common practice: change what is different."
LOAD = (
    "load:",
    "  like: valve_input                       # 1 MΩ, 150 pF",
    "  cable: {length: 5 m, capacitance: 100 pF/m}",
)
_TURNED = "winding: reverse, magnet: south"


def wiring_text(words: InstrumentWords, sounds: tuple[WordedSound, ...]) -> str:
    """Return the text of a wiring file.

    Parameters
    ----------
    sounds : tuple of WordedSound
        In the order of the positions. One sound without a switch is soldered as it is.
    """
    fixed = not words.switch and len(sounds) == 1
    return "\n".join(
        (
            HEAD,
            "format: 1",
            f"name: {_quoted(words.name or 'New instrument')}",
            "instrument:",
            f"  scale: {_quoted(words.scale or STRING_SETS[words.answer('strings')].scale)}",
            "  strings:                                # lowest first",
            *(f"    - {one}" for one in STRING_SETS[words.answer("strings")].written()),
            "parts:",
            *(f"  {line}" for line in _parts(words, sounds, fixed=fixed)),
            *_couplings(words),
            "joints:",
            *(f"  - [{', '.join(joint)}]" for joint in _joints(words, sounds, fixed=fixed)),
            *_labels(sounds, fixed=fixed),
            *LOAD,
            "",
        )
    )


def _parts(words: InstrumentWords, sounds: tuple[WordedSound, ...], *, fixed: bool) -> Iterator[str]:
    for place in words.pickups:
        yield from _coils(words, place)
    pot, capacitor = VALUES[words.answer("values"), words.paired]
    for name in (*_controls(words, "volumes", "volume"), *_controls(words, "tones", "tone")):
        yield f"{name}: {{kind: pot, resistance: {pot}, taper: measured audio}}"
    for name in _controls(words, "tones", "tone"):
        yield f"{name}_cap: {{kind: capacitor, capacitance: {capacitor}}}"
    if words.apart:
        yield from (f"{place}_{GROUP}: {{kind: group}}" for place in words.pickups)
    if not fixed:
        yield "selector:"
        yield "  kind: sketch"
        yield "  positions:"
        yield from (f"    {n}: {_quoted(sound.expression)}" for n, sound in enumerate(sounds, 1))
    yield "output: {kind: jack}"


def _coils(words: InstrumentWords, place: str) -> Iterator[str]:
    """The coils of a pickup: the first of two is the one nearer to the neck, or the upper one."""
    kind = words.pickups[place]
    entries, apart_m = coil_entries(kind, place), 1e-3 * PICKUP_KINDS[kind].apart_mm
    centre_m = PLACES[place] * words.scale_m
    forward = place in forward_places(words)
    if len(entries) == 1:
        yield _coil(place, entries[0], centre_m, "" if forward else _TURNED)
    elif apart_m > 0.0:
        yield _coil(f"{place}_a", entries[0], centre_m + apart_m / 2.0, "")
        yield _coil(f"{place}_b", entries[1], centre_m - apart_m / 2.0, _TURNED)
    else:  # both stacked coils stand over the same poles
        upper, lower = ("", "winding: reverse") if forward else (_TURNED, "magnet: south")
        yield _coil(f"{place}_a", entries[0], centre_m, upper)
        yield _coil(f"{place}_b", entries[1], centre_m, lower)


def _coil(name: str, like: str, at_m: float, turned: str) -> str:
    return f"{name}: {{kind: coil, like: {like}, at: {1000.0 * at_m:.0f} mm{turned and f', {turned}'}}}"


def _couplings(words: InstrumentWords) -> Iterator[str]:
    paired = [place for place, kind in words.pickups.items() if len(coil_entries(kind, place)) > 1]
    if paired:
        yield "couplings:"
    for place in paired:
        coefficient = LIBRARY[coil_entries(words.pickups[place], place)[0]].coupling
        yield f"  - {{coils: [{place}_a, {place}_b], coefficient: {coefficient:g}}}"


def _controls(words: InstrumentWords, question: str, name: str) -> list[str]:
    """Names of the volumes or tones."""
    answer = words.answer(question)
    if answer == NONE:
        return []
    return [f"{place}_{name}" for place in words.pickups] if answer == EACH and words.apart else [name]


def _joints(
    words: InstrumentWords, sounds: tuple[WordedSound, ...], *, fixed: bool
) -> Iterator[tuple[str, ...]]:
    if words.apart:
        for place in words.pickups:
            yield from _group_joints(words, place)
    hot: tuple[str, ...] = ("selector.hot",)
    cold: tuple[str, ...] = ("selector.cold",)
    if fixed:
        *links, hot, cold = _soldered(sounds[0].expression)
        yield from links
    volume = "volume" in _controls(words, "volumes", "volume")
    tone = "tone" in _controls(words, "tones", "tone")
    yield (*hot, *(("volume.3",) if volume else ()), *(("tone.2",) if tone else ()), *_tip(not volume))
    if tone:
        yield "tone.1", "tone_cap.a"
    if volume:
        yield "volume.2", "output.tip"
    yield (
        *cold,
        *(("volume.1",) if volume else ()),
        *(("tone_cap.b",) if tone else ()),
        "output.sleeve",
    )


def _tip(straight: bool) -> tuple[str, ...]:
    return ("output.tip",) if straight else ()


def _soldered(expression: str) -> tuple[tuple[str, ...], ...]:
    """The joints inside a sound that no switch changes; its hot end; its cold end."""
    hot, cold = ("", "hot"), ("", "cold")
    pairs = list(sketch_joints(parse_expression(expression), hot, cold, _leads))
    merge: Merge[Terminal] = Merge([terminal for pair in pairs for terminal in pair])
    for pair in pairs:
        merge.join(pair)
    nets = sorted(merge.classes(), key=lambda net: (cold in net, hot in net))
    leads = ((t for t in net if t[0] in names_in(parse_expression(expression))) for net in nets)
    return tuple(tuple(map(as_text, net)) for net in leads)


def _leads(name: str) -> tuple[str, str]:
    return ("hot", "cold") if name.endswith(f"_{GROUP}") else ("start", "finish")


def _pickup_ends(words: InstrumentWords, place: str) -> tuple[tuple[str, ...], ...]:
    """The link of a pickup's two coils in series, if any; its hot end; its cold end."""
    if len(coil_entries(words.pickups[place], place)) == 1:
        return (f"{place}.start",), (f"{place}.finish",)
    return (f"{place}_a.finish", f"{place}_b.start"), (f"{place}_a.start",), (f"{place}_b.finish",)


def _group_joints(words: InstrumentWords, place: str) -> Iterator[tuple[str, ...]]:
    """A pickup with controls of its own, between the two leads of its group."""
    *links, hot, cold = _pickup_ends(words, place)
    yield from links
    group = f"{place}_{GROUP}"
    tone = (f"{place}_tone.2",) if words.answer("tones") == EACH else ()
    if words.answer("volumes") == EACH:
        # with the pickup on the wiper a volume at 0 leaves the others their whole track
        pickup, out = ("2", "3") if words.answer("alone") == ONE else ("3", "2")
        yield (*hot, f"{place}_volume.{pickup}", *tone)
        yield f"{place}_volume.{out}", f"{group}.hot"
        cold = (*cold, f"{place}_volume.1")
    else:
        yield (*hot, *tone, f"{group}.hot")
    if tone:
        yield f"{place}_tone.1", f"{place}_tone_cap.a"
        cold = (*cold, f"{place}_tone_cap.b")
    yield (*cold, f"{group}.cold")


def _labels(sounds: tuple[WordedSound, ...], *, fixed: bool) -> Iterator[str]:
    if not fixed:
        yield "labels:"
        yield from (f"  {n}: {_quoted(sound.label)}" for n, sound in enumerate(sounds, 1))


def _quoted(text: str) -> str:
    return as_flow(Text(text, 0))
