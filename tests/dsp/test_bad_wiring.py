"""Files that are no wirings: always an InputError with its place, soon, and never anything else."""

from __future__ import annotations

import time
import tracemalloc
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dsp.document.field import Field
from dsp.errors import InputError, Problem
from dsp.parts import fields
from dsp.wiring.model import Wiring
from dsp.wiring.reader import read_wiring
from server.storage.wiring_file import WiringText, load_wiring
from server.storage.yaml_text import LARGEST, parse_tree

NETWORKS = sorted((Path(__file__).parents[1] / "reference/networks").glob("*.yaml"))
SOON_S = 5.0
"""The bar is a second; five of them, so that a busy machine fails nothing."""
LITTLE_BYTES = 150e6

COIL = "{kind: coil, resistance: 5k, inductance: 2H, capacitance: 80p}"
HEAD = f"format: 1\nparts:\n  a: {COIL}\n  output: {{kind: jack}}\n"


def read(text: str) -> Wiring:
    return read_wiring(parse_tree(text, "bad.yaml"), "bad.yaml")


def refused(text: str) -> tuple[Problem, ...]:
    """The problems, each with its line, found soon."""
    start = time.perf_counter()
    with pytest.raises(InputError) as caught:
        read(text)
    assert time.perf_counter() - start < SOON_S
    for problem in caught.value.problems:
        assert problem.where.startswith("bad.yaml:"), problem
        assert problem.got
        assert problem.allowed
        assert len(str(problem)) < 6000
    return caught.value.problems


def test_the_sound_file_these_start_from() -> None:
    assert set(read(HEAD).coils) == {"a"}


# Every quantity of the table of parts, and every quantity of the smaller maps.

MINIMAL = {
    "coil": {"resistance": "5k", "inductance": "2H", "capacitance": "80p"},
    "pot": {"resistance": "500k", "taper": "audio"},
    "capacitor": {"capacitance": "22n"},
    "resistor": {"resistance": "1M"},
    "inductor": {"inductance": "1.5H"},
}
AROUND = {
    "eddy": (fields.EDDY_FIELDS, {"share": "18 %", "corner": "3k"}, "parts: {{x: {{like: , eddy: [{}]}}}}"),
    "couplings": (fields.COUPLING_FIELDS, {"coils": "[a, b]", "coefficient": "0.1"}, ""),
    "cable": (fields.CABLE_FIELDS, {"length": "5 m", "capacitance": "100 pF/m"}, ""),
    "amplifier": (fields.AMPLIFIER_FIELDS, {"resistance": "1M", "capacitance": "20p"}, ""),
    "instrument": (fields.INSTRUMENT_FIELDS, {"scale": "686 mm"}, ""),
    "string": (fields.STRING_FIELDS, {"note": "B1", "gauge": "0.062 in"}, ""),
}
UNITS = {
    "resistance": "Ω", "capacitance": "F", "inductance": "H", "length": "m", "frequency": "Hz", "share": "",
    "capacitance per length": "F/m", "level": "dB", "number": "", "time": "s",
}  # fmt: skip
WORDS = ("nan", ".nan", "inf", "-.inf", "", "~", "[]", "{}", "[1, 2]", "yes", "1e999", "-1e999", "9" * 400, "0x10", "1_000", "1,5")


def quantities(table: tuple[Field, ...]) -> Iterator[Field]:
    return (field for field in table if field.form in ("quantity", "levels"))


def outside(field: Field) -> Iterator[str]:
    """Just and far outside the bounds, both ways, zero and negative where they are not allowed."""
    unit = UNITS[field.dimension]
    for value in (0.0, -1.0, field.lowest * 0.999, field.highest * 1.001, 1e200, -1e200, 1e-300):
        if not field.lowest <= value <= field.highest:
            yield f"{value!r} {unit}".strip()


