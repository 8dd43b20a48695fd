"""Unplayable scores: each gives an InputError with file and line, fast and in little memory."""

from __future__ import annotations

import time
import tracemalloc
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dsp.errors import InputError, Problem
from dsp.takes.player import notes_of
from dsp.takes.reading.score_fields import NOTE_FIELDS, STRUM_FIELDS, TOP_FIELDS
from dsp.takes.reading.take import read_take
from dsp.wiring.model import Wiring
from dsp.wiring.reading.wiring import read_wiring
from server.files.yaml_text import parse_tree
from server.takes.load import load_take

SOON_S = 5.0
"""Of processor time. The bar is one second; five leave room for a slow machine."""
LITTLE_BYTES = 80e6
HEAD = "format: 1\nname: Test\nkind: score\ntempo: 120\ncourses: 6\n"
EVENT = "{beat: 0, string: 6, fret: 3}"
SCORE = f"{HEAD}events:\n  - {EVENT}\n  - {{beat: 1, frets: [3, 2, 0, 0, 0, 3], spread: 20 ms}}\n"
MOVED = (
    f"{HEAD}defaults: {{force: 0.5, hand: finger}}\ncurvature: {{distance: 8 mm, power: 2}}\nseed: 4\n"
    "events:\n  - {beat: 0, string: 2, fret: 5, bend: {to: 2, after: 0.5}, vibrato: {depth: 0.3}}\n"
    "  - {beat: 2, string: 1, fret: 5, slide: {to: 9, over: 0.3}, length: 1}\n"
    "  - {beat: 4, string: 5, harmonic: 2, pluck_at: 60 mm, mute: 0, up: true}\n"
)
GAUGES = (
    "E2, gauge: 0.046 in, wound: true",
    "A2, gauge: 0.036 in, wound: true",
    "D3, gauge: 0.026 in, wound: true",
    "G3, gauge: 0.017 in",
    "B3, gauge: 0.013 in",
    "E4, gauge: 0.010 in",
)
STRINGS = ", ".join("{note: " + string + "}" for string in GAUGES)
WIRING = f"""format: 1
instrument: {{scale: 648 mm, strings: [{STRINGS}]}}
parts:
  neck: {{kind: coil, resistance: 4 kΩ, inductance: 2 H, capacitance: 80 pF, at: 160 mm}}
  bridge: {{kind: coil, resistance: 5 kΩ, inductance: 3 H, capacitance: 80 pF, at: 40 mm}}
  output: {{kind: jack}}
joints:
  - [neck.start, output.tip]
  - [neck.finish, output.sleeve]
"""


def wiring(text: str = WIRING) -> Wiring:
    return read_wiring(parse_tree(text, "six.yaml"), "six.yaml")


def one(event: str) -> str:
    """Return a score of one event, on line 7."""
    return f"{HEAD}events:\n  - {event}\n"


def plus(fields: str) -> str:
    """Return a score of one valid event with further fields."""
    return one(f"{EVENT[:-1]}, {fields}}}")


def refused(tmp_path: Path, text: str, listening: Wiring | None = None) -> tuple[Problem, ...]:
    path = tmp_path / "score.yaml"
    path.write_text(text, encoding="utf-8")
    listening = listening or wiring()
    tracemalloc.start()
    start = time.process_time()
    try:
        with pytest.raises(InputError) as caught:
            list(load_take(path).stems(listening, 48_000))
        assert tracemalloc.get_traced_memory()[1] < LITTLE_BYTES
    finally:
        tracemalloc.stop()
    assert time.process_time() - start < SOON_S
    found = caught.value.problems
    assert all(problem.got and problem.allowed for problem in found)
    assert len({str(problem) for problem in found}) == len(found), "a problem reported twice"
    return found


def test_the_valid_scores_these_start_from() -> None:
    for text in (SCORE, MOVED):
        score = read_take(parse_tree(text, "s.yaml"), "s.yaml").score
        assert score is not None
        instrument = wiring().instrument
        assert instrument is not None
        assert notes_of(score, instrument, "s.yaml")


