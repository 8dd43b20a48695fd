"""Read a score: its head, its events, and what cannot be played."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from dsp.documents.field import Field
from dsp.documents.tree import Entries, Items, Node, Reading, Text
from dsp.documents.values import read_choice, read_count, read_quantity, require_fields
from dsp.errors import nearest
from dsp.strings.curvature import Curvature
from dsp.takes.reading import score_fields as fields
from dsp.takes.score import Event, Glide, Score, Vibrato

MOST_REPORTED = 20
"""Most problems of one kind in a report; the file likely has more of the same."""
UNSTRUCK, MUTED = -1, -2
MARKS = {"x": UNSTRUCK, "m": MUTED}
"""Letters in a strum's frets: a string that is not struck, and one that the left hand lies on."""
SCORE_KEYS = tuple(field.name for field in fields.TOP_FIELDS)


def read_score(reading: Reading, tree: Entries) -> dict[str, Any]:
    """Read the score of a take, under its field in `Take`."""
    head = read_fields(reading, fields.TOP_FIELDS, tree, "the score", others=True)
    defaults = _defaults(reading, tree.get("defaults"))
    events = _events(reading, tree.get("events"), defaults, head.get("courses"))
    lines = {key.text: key.line for key, _ in tree.entries}
    player = read_player(reading, tree, head)
    score = Score(head.get("tempo") or 120.0, events, lines=lines, **player)
    if head.get("tempo"):
        _check_length(reading, score)
        _check_twice(reading, score)
    return {"score": score}


def read_player(reading: Reading, tree: Entries, head: Mapping[str, Any]) -> dict[str, Any]:
    """Map the player's fields to the names of `Score`."""
    return {
        "courses": head.get("courses"),
        "curvature": _curvature(reading, tree.get("curvature")),
        "noises": head.get("noises") != "off",
        **_given(
            head,
            seed="seed",
            timing="timing_s",
            dynamics="dynamics_db",
            place="place_m",
            angle="angle_deg",
            tuning="tuning_cents",
            tail="tail_s",
        ),
    }


def _given(values: Mapping[str, Any], **names: str) -> dict[str, Any]:
    """Map the values in the file to the names of a dataclass."""
    return {ours: values[theirs] for theirs, ours in names.items() if values.get(theirs) is not None}


def read_fields(
    reading: Reading, table: tuple[Field, ...], node: Node | None, what: str, *, others: bool = False
) -> dict[str, Any]:
    """Read a map by its table; forms with their own reader stay nodes."""
    known = {field.name: field for field in table}
    values: dict[str, Any] = {}
    for key, value in reading.entries(node, what):
        field = known.get(key.text)
        if field is None:
            if not others:
                reading.refuse(key, what, ", ".join(known), hint=nearest(key.text, known))
            continue
        read = _READERS.get(field.form)
        values[field.name] = read(reading, field, value, f"{what}: {field.name}") if read else value
    if isinstance(node, Entries):
        require_fields(reading, table, values, node, what)
    return values


_READERS = {"quantity": read_quantity, "choice": read_choice, "count": read_count}


def _defaults(reading: Reading, node: Node | None) -> dict[str, Any]:
    return read_stroke(read_fields(reading, fields.STROKE_FIELDS, node, "defaults")) if node else {}


def read_stroke(values: Mapping[str, Any]) -> dict[str, Any]:
    """Map the fields of any event to the names of `Event`."""
    found = _given(values, force="force", pluck_at="pluck_at_m", mute="mute", length="length", hand="hand")
    for name in ("up", "dead"):
        if values.get(name) is not None:
            found[name] = values[name] == "true"
    return found


def _events(
    reading: Reading, node: Node | None, defaults: Mapping[str, Any], courses: int | None
) -> tuple[Event, ...]:
    items = reading.items(node, "events")
    if isinstance(node, Items) and not items:
        reading.refuse(node, "events", "at least one event", got="none")
    found: list[Event] = []
    for item in items:
        if not isinstance(item, Entries):
            reading.refuse(item, "event", "a map such as {beat: 0, string: 6, fret: 3}")
        elif item.get("frets") is not None:
            found += _strum(reading, item, defaults, courses)
        else:
            found += _note(reading, item, defaults, courses)
        if len(found) > fields.MOST_EVENTS:
            reading.refuse(item, "events", f"at most {fields.MOST_EVENTS} plucks", got=f"{len(found)} so far")
            return ()
    return tuple(found)


def _note(reading: Reading, node: Entries, defaults: Mapping[str, Any], courses: int | None) -> list[Event]:
    values = read_fields(reading, fields.NOTE_FIELDS, node, "event")
    beat, string = values.get("beat"), values.get("string")
    fret = values.get("fret") or 0
    moves: dict[str, Any] = {
        "bend": _bend(reading, values.get("bend")),
        "slide": _slide(reading, values.get("slide"), fret),
        "vibrato": _vibrato(reading, values.get("vibrato")),
    }
    if values.get("harmonic") and any(moves.values()):
        reading.refuse(node, "event", "a harmonic without bend, slide or vibrato", got="both")
    if beat is None or string is None or _beyond(reading, node, string, courses):
        return []
    stroke = {**defaults, **read_stroke(values)}
    harmonic, slur = values.get("harmonic") or 1, values.get("slur") == "true"
    if slur and harmonic > 1:
        reading.refuse(node, "event", "a harmonic or a slur", got="both")
    return [Event(beat, string, fret, harmonic=harmonic, slur=slur, line=node.line, **moves, **stroke)]


