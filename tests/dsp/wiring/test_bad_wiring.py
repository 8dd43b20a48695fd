"""Files that are not wirings: always an InputError with its place, fast, and no other error."""

from __future__ import annotations

import time
import tracemalloc
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from bad_wirings import COIL, CONTRADICTIONS, HEAD, UNKNOWN, YAML
from hypothesis import given, settings
from hypothesis import strategies as st
from places import NETWORKS

from dsp.documents.field import Field
from dsp.errors import InputError, Problem
from dsp.parts import fields
from dsp.parts.coil import EDDY_FIELDS
from dsp.parts.kinds import KINDS
from dsp.wiring.model import Wiring
from dsp.wiring.reading.wiring import read_wiring
from server.files.yaml_text import LARGEST, parse_tree
from server.wirings.text import WiringText, load_wiring

NETWORKS = sorted(NETWORKS.glob("*.yaml"))
SOON_S = 5.0
"""Of processor time. The bar is one second; five leave room for a slow machine."""
LITTLE_BYTES = 150e6


def read(text: str) -> Wiring:
    return read_wiring(parse_tree(text, "bad.yaml"), "bad.yaml")


def refused(text: str) -> tuple[Problem, ...]:
    """Return the problems, each with its line; finding them must be fast."""
    start = time.process_time()
    with pytest.raises(InputError) as caught:
        read(text)
    assert time.process_time() - start < SOON_S
    for problem in caught.value.problems:
        assert problem.where.startswith("bad.yaml:"), problem
        assert problem.got
        assert problem.allowed
        assert len(str(problem)) < 6000
    return caught.value.problems


def test_the_valid_file_these_start_from() -> None:
    assert set(read(HEAD).coils) == {"a"}


# Every quantity of the table of parts, and every quantity of the smaller maps.

MINIMAL = {
    "coil": {"resistance": "5k", "inductance": "2H", "capacitance": "80p"},
    "pot": {"resistance": "500k", "taper": "audio"},
    "capacitor": {"capacitance": "22n"},
    "resistor": {"resistance": "1M"},
    "inductor": {"inductance": "1.5H"},
    "transformer": {"ratio": "0.16"},
}
AROUND = {
    "eddy": (EDDY_FIELDS, {"share": "18 %", "corner": "3k"}, "parts: {{x: {{like: , eddy: [{}]}}}}"),
    "couplings": (fields.COUPLING_FIELDS, {"coils": "[a, b]", "coefficient": "0.1"}, ""),
    "cable": (fields.CABLE_FIELDS, {"length": "5 m", "capacitance": "100 pF/m"}, ""),
    "amplifier": (fields.AMPLIFIER_FIELDS, {"resistance": "1M", "capacitance": "20p"}, ""),
    "instrument": (fields.INSTRUMENT_FIELDS, {"scale": "686 mm"}, ""),
    "string": (fields.STRING_FIELDS, {"note": "B1", "gauge": "8 mm", "wound": "true"}, ""),
}
UNITS = {
    "resistance": "Ω", "capacitance": "F", "inductance": "H", "length": "m", "frequency": "Hz", "share": "",
    "capacitance per length": "F/m", "level": "dB", "number": "", "time": "s", "area": "m²",
}  # fmt: skip
WORDS = (
    "nan",
    ".nan",
    "inf",
    "-.inf",
    "",
    "~",
    "[]",
    "{}",
    "[1, 2]",
    "yes",
    "1e999",
    "-1e999",
    "9" * 400,
    "0x10",
    "1_000",
    "1,5",
)


def quantities(table: tuple[Field, ...]) -> Iterator[Field]:
    return (field for field in table if field.form in ("quantity", "levels"))


def outside(field: Field) -> Iterator[str]:
    """Values just and far outside the bounds, and zero and negative ones where forbidden."""
    unit = UNITS[field.dimension]
    for value in (0.0, -1.0, field.lowest * 0.999, field.highest * 1.001, 1e200, -1e200, 1e-300):
        if not field.lowest <= value <= field.highest:
            yield f"{value!r} {unit}".strip()


def file_with(place: str, name: str, value: str) -> str:
    """Return a file that is valid except for one value."""
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
    for place, table in [
        *((kind, KINDS[kind].fields) for kind in MINIMAL),
        *((k, v[0]) for k, v in AROUND.items()),
    ]
    for field in quantities(table)
]


def test_every_kind_with_quantities_is_tried() -> None:
    with_quantities = {name for name, kind in KINDS.items() if list(quantities(kind.fields))}
    assert with_quantities == set(MINIMAL)