@pytest.mark.parametrize(
    ("text", "line", "got", "advice"),
    [
        (one("{beat: 0, string: 6, fret: 60}"), 7, "'60'", "a whole number from 0 to 36"),
        (one("{beat: 0, string: 6, fret: 1.5}"), 7, "'1.5'", "a whole number from 0 to 36"),
        (one("{beat: 0, string: 9}"), 7, "'9'", "1 to 6, 1 is the highest"),
        (one("{beat: 0, string: 9}").replace("courses: 6", "seed: 1"), 7, "9", "1 to 6 on this instrument"),
        (one("{beat: 0, string: 0}"), 7, "'0'", "from 1 to 24"),
        (one("{beat: 0}"), 7, "no string", "1 is the highest"),
        (one("{string: 1}"), 7, "no beat", "in beats from 0"),
        (one("{beat: -1, string: 1}"), 7, "'-1'", "from 0 to 100000"),
        (one("{beat: x, string: 1}"), 7, "'x'", "a number"),
        (one("{beat: nan, string: 1}"), 7, "'nan'", "a number"),
        (one("{beat: [0], string: 1}"), 7, "a list of 1", "one value"),
        (plus("length: 90000"), 7, "an end at 45000 s", "within 1800 s at this tempo"),
        (plus("length: 0"), 7, "'0'", "from 0.001"),
        (one("{beat: 99999, string: 1}"), 7, "an end at 50000 s", "within 1800 s"),
        (SCORE.replace("tempo: 120", "tempo: 0"), 4, "'0'", "from 10 to 500"),
        (SCORE.replace("tempo: 120\n", ""), 1, "no tempo", "beats per minute"),
        (SCORE.replace("tempo: 120", "tempo: fast"), 4, "'fast'", "a number"),
        (SCORE.replace("tempo:", "tempi:"), 4, "'tempi'", "did you mean 'tempo'?"),
        (SCORE.replace("courses: 6", "courses: 25"), 5, "'25'", "from 1 to 24"),
        (SCORE.replace("courses: 6", "seed: -1"), 5, "'-1'", "a whole number from 0"),
        (SCORE.replace("courses: 6", "timing: 4 V"), 5, "'4 V'", "a time"),
        (SCORE.replace("courses: 6", "tail: 2 h"), 5, "'2 h'", "a time"),
        (one(EVENT).replace("courses: 6", "tail: 0 s"), 5, "a take of 0.000 s", "a longer tail"),
        (plus("forse: 0.5"), 7, "'forse'", "did you mean 'force'?"),
        (plus("force: 3"), 7, "'3'", "from 0 to 1"),
        (plus("hand: foot"), 7, "'foot'", "pick or finger"),
        (plus("up: maybe"), 7, "'maybe'", "true or false"),
        (plus("mute: 2"), 7, "'2'", "from 0 to 1"),
        (plus("harmonic: 1"), 7, "'1'", "from 2 to 12"),
        (plus("harmonic: 3, bend: {to: 1}"), 7, "both", "without bend, slide or vibrato"),
        (plus("bend: {to: 1, ower: 1}"), 7, "'ower'", "did you mean 'over'?"),
        (plus("bend: {after: 1}"), 7, "no to", "semitones"),
        (plus("bend: 2"), 7, "'2'", "a map"),
        (plus("bend: {to: 12}"), 7, "'12'", "from -2 to 5"),
        (plus("slide: {too: 5}"), 7, "'too'", "did you mean 'to'?"),
        (plus("slide: {to: 40}"), 7, "'40'", "from 0 to 36"),
        (plus("vibrato: {dept: 1}"), 7, "'dept'", "did you mean 'depth'?"),
        (plus("vibrato: {depth: 1, rate: 50 Hz}"), 7, "'50 Hz'", "from 0.5 Hz to 15 Hz"),
        (SCORE.replace("courses: 6", "defaults: {strin: 2}"), 5, "'strin'", "force, pluck_at"),
        (SCORE.replace("courses: 6", "defaults: {fret: 2}"), 5, "'fret'", "force, pluck_at"),
        (SCORE.replace("courses: 6", "defaults: 0.6"), 5, "'0.6'", "a map"),
        (SCORE.replace("courses: 6", "defaults: {force: -1}"), 5, "'-1'", "from 0 to 1"),
        (SCORE.replace("courses: 6", "curvature: {powers: 2}"), 5, "'powers'", "did you mean 'power'?"),
        (SCORE.replace("courses: 6", "curvature: yes"), 5, "'yes'", "on, off or"),
        (SCORE.replace("courses: 6", "curvature: [on]"), 5, "a list of 1", "a map"),
        (SCORE.replace("courses: 6", "noises: none"), 5, "'none'", "on or off"),
        (HEAD, 1, "no events", "plucks and strums"),
        (f"{HEAD}events: []\n", 6, "none", "at least one event"),
        (f"{HEAD}events:\n", 6, "''", "a list"),
        (f"{HEAD}events: now\n", 6, "'now'", "a list"),
        (f"{HEAD}events: {{beat: 0}}\n", 6, "a map with beat", "a list"),
        (one("[0, 6, 3]"), 7, "a list of 3", "a map such as"),
        (one("pluck"), 7, "'pluck'", "a map such as"),
        (one("{beat: 0, frets: [x, x, x, x, x, x]}"), 7, "none struck", "a fret, m or x per string"),
        (one("{beat: 0, frets: []}"), 7, "none struck", "a fret, m or x per string"),
        (one("{beat: 0, frets: 3}"), 7, "'3'", "a list"),
        (one("{beat: 0, frets: [0, 0, 0, 0, 0, 0, 0]}"), 7, "7 frets", "6, one for each course"),
        (one("{beat: 0, frets: [0, 2, 2]}"), 7, "3 frets", "6, one for each course"),
        (one("{beat: 0, frets: [y, 0, 0, 0, 0, 0]}"), 7, "'y'", "from 0 to 36"),
        (one("{beat: 0, frets: [0, 0, 0, 0, 0, 0], string: 3}"), 7, "'string'", "beat, frets, spread"),
        (one("{beat: 0, frets: [0, 0, 0, 0, 0, 0], spread: 5 s}"), 7, "'5 s'", "from 0 s to 2 s"),
        (
            one(f"{{beat: 0, frets: [{', '.join('0' * 25)}]}}").replace("courses: 6", "seed: 1"),
            7,
            "25 frets",
            "at most 24",
        ),
        (
            one(f"{{beat: 0, frets: [{', '.join('0' * 7)}]}}").replace("courses: 6", "seed: 1"),
            7,
            "7",
            "1 to 6 on this instrument",
        ),
        (plus("pluck_at: 80"), 7, "'80'", "mm"),
        (plus("pluck_at: 5 m"), 7, "'5 m'", "from 1 mm to 3 m"),
        (
            one("{beat: 0, string: 1, fret: 24, pluck_at: 170 mm}"),
            7,
            "170 mm from the bridge at fret 24",
            "less than the 162 mm that sound",
        ),
        (plus("force: 0.5, force: 0.6"), 7, "'force' again", "each name once"),
        (SCORE + "events: []\n", 9, "'events' again", "it stands already"),
        (SCORE + "audio: a.wav\n", 9, "'audio'", "tempo, events"),
        ("format: 1\nkind: score\nevents: *x\n", 3, "alias", "YAML"),
        (f"{HEAD}events: !!python/tuple [1]\n", 6, "the tag", "without tags"),
    ],
)
def test_scores_that_cannot_be_played(tmp_path: Path, text: str, line: int, got: str, advice: str) -> None:
    found = refused(tmp_path, text)
    where = f"{tmp_path / 'score.yaml'}:{line}:"
    assert any(
        f"{p.where}:".startswith(where) and got in p.got and advice in f"{p.allowed} {p.hint}" for p in found
    ), found