def file_with(place: str, name: str, value: str) -> str:
    """A file that is sound but for one value."""
    if place in MINIMAL:
        given_ = {**MINIMAL[place], name: value}
        body = "".join(f"\n    {key}: {text}" for key, text in given_.items())
        return f"{HEAD}  x:\n    kind: {place}{body}\n"
    table = {**AROUND[place][1], name: value}
    flow = "{" + ", ".join(f"{key}: {text}" for key, text in table.items()) + "}"
    pair = f"{HEAD}  b: {COIL}\n"
    return {
        "eddy": f"{HEAD}  x: {COIL[:-1]}, eddy: [{flow}]}}\n",
        "couplings": f"{pair}couplings: [{flow}]\n",
        "cable": f"{HEAD}load: {{cable: {flow}}}\n",
        "amplifier": f"{HEAD}load: {{amplifier: {flow}}}\n",
        "instrument": f"{HEAD}instrument: {flow}\n",
        "string": f"{HEAD}instrument: {{scale: 686 mm, strings: [{flow}]}}\n",
    }[place]


PLACES = [
    (place, field)
    for place, table in [*((kind, fields.KINDS[kind]) for kind in MINIMAL), *((k, v[0]) for k, v in AROUND.items())]
    for field in quantities(table)
]


def test_every_kind_with_quantities_is_tried() -> None:
    with_quantities = {kind for kind, table in fields.KINDS.items() if list(quantities(table))}
    assert with_quantities == set(MINIMAL)


@pytest.mark.parametrize(("place", "field"), PLACES, ids=lambda x: x if isinstance(x, str) else x.name)
def test_values_that_no_part_can_have(place: str, field: Field) -> None:
    wrap = "[{}]" if field.form == "levels" else "{}"
    for written in (*outside(field), *WORDS):
        if place in AROUND and written in ("", "1,5"):
            continue  # in a map of one line these are YAML's business
        found = refused(file_with(place, field.name, wrap.format(written)))
        assert any(field.name in problem.where or field.name in str(problem) for problem in found), written


@pytest.mark.parametrize(("place", "field"), PLACES, ids=lambda x: x if isinstance(x, str) else x.name)
def test_values_at_the_bounds_are_allowed(place: str, field: Field) -> None:
    """The twin: the bound itself is no error (a coefficient's is, being strict)."""
    wrap = "[{}]" if field.form == "levels" else "{}"
    for value in (field.lowest, field.highest):
        text = file_with(place, field.name, wrap.format(f"{value!r} {UNITS[field.dimension]}".strip()))
        if place == "couplings":
            refused(text)
        else:
            read(text)


UNKNOWN = {
    "a key at the top": (f"{HEAD}job: 1\n", "'job'", "joints"),
    "a kind": (f"{HEAD}  x: {{kind: resitor, resistance: 1M}}\n", "'resitor'", "did you mean 'resistor'?"),
    "a field": (f"{HEAD}  x: {{kind: resistor, resistence: 1M}}\n", "'resistence'", "did you mean 'resistance'?"),
    "a choice": (HEAD.replace("80p}", "80p, winding: forwards}"), "'forwards'", "did you mean 'forward'?"),
    "a taper": (f"{HEAD}  x: {{kind: pot, resistance: 1M, taper: linaer}}\n", "linaer", "did you mean 'linear'?"),
    "a library part": (f"{HEAD}  x: {{like: nothing at all}}\n", "'nothing at all'", "presolder parts"),
    "a part in a joint": (f"{HEAD}joints: [[a.start, outputt.tip]]\n", "'outputt.tip'", "did you mean 'output'?"),
    "a lead in a joint": (f"{HEAD}joints: [[a.strat, output.tip]]\n", "'a.strat'", "did you mean 'start'?"),
    "a terminal without lead": (f"{HEAD}joints: [[a, output.tip]]\n", "'a'", "part.terminal"),
    "a coil in a coupling": (f"{HEAD}couplings: [{{coils: [a, aa], coefficient: 0.1}}]\n", "'aa'", "did you mean 'a'?"),
    "a partner": (f"{HEAD}ganged: {{a: outputs}}\n", "'outputs'", "did you mean 'output'?"),
    "a name in a sketch": (f"{HEAD}  selector: {{kind: sketch, positions: {{1: a + bb}}}}\n", "'bb'", "a"),
    "a position in labels": (f"{HEAD}labels: {{2: Neck}}\n", "'2'", "1"),
    "a part of the load": (f"{HEAD}load: {{amp: {{resistance: 1M}}}}\n", "'amp'", "amplifier"),
    "a lug": (f"{HEAD}  x: {{kind: switch, lugs: [A0, A1], contacts: {{1: [[A0, A2]]}}}}\n", "A2", "A0, A1"),
    "a note": (f"{HEAD}instrument: {{scale: 686 mm, strings: [{{note: H1, gauge: 1 mm}}]}}\n", "'H1'", "B1"),
}