def _beyond(reading: Reading, node: Entries, string: int, courses: int | None) -> bool:
    if courses is None or string <= courses:
        return False
    reading.refuse(node.get("string") or node, "event: string", f"1 to {courses}, 1 is the highest")
    return True


def _strum(reading: Reading, node: Entries, defaults: Mapping[str, Any], courses: int | None) -> list[Event]:
    values = read_fields(reading, fields.STRUM_FIELDS, node, "event")
    beat = values.get("beat")
    frets = _frets(reading, values["frets"])
    if not frets or _miscounted(reading, values["frets"], len(frets), courses):
        return []
    struck = [(len(frets) - i, fret) for i, fret in enumerate(frets) if fret != UNSTRUCK]
    stroke = {**defaults, **read_stroke(values)}
    if stroke.get("up"):
        struck.reverse()
    struck = struck[: values.get("reach")]
    spread_s = 0.03 if values.get("spread") is None else values["spread"]
    step_s = spread_s / max(len(struck) - 1, 1)
    if beat is None:
        return []
    return [
        Event(beat, string, max(fret, 0), delay_s=i * step_s, line=node.line, **{**stroke, **_laid(fret)})
        for i, (string, fret) in enumerate(struck)
    ]


def _miscounted(reading: Reading, node: Node, count: int, courses: int | None) -> bool:
    """Refuse too few frets like too many: their strings would be unknown."""
    if count == courses or (courses is None and count <= fields.MOST_STRINGS):
        return False
    allowed = f"at most {fields.MOST_STRINGS}" if courses is None else f"{courses}, one for each course"
    reading.refuse(node, "event: frets", allowed, got=f"{count} frets")
    return True


def _laid(fret: int) -> dict[str, bool]:
    """Return what a fret in a strum says of the left hand."""
    return {"dead": True} if fret == MUTED else {}


def _frets(reading: Reading, node: Node) -> list[int]:
    """Read a fret per string, lowest first, or one of `MARKS`."""
    field = next(field for field in fields.NOTE_FIELDS if field.name == "fret")
    found: list[int] = []
    sound = len(reading.problems)
    for item in reading.items(node, "event: frets"):
        mark = MARKS.get(item.text.strip().lower()) if isinstance(item, Text) else None
        read = read_count(reading, field, item, "event: frets") if mark is None else mark
        found.append(UNSTRUCK if read is None else read)
    if all(fret == UNSTRUCK for fret in found) and len(reading.problems) == sound:
        reading.refuse(node, "event: frets", "a fret, m or x per string, lowest first", got="none struck")
    return found


def _bend(reading: Reading, node: Node | None) -> Glide | None:
    values = read_fields(reading, fields.BEND_FIELDS, node, "bend")
    return (
        None
        if values.get("to") is None
        else Glide(values["to"], **_given(values, after="after", over="over"))
    )


def _slide(reading: Reading, node: Node | None, fret: int) -> Glide | None:
    values = read_fields(reading, fields.SLIDE_FIELDS, node, "slide")
    if values.get("to") is None:
        return None
    return Glide(values["to"] - fret, **_given(values, after="after", over="over"))


def _vibrato(reading: Reading, node: Node | None) -> Vibrato | None:
    values = read_fields(reading, fields.VIBRATO_FIELDS, node, "vibrato")
    if values.get("depth") is None:
        return None
    return Vibrato(values["depth"], **_given(values, rate="rate_hz", after="after"))


def _curvature(reading: Reading, node: Node | None) -> Curvature | None:
    if isinstance(node, Text):
        if node.text not in ("on", "off"):
            reading.refuse(node, "curvature", "on, off or {distance: 11.25 mm, power: 8}")
        return Curvature() if node.text == "on" else None
    if node is None:
        return Curvature()
    values = read_fields(reading, fields.CURVATURE_FIELDS, node, "curvature")
    return Curvature(**_given(values, distance="distance_m", power="power"))


def _check_twice(reading: Reading, score: Score) -> None:
    """Refuse two plucks of one string at once: the second would silence the first."""
    struck: dict[int, Event] = {}
    found = 0
    for event in sorted(score.events, key=lambda one: (one.beat * score.beat_s + one.delay_s, one.line)):
        before = struck.get(event.string)
        struck[event.string] = event
        if before is None:
            if event.slur:
                got = f"no note on string {event.string} before"
                reading.refuse(Text("", event.line), "event: slur", "a note to slur from", got=got)
            continue
        apart_s = (event.beat - before.beat) * score.beat_s + event.delay_s - before.delay_s
        if apart_s < fields.SOONEST_S:
            got = f"string {event.string} again {1e3 * apart_s:.0f} ms after line {before.line}"
            allowed = f"{1e3 * fields.SOONEST_S:.0f} ms or more between two plucks of one string"
            reading.refuse(Text("", event.line), "event", allowed, got=got)
            found += 1
        if found == MOST_REPORTED:
            return


def _check_length(reading: Reading, score: Score) -> None:
    """Refuse events that end beyond the longest take, and a take that is too short."""
    for event in score.events:
        ends_s = score.ends_s(event)
        if ends_s > fields.LONGEST_S:
            got, allowed = f"an end at {ends_s:.0f} s", f"within {fields.LONGEST_S:.0f} s at this tempo"
            reading.refuse(Text("", event.line), "event", allowed, got=got)
    if score.events and score.seconds < fields.SHORTEST_S:
        got, allowed = f"a take of {score.seconds:.3f} s", f"at least {fields.SHORTEST_S:g} s: a longer tail"
        reading.refuse(Text("", score.lines.get("tail", 1)), "tail", allowed, got=got)