def test_a_further_valid_event_makes_no_further_problem(tmp_path: Path) -> None:
    """Each slip above is one problem, and causes no others."""
    for text in (
        one("{beat: 0, string: 9}"),
        plus("force: 3"),
        one("{beat: 0, frets: [0, 2, 2]}"),
        one("[0]"),
    ):
        assert len(refused(tmp_path, text)) == 1


def test_all_problems_of_a_score_at_once(tmp_path: Path) -> None:
    text = (
        "format: 1\nname: Test\nkind: score\ntempo: fast\ncourses: 6\nseed: x\ntitle: T\nevents:\n"
        "  - {beat: 0, string: 9, force: 3}\n"
        "  - {beat: -1, frets: [x, x, x, x, x, x]}\n"
        "  - {beat: 1, string: 2, bend: {too: 1}}\n"
        "  - strum\n"
    )
    lines = [int(p.where.split(":")[1]) for p in refused(tmp_path, text)]
    assert sorted(lines) == [4, 6, 7, 9, 9, 10, 10, 11, 11, 12]  # the bend: no `to`, and an unknown key


def test_an_empty_list_of_events_is_reported_with_other_problems(tmp_path: Path) -> None:
    found = refused(tmp_path, "format: 2\nkind: score\ntempo: 0\nevents: []\n")
    assert [int(p.where.split(":")[1]) for p in found] == [1, 3, 4]