@pytest.mark.parametrize("what", UNKNOWN)
def test_unknown_names(what: str) -> None:
    text, got, told = UNKNOWN[what]
    (problem,) = refused(text)
    assert got in problem.got
    assert told in f"{problem.allowed} {problem.hint}"


SWITCH = "{{kind: switch, lugs: [A0, A1, A2], contacts: {}}}"
CONTRADICTIONS = {
    "a lug in two groups": f"{HEAD}  x: {SWITCH.format('{1: [[A0, A1], [A1, A2]]}')}\n",
    "a lug twice in a group": f"{HEAD}  x: {SWITCH.format('{1: [[A0, A0]]}')}\n",
    "a group of one": f"{HEAD}  x: {SWITCH.format('{1: [[A0]]}')}\n",
    "no positions": f"{HEAD}  x: {SWITCH.format('{}')}\n",
    "contacts that are no map": f"{HEAD}  x: {SWITCH.format('[A0, A1]')}\n",
    "groups that are no lists": f"{HEAD}  x: {SWITCH.format('{1: [A0, A1]}')}\n",
    "a lug named twice": f"{HEAD}  x: {{kind: switch, lugs: [A0, A0], contacts: {{1: []}}}}\n",
    "both ways to say a switch": f"{HEAD}  x: {SWITCH.format('{1: []}')[:-1]}, poles: 1, positions: 2}}\n",
    "half a shorthand": f"{HEAD}  x: {{kind: switch, poles: 2}}\n",
    "no poles": f"{HEAD}  x: {{kind: switch, poles: 0, positions: 3}}\n",
    "half a pole": f"{HEAD}  x: {{kind: switch, poles: 1.5, positions: 3}}\n",
    "more lugs than fit": f"{HEAD}  x: {{kind: switch, poles: 24, positions: 24}}\n",
    "a great many positions": f"{HEAD}  x: {{kind: switch, poles: 1, positions: {'9' * 5000}}}\n",
    "a number with a long tail": f"{HEAD}  x: {{kind: switch, poles: 1, positions: 00000000{'1' * 5000}}}\n",
    "no jack": f"format: 1\nparts:\n  a: {COIL}\n",
    "two jacks": f"{HEAD}  second: {{kind: jack}}\n",
    "no coil": "format: 1\nparts:\n  output: {kind: jack}\n  r: {kind: resistor, resistance: 1M}\n",
    "no parts": "format: 1\n",
    "parts that are a list": "format: 1\nparts: [a, b]\n",
    "a part that is a word": f"{HEAD}  x: coil\n",
    "a part without a kind": f"{HEAD}  x: {{resistance: 1M}}\n",
    "a field missing": f"{HEAD}  x: {{kind: coil, resistance: 5k, inductance: 2H}}\n",
    "a sketch without positions": f"{HEAD}  selector: {{kind: sketch, positions: {{}}}}\n",
    "a sketch that is no selector": f"{HEAD}  x: {{kind: sketch, positions: {{1: a}}}}\n",
    "a part twice in a sketch": f"{HEAD}  selector: {{kind: sketch, positions: {{1: a + a}}}}\n",
    "a part joined to itself by name": f"{HEAD}joints: [[a.start, a.start]]\n",
    "a joint of one": f"{HEAD}joints: [[a.start]]\n",
    "a joint of none": f"{HEAD}joints: [[]]\n",
    "a joint that is a word": f"{HEAD}joints: [a.start]\n",
    "joints that are a map": f"{HEAD}joints: {{a: b}}\n",
    "ganged with itself": f"{HEAD}ganged: {{a: a}}\n",
    "ganged in a ring": f"{HEAD}  b: {COIL}\n  c: {COIL}\nganged: {{a: b, b: c, c: a}}\n",
    "ganged in a ring, told in the parts": (
        f"{HEAD}  b: {COIL[:-1]}, ganged: {{part: c}}}}\n  c: {COIL[:-1]}, ganged: {{part: b}}}}\n"
    ),
    "ganged without a partner": f"{HEAD}  b: {COIL[:-1]}, ganged: {{}}}}\n",
    "a coil coupled to itself": f"{HEAD}couplings: [{{coils: [a, a], coefficient: 0.1}}]\n",
    "a coupling of three": f"{HEAD}  b: {COIL}\n  c: {COIL}\ncouplings: [{{coils: [a, b, c], coefficient: 0.1}}]\n",
    "a pair coupled twice": (
        f"{HEAD}  b: {COIL}\ncouplings:\n  - {{coils: [a, b], coefficient: 0.1}}\n  - {{coils: [b, a], coefficient: 0.2}}\n"
    ),
    "a coupling of one": f"{HEAD}  b: {COIL}\ncouplings: [{{coils: [a, b], coefficient: 1}}]\n",
    "couplings no magnets can have": (
        f"{HEAD}  b: {COIL}\n  c: {COIL}\ncouplings:\n  - {{coils: [a, b], coefficient: 0.9}}\n"
        "  - {coils: [b, c], coefficient: 0.9}\n  - {coils: [a, c], coefficient: -0.9}\n"
    ),
    "shares of loss above the whole": f"{HEAD}  b: {COIL[:-1]}, eddy: [{{share: 60 %, corner: 1k}}, {{share: 50 %, corner: 2k}}]}}\n",
    "a coil beyond the nut": HEAD.replace("80p}", "80p, at: 700 mm}") + "instrument: {scale: 686 mm}\n",
    "a balance for other strings": (
        HEAD.replace("80p}", "80p, string_balance: [0, 0]}")
        + "instrument: {scale: 686 mm, strings: [{note: E2, gauge: 1 mm}]}\n"
    ),
    "a taper that falls": f"{HEAD}  x: {{kind: pot, resistance: 1M, taper: [[0, 0], [0.5, 0.6], [0.6, 0.5], [1, 1]]}}\n",
    "a taper that stands still": f"{HEAD}  x: {{kind: pot, resistance: 1M, taper: [[0, 0], [0, 1], [1, 1]]}}\n",
    "a taper of one point": f"{HEAD}  x: {{kind: pot, resistance: 1M, taper: [[0, 0]]}}\n",
    "a taper of words": f"{HEAD}  x: {{kind: pot, resistance: 1M, taper: [[0, 0], [nan, 1], [1, 1]]}}\n",
    "a midpoint of a straight taper": f"{HEAD}  x: {{kind: pot, resistance: 1M, taper: linear, midpoint: 20 %}}\n",
    "a midpoint without a taper": f"{HEAD}  x: {{kind: pot, resistance: 1M, midpoint: 20 %}}\n",
    "a part's name with a point": f"{HEAD}  a.b: {COIL}\n",
    "a part's name without letters": f'{HEAD}  "": {COIL}\n',
    "a very long name": f"{HEAD}  {'x' * 300}: {COIL}\n",
    "no format": f"parts:\n  a: {COIL}\n  output: {{kind: jack}}\n",
    "a later format": HEAD.replace("format: 1", "format: 2"),
    "a format in words": HEAD.replace("format: 1", "format: [1]"),
    "a selector that is no switch": f"{HEAD}selector: a\n",
    "a selector that is a list": f"{HEAD}selector: [a]\n",
    "a name that is a map": f"{HEAD}name: {{a: b}}\n",
    "labels that are a list": f"{HEAD}labels: [Neck]\n",
    "a load in words": f"{HEAD}load: heavy\n",
    "an instrument in words": f"{HEAD}instrument: guitar\n",
    "strings in words": f"{HEAD}instrument: {{scale: 686 mm, strings: six}}\n",
}