@pytest.mark.parametrize(("place", "field"), PLACES, ids=lambda x: x if isinstance(x, str) else x.name)
def test_impossible_values_are_refused(place: str, field: Field) -> None:
    wrap = "[{}]" if field.form == "levels" else "{}"
    for written in (*outside(field), *WORDS):
        if (place in AROUND and written in ("", "1,5")) or (
            field.form == "levels" and written in ("", "1,5")
        ):
            continue  # in a map or list of one line these are YAML's business
        found = refused(file_with(place, field.name, wrap.format(written)))
        assert any(field.name in problem.where or field.name in str(problem) for problem in found), written


@pytest.mark.parametrize(("place", "field"), PLACES, ids=lambda x: x if isinstance(x, str) else x.name)
def test_values_at_the_bounds_are_allowed(place: str, field: Field) -> None:
    """The twin: the bound itself is allowed, except of a coefficient, and of a part beyond its whole."""
    wrap = "[{}]" if field.form == "levels" else "{}"
    for value in (field.lowest, field.highest):
        text = file_with(place, field.name, wrap.format(f"{value!r} {UNITS[field.dimension]}".strip()))
        if place == "couplings" or (field.name == "tap_resistance" and value == field.highest):
            refused(text)
        else:
            read(text)


@pytest.mark.parametrize("what", UNKNOWN)
def test_unknown_names(what: str) -> None:
    text, got, advice = UNKNOWN[what]
    found = refused(text)
    assert len(found) <= 2  # a misspelt field may leave another missing
    assert any(got in problem.got and advice in f"{problem.allowed} {problem.hint}" for problem in found)


@pytest.mark.parametrize("what", CONTRADICTIONS)
def test_contradictions(what: str) -> None:
    found = refused(CONTRADICTIONS[what])
    assert len({str(problem) for problem in found}) == len(found), "a problem reported twice"


@pytest.mark.parametrize("what", YAML)
def test_texts_that_are_not_wirings(what: str) -> None:
    assert refused(YAML[what])


@pytest.mark.parametrize(
    "what", ["a bomb of aliases", "a bomb in maps", "brackets", "an alias of itself", "dashes"]
)
def test_bombs_take_little_memory(what: str) -> None:
    tracemalloc.start()
    try:
        refused(YAML[what])
        assert tracemalloc.get_traced_memory()[1] < LITTLE_BYTES
    finally:
        tracemalloc.stop()


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
def test_files_that_are_not_text(what: str, tmp_path: Path) -> None:
    path = tmp_path / "bad.yaml"
    path.write_bytes(FILES[what])
    start = time.process_time()
    with pytest.raises(InputError) as caught:
        load_wiring(path)
    assert time.process_time() - start < SOON_S
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


def test_the_largest_file_allowed_is_read_fast(tmp_path: Path) -> None:
    path = tmp_path / "large.yaml"
    path.write_text(
        HEAD + "# 30 characters of comment......\n" * ((LARGEST - len(HEAD) - 100) // 33), encoding="utf-8"
    )
    start = time.process_time()
    load_wiring(path)
    assert time.process_time() - start < SOON_S


@pytest.mark.parametrize(("position", "knobs", "switches"), [
    ("9", {}, {}), ("", {}, {}), ("1", {"nothing": 3.0}, {}), ("1", {"volume": 10.5}, {}),
    ("1", {"volume": -0.1}, {}), ("1", {"volume": float("nan")}, {}), ("1", {"volume": float("inf")}, {}),
    ("1", {}, {"split": "3"}), ("1", {}, {"spilt": "1"}), ("1", {}, {"selector": "1"}),
])  # fmt: skip
def test_impossible_settings_are_refused(
    position: str, knobs: dict[str, float], switches: dict[str, str]
) -> None:
    wiring = read(
        f"{HEAD}  volume: {{kind: pot, resistance: 1M}}\n  split: {{kind: switch, poles: 1, positions: 2}}\n"
        "  selector: {kind: switch, poles: 1, positions: 3}\n"
    )
    with pytest.raises(InputError):
        wiring.setting(position, knobs, switches)


# Fuzzing: a valid file with a few bytes or lines changed is a wiring or an InputError.

_BITS = [
    "[",
    "]",
    "{",
    "}",
    ":",
    "- ",
    "'",
    '"',
    "*a",
    "&a ",
    "!",
    "#",
    "|",
    "%",
    "?",
    ",",
    "\n",
    "  ",
    "nan",
    "-1",
    "9" * 50,
]


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
            text = (
                text[:at]
                + chr(int(rng.choice([0x00, 0x09, 0x7F, 0x85, 0xA0, 0x3A9, 0x2028, 0xFEFF, 0x1F3B8])))
                + text[at:]
            )
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
        found = error.problems
    else:
        found = ()
        assert wiring.coils
        assert WiringText(text, "bad.yaml").wiring().parts == wiring.parts
    assert all(problem.got and problem.allowed for problem in found)