def test_all_events_beyond_the_instrument_at_once(tmp_path: Path) -> None:
    text = (
        "format: 1\nkind: score\ntempo: 120\nevents:\n  - {beat: 0, string: 9}\n  - {beat: 1, string: 7}\n"
        "  - {beat: 2, string: 1, fret: 30, pluck_at: 300 mm}\n  - {beat: 3, string: 1}\n"
    )
    found = refused(tmp_path, text)
    file = tmp_path / "score.yaml"
    assert [p.where for p in found] == [f"{file}:5: string", f"{file}:6: string", f"{file}:7: pluck_at"]


def test_courses_count_in_the_error_of_an_instrument(tmp_path: Path) -> None:
    """Six courses on an instrument of four strings are single strings: there is no fifth."""
    four = wiring(
        WIRING.replace(", ".join("{note: " + one + "}" for one in GAUGES[4:]), "").replace(", ]", "]")
    )
    (problem,) = refused(tmp_path, one("{beat: 0, string: 5}"), four)
    assert "1 to 4" in problem.allowed


@pytest.mark.parametrize("plucks", [5001, 5004])
def test_more_plucks_than_a_take_may_have(tmp_path: Path, plucks: int) -> None:
    """As strums: a file of so many single plucks would be too large first."""
    strums = ["  - {beat: 0, frets: [" + ",".join("0" * 24) + "]}\n"] * (plucks // 24)
    rest = ["  - {beat: 9, frets: [" + ",".join("0" * (plucks % 24)) + "]}\n"]
    text = HEAD.replace("courses: 6\n", "") + "events:\n" + "".join(strums + rest)
    (problem,) = refused(tmp_path, text)
    assert "at most 5000 plucks" in problem.allowed


def test_as_many_plucks_as_a_take_may_have() -> None:
    text = HEAD.replace("courses: 6\n", "") + "events:\n"
    strum = "frets: [" + ",".join("0" * 20) + "]"
    text += "".join(f"  - {{beat: {beat}, {strum}}}\n" for beat in range(250))
    score = read_take(parse_tree(text, "s.yaml"), "s.yaml").score
    assert score is not None
    assert len(score.events) == 5000


def test_a_string_struck_twice_at_once(tmp_path: Path) -> None:
    events = "events:\n  - {beat: 0, frets: [0, 2, 2, 1, 0, 0], spread: 0}\n  - {beat: 0, string: 6}\n"
    (problem,) = refused(tmp_path, HEAD + events)
    assert problem.where.endswith(":8: event")
    assert problem.got == "string 6 again 0 ms after line 7"
    assert "20 ms or more" in problem.allowed
    many = HEAD + "events:\n" + "  - {beat: 1, string: 1}\n" * 500
    assert len(refused(tmp_path, many)) <= 20


def test_single_plucks_beyond_what_a_file_may_hold(tmp_path: Path) -> None:
    (problem,) = refused(tmp_path, HEAD + "events:\n" + "  - {beat: 0, string: 1}\n" * 5001)
    assert "64 KiB" in problem.allowed


@pytest.mark.parametrize(
    "text",
    [
        HEAD + "events: " + "[" * 3000 + "]" * 3000 + "\n",
        HEAD + "events: " + "[" * 60 + "]" * 60 + "\n",
        HEAD + "events:\n" + "".join(" " * i + "-\n" for i in range(1, 300)),
        HEAD + "events: [" + "{beat: 0, string: 1}, " * 1000 + "]\n",
        HEAD + "a: &a [0, 0, 0, 0, 0, 0, 0, 0, 0, 0]\n" + "".join(
            f"{b}: &{b} [{', '.join([f'*{a}'] * 10)}]\n" for a, b in zip("abcdef", "bcdefg", strict=True)
        ),
        HEAD + "events:\n" + "# much\n" * 20_000,
    ],
    ids=["brackets", "sixty brackets", "dashes", "one line", "aliases of aliases", "comments"],
)  # fmt: skip
def test_deep_and_huge_yaml(tmp_path: Path, text: str) -> None:
    assert refused(tmp_path, text)


def test_coils_without_a_place(tmp_path: Path) -> None:
    """The wiring is at fault: each coil is named with its line there."""
    nowhere = wiring(WIRING.replace(", at: 160 mm", "").replace(", at: 40 mm", ""))
    found = refused(tmp_path, SCORE, nowhere)
    assert [(p.where, p.got) for p in found] == [
        ("six.yaml:4: neck", "no at"),
        ("six.yaml:5: bridge", "no at"),
    ]
    assert all("from the bridge" in p.allowed for p in found)


@settings(max_examples=150, derandomize=True, deadline=None)
@given(
    st.sampled_from([SCORE, MOVED]),
    st.integers(0, 420),
    st.integers(0, 12),
    st.sampled_from(["", "[", ": ", "\n", "*a", "- ", "0", "{}", "}", "e9", "x", ", ", "-", "\t", "'"]),
)
def test_a_score_with_a_slip_is_read_or_refused(text: str, at: int, cut: int, extra: str) -> None:
    slipped = text[:at] + extra + text[at + cut :]
    instrument = wiring().instrument
    assert instrument is not None
    try:
        score = read_take(parse_tree(slipped, "s.yaml"), "s.yaml").score
        notes = notes_of(score, instrument, "s.yaml") if score else ()
    except InputError:
        return  # any other error fails the test
    assert score is not None
    assert 0.0 < score.seconds < 4000.0
    assert len(notes) == len(score.events)


NUMBERS = ("0", "1", "2", "5", "0.5", "-1", "36", "37", "999999999", "1e5", "1e400", "nan", "∞", "²", "٣")
WORDS = ("x", "X", "''", "on", "true", "finger", "8 mm", "80 %", "60 mm", "20 ms", "1 dB", "5 Hz")
TREES = ("[]", "{}", "[0, x, 2]", "[x]", "{to: 2}", "{to: 2, after: 1, over: 0.5}", "{depth: 0.3}", "{to: x}")
VALUES = st.sampled_from([*NUMBERS, *WORDS, *TREES])
HEADS = st.sampled_from([*(field.name for field in TOP_FIELDS if field.name != "events"), "title"])
FIELDS = st.sampled_from(sorted({field.name for field in (*NOTE_FIELDS, *STRUM_FIELDS)} | {"note"}))


@settings(max_examples=150, derandomize=True, deadline=None)
@given(st.dictionaries(HEADS, VALUES, max_size=3), st.lists(st.dictionaries(FIELDS, VALUES, max_size=5)))
def test_any_words_in_any_field_are_read_or_refused(
    head: dict[str, str], events: list[dict[str, str]]
) -> None:
    """Valid YAML, so that every case reaches the tables of the score."""
    top = {"format": "1", "kind": "score", "tempo": "120", **head}
    rows = [{"beat": "0", "string": "1", **event} if "frets" not in event else event for event in events]
    lines = [f"{name}: {value}" for name, value in top.items()] + ["events:"]
    lines += ["  - {" + ", ".join(f"{name}: {value}" for name, value in row.items()) + "}" for row in rows]
    instrument = wiring().instrument
    assert instrument is not None
    try:
        score = read_take(parse_tree("\n".join(lines) + "\n", "s.yaml"), "s.yaml").score
        notes = notes_of(score, instrument, "s.yaml") if score else ()
    except InputError:
        return
    assert notes
    assert all(0 <= note.string < 6 and note.pluck_at_m > 0.0 and note.start_s >= 0.0 for note in notes)