@pytest.mark.parametrize("what", CONTRADICTIONS)
def test_contradictions(what: str) -> None:
    found = refused(CONTRADICTIONS[what])
    assert len({str(problem) for problem in found}) == len(found), "a problem told twice"


YAML = {
    "empty": "",
    "blank": " \n\n\t\n",
    "comment only": "# nothing\n",
    "null": "~\n",
    "a word": "wiring\n",
    "a list": "- format\n- 1\n",
    "two documents": f"{HEAD}---\n{HEAD}",
    "an unclosed bracket": f"{HEAD}joints: [[a.start\n",
    "an unclosed quote": f'{HEAD}name: "a\n',
    "a tab for indentation": "format: 1\nparts:\n\ta: b\n",
    "a tag": f"{HEAD}name: !!python/object/apply:os.system ['true']\n",
    "a tag of one's own": f"{HEAD}name: !coil x\n",
    "an unknown alias": f"{HEAD}name: *nobody\n",
    "a map as a key": f"{HEAD}? {{a: b}}\n: c\n",
    "a list as a key": f"{HEAD}? [a, b]\n: c\n",
    "a directive": f"%YAML 3.0\n---\n{HEAD}",
    "duplicate keys": HEAD + f"  a: {COIL}\n",
    "a key merged in": f"{HEAD}<<: {{name: x}}\n",
    "brackets": "[" * 100_000,
    "brackets, closed": "[" * 50_000 + "]" * 50_000,
    "maps in maps": "{a: " * 40_000 + "1" + "}" * 40_000,
    "brackets, line by line": "[\n" * 60_000,
    "brackets after text": "x: '[[[['\n" + "y: " + "[" * 300 + "]" * 300,
    "dashes": "- " * 60_000 + "a",
    "questions": "? " * 60_000 + "a",
    "indentation": "".join(f"{' ' * n}a:\n" for n in range(600)),
    "indentation by two": "".join(f"{'  ' * n}- a:\n" for n in range(300)),
    "a bomb of aliases": "a0: &a0 [x, x, x, x, x, x, x, x, x]\n"
    + "".join(f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 9)}]\n" for n in range(1, 40)),
    "a bomb in maps": "a0: &a0 {x: 1, y: 2}\n"
    + "".join(f"a{n}: &a{n} {{x: *a{n - 1}, y: *a{n - 1}}}\n" for n in range(1, 60)),
    "an alias of itself": "a: &a [*a]\n",
    "a map of itself": "a: &a {b: *a}\n",
    "many keys": "".join(f"k{n}: {n}\n" for n in range(15_000)),
    "one key many times": "k: 1\n" * 20_000,
    "many parts": "format: 1\nparts:\n" + "".join(f"  p{n}: {{kind: jack}}\n" for n in range(4000)),
    "a long list": f"{HEAD}joints: [[{'a.start, ' * 15_000}a.start]]\n",
    "a long word": f"{HEAD}name: {'x' * 200_000}\nfoo: 1\n",
    "a long unknown word": f"{HEAD}{'x' * 900}: 1\n",
    "many quotes": "'" * 100_001,
    "many colons": "a: " * 50_000,
    "a long comment, then nothing": "#" + "x" * 200_000,
}


@pytest.mark.parametrize("what", YAML)
def test_texts_that_are_no_wirings(what: str) -> None:
    tracemalloc.start()
    try:
        found = refused(YAML[what])
        _, most = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert found
    assert most < LITTLE_BYTES


FILES = {
    "binary": bytes(range(256)) * 40,
    "zeros": bytes(5000),
    "half a character": "name: Ω".encode()[:-1],
    "latin": "name: 4 Ωµ".encode("iso-8859-7", "replace") + b"\xb5",
    "wide": HEAD.encode("utf-16"),
    "a bell": (HEAD + "name: \x07\n").encode(),
    "enormous": b"# " + b"x" * LARGEST,
    "empty": b"",
}


@pytest.mark.parametrize("what", FILES)
def test_files_that_are_no_texts(what: str, tmp_path: Path) -> None:
    path = tmp_path / "bad.yaml"
    path.write_bytes(FILES[what])
    start = time.perf_counter()
    with pytest.raises(InputError) as caught:
        load_wiring(path)
    assert time.perf_counter() - start < SOON_S
    assert str(path) in caught.value.problems[0].where


def test_a_file_of_gigabytes_is_not_read(tmp_path: Path) -> None:
    path = tmp_path / "huge.yaml"
    with path.open("wb") as file:
        file.truncate(8 << 30)
    tracemalloc.start()
    try:
        with pytest.raises(InputError, match="KiB"):
            load_wiring(path)
        assert tracemalloc.get_traced_memory()[1] < LITTLE_BYTES
    finally:
        tracemalloc.stop()


def test_missing_files_and_folders(tmp_path: Path) -> None:
    for path in (tmp_path / "none.yaml", tmp_path):
        with pytest.raises(InputError) as caught:
            load_wiring(path)
        assert str(path) in str(caught.value)


def test_the_largest_file_allowed_is_read_soon(tmp_path: Path) -> None:
    path = tmp_path / "large.yaml"
    path.write_text(HEAD + "# 30 characters of comment......\n" * ((LARGEST - len(HEAD) - 100) // 33), encoding="utf-8")
    start = time.perf_counter()
    load_wiring(path)
    assert time.perf_counter() - start < SOON_S


@pytest.mark.parametrize(("position", "knobs", "switches"), [
    ("9", {}, {}), ("", {}, {}), ("1", {"nothing": 3.0}, {}), ("1", {"volume": 10.5}, {}),
    ("1", {"volume": -0.1}, {}), ("1", {"volume": float("nan")}, {}), ("1", {"volume": float("inf")}, {}),
    ("1", {}, {"split": "3"}), ("1", {}, {"spilt": "1"}), ("1", {}, {"selector": "1"}),
])  # fmt: skip
def test_settings_that_are_none(position: str, knobs: dict[str, float], switches: dict[str, str]) -> None:
    wiring = read(
        f"{HEAD}  volume: {{kind: pot, resistance: 1M}}\n  split: {{kind: switch, poles: 1, positions: 2}}\n"
        "  selector: {kind: switch, poles: 1, positions: 3}\n"
    )
    with pytest.raises(InputError):
        wiring.setting(position, knobs, switches)


# Fuzzing: a sound file with a few bytes or lines changed is a wiring or an InputError.

_BITS = ["[", "]", "{", "}", ":", "- ", "'", '"', "*a", "&a ", "!", "#", "|", "%", "?", ",", "\n", "  ", "nan", "-1", "9" * 50]


def mutated(seed: int) -> str:
    rng = np.random.default_rng(seed)
    text = NETWORKS[rng.integers(len(NETWORKS))].read_text(encoding="utf-8")
    for _ in range(int(rng.integers(1, 5))):
        lines = text.splitlines(keepends=True)
        at, line = int(rng.integers(len(text) + 1)), int(rng.integers(len(lines)))
        kind = rng.integers(5)
        if kind == 0:
            text = text[:at] + str(rng.choice(_BITS)) + text[at:]
        elif kind == 1:
            text = text[:at] + text[at + int(rng.integers(1, 30)) :]
        elif kind == 2:
            text = "".join([*lines[:line], *lines[line + 1 :]])
        elif kind == 3:
            other = int(rng.integers(len(lines)))
            lines[line], lines[other] = lines[other], lines[line]
            text = "".join(lines)
        else:
            text = text[:at] + chr(int(rng.choice([0x00, 0x09, 0x7F, 0x85, 0xA0, 0x3A9, 0x2028, 0xFEFF, 0x1F3B8]))) + text[at:]
        if not text.strip():
            return text
    return text


@settings(max_examples=150, derandomize=True, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_a_file_with_a_few_slips_is_read_or_refused(seed: int) -> None:
    text = mutated(seed)
    try:
        wiring = read(text)
    except InputError as error:
        assert all(problem.got and problem.allowed for problem in error.problems)
    else:
        assert wiring.coils
        assert WiringText(text, "bad.yaml").wiring().parts == wiring.parts
