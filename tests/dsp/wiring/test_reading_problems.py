"""Problems of a file with slips: each slip once, at its place, without its consequences."""

from __future__ import annotations

import re
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from bad_wirings import COIL, HEAD
from places import DEMO, NETWORKS

from dsp.documents.tree import MOST_ITEMS
from dsp.errors import InputError, Problem, nearest, some
from dsp.parts import switch
from dsp.parts.switch import Switch
from dsp.wiring.model import Wiring
from dsp.wiring.reading.wiring import read_wiring
from server.files.yaml_text import parse_tree


def read(text: str) -> Wiring:
    return read_wiring(parse_tree(text, "bad.yaml"), "bad.yaml")


def problems(text: str) -> list[Problem]:
    with pytest.raises(InputError) as caught:
        read(text)
    return list(caught.value.problems)


def only(text: str) -> Problem:
    (found,) = problems(text)
    return found


BAD_COIL = "  b: {kind: coil, resistance: 5q, inductance: 2H, capacitance: 80p}\n"
SKETCH = "  selector: {kind: sketch, positions: {1: a, 2: a + b}}\n"


@pytest.mark.parametrize(
    ("rest", "got"),
    [
        (f"{BAD_COIL}couplings: [{{coils: [a, b], coefficient: 0.1}}]\n", "'5q'"),
        (f"{BAD_COIL}{SKETCH}", "'5q'"),
        (f"{BAD_COIL}joints: [[a.start, b.start]]\n", "'5q'"),
        ("  sel: {kind: switch, poles: none, positions: 3}\nselector: sel\nlabels: {2: Middle}\n", "'none'"),
        ("  selector: {kind: switch, poles: none, positions: 3}\nlabels: {2: Middle}\n", "'none'"),
        ("  x: {like: rotary_6_two_pol}\n", "'rotary_6_two_pol'"),
        ("  x: {kind: coil, like: narrow_single_mediun}\n", "'narrow_single_mediun'"),
        (f"{SKETCH}".replace("+ b", "+"), "'the end' in 'a +'"),
    ],
)
def test_consequences_of_a_slip_are_not_reported(rest: str, got: str) -> None:
    assert only(HEAD + rest).got == got


SLIPS = (
    (r"kind: (\w+)", r"kind: x\1"),
    (r"like: (\w+)", r"like: x\1"),
    (r"resistance: [^,}]+", "resistance: 5 qq"),
    (r"inductance: [^,}]+", "inductance: 0 H"),
    (r"capacitance: [^,}]+", "capacitance: big"),
    (r"poles: \d+", "poles: x"),
    (r"winding: \w+", "winding: up"),
    (r"taper: \w+", "taper: odd"),
    (r"note: [^,]+,", "note: H9,"),
)
NETWORKS = sorted(NETWORKS.glob("*.yaml"))
FILES = [*sorted(DEMO.glob("[bt]*.yaml")), *NETWORKS[1::4]]


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_one_slip_is_one_problem_anywhere(path: Path) -> None:
    """Every line of valid files with each slip that fits it: one problem, on that line."""
    lines = path.read_text(encoding="utf-8").splitlines()
    tried = 0
    for i, line in enumerate(lines):
        for pattern, slip in SLIPS:
            if line.lstrip().startswith("#") or not re.search(pattern, line):
                continue
            slipped = [*lines[:i], re.sub(pattern, slip, line, count=1), *lines[i + 1 :]]
            found = only("\n".join(slipped) + "\n")
            assert found.where.startswith(f"bad.yaml:{i + 1}"), slipped[i]
            tried += 1
    assert tried >= 5


def test_a_part_that_cannot_be_read_may_be_the_jack_or_the_coil() -> None:
    assert only(f"format: 1\nparts:\n  a: {COIL}\n  output: {{kind: jakc}}\n").got == "'jakc'"
    assert only(f"format: 1\nparts:\n{BAD_COIL}  output: {{kind: jack}}\n").got == "'5q'"
    assert only("format: 1\nparts:\n  a: {like: narrow_single_mediun}\n  output: {kind: jack}\n")


def test_each_problem_is_reported_with_the_others() -> None:
    """A label and a missing coil are reported although a resistor is wrong too."""
    slip = "  r: {kind: resistor, resistance: 1q}\n"
    assert [p.got for p in problems(f"{HEAD}{slip}labels: {{2: Neck}}\n")] == ["'1q'", "'2'"]
    bare = f"format: 1\nparts:\n  output: {{kind: jack}}\n{slip}"
    assert {p.got for p in problems(bare)} == {"no coil", "'1q'"}
    assert {p.got for p in problems(f"format: 1\nparts:\n  a: {COIL}\n{slip}")} == {"no jack", "'1q'"}


def test_a_name_in_an_expression_is_reported_with_its_line() -> None:
    text = f"{HEAD}  selector:\n    kind: sketch\n    positions:\n      1: a\n      2: a + aa\n"
    found = only(text)
    assert found.where.startswith("bad.yaml:9: selector.positions.2")
    assert found.got == "'aa'"


def test_a_label_is_reported_with_its_line() -> None:
    assert only(f"{HEAD}labels:\n  1: Both\n  one: Neck\n").where.startswith("bad.yaml:7")


@pytest.mark.parametrize("kind", ["banana", "coil", ""])
def test_a_load_is_a_load(kind: str) -> None:
    found = only(f"{HEAD}load: {{kind: '{kind}', amplifier: {{resistance: 1M}}}}\n")
    assert (found.got, found.allowed) == (f"'{kind}'", "load")
    assert read(f"{HEAD}load: {{kind: load, amplifier: {{resistance: 2M}}}}\n").load.amplifier_ohm == 2e6


def test_a_library_switch_with_other_numbers() -> None:
    """Fields change a switch that has counts; a table without needs both counts or a new table."""

    def like(rest: str) -> Switch:
        part = read(f"{HEAD}  x: {{like: {rest}}}\n").parts["x"]
        assert isinstance(part, Switch)
        return part

    assert like("rotary_6_two_pole, poles: 4") == switch.shorthand(4, 6)
    assert like("blade_5_two_pole, poles: 4, positions: 3") == switch.shorthand(4, 3)
    assert like("blade_5_two_pole") == switch.bridging(2, 5)
    assert like("blade_5_two_pole, poles: 4") == switch.bridging(4, 5)
    found = only(f"{HEAD}  x: {{like: push_pull, poles: 4}}\n")
    assert found.got == "poles alone"
    assert "poles and positions both" in found.allowed


def test_contacts_without_their_inner_brackets() -> None:
    text = f"{HEAD}  x: {{kind: switch, lugs: [A0, A1], contacts: {{1: [A0, A1]}}}}\n"
    found = only(text)
    assert found.got == "[A0, A1]"
    assert found.hint == "did you mean [[A0, A1]]?"
    assert read(text.replace("[A0, A1]}}", "[[A0, A1]]}}"))


MEDIUM = "  x:\n    like: narrow_single_medium\n"
LONG: dict[str, Callable[[int], str]] = {
    "lugs": lambda n: (
        f"  x: {{kind: switch, lugs: [{', '.join(f'L{i}' for i in range(n))}], contacts: {{1: []}}}}\n"
    ),
    "balance": lambda n: f"  x: {COIL[:-1]}, string_balance: [{', '.join(['0'] * n)}]}}\n",
    "eddy": lambda n: (
        "  x:\n    like: narrow_single_medium\n    eddy:\n" + n * "      - {share: 0.1 %, corner: 1k}\n"
    ),
    "joints": lambda n: "joints:\n" + "  - [a.start, output.tip]\n" * n,
    "strings": lambda n: "instrument:\n  scale: 686 mm\n  strings:\n" + "    - {note: E2, gauge: 1 mm}\n" * n,
}


@pytest.mark.parametrize("what", LONG)
def test_lists_are_refused_and_never_cut(what: str) -> None:
    found = problems(HEAD + LONG[what](MOST_ITEMS + 1))
    assert f"at most {MOST_ITEMS}" in {problem.allowed for problem in found}
    if what not in ("lugs",):  # a switch has a bound of its own
        read(HEAD + LONG[what](MOST_ITEMS))


def test_many_slips_are_reported_fast() -> None:
    """Guesses for the first fifty, and short lists of names: 64 KiB of misspelt joints took 12 s."""
    parts = "".join(f"  part_number_{i}: {{kind: resistor, resistance: 1k}}\n" for i in range(480))
    joints = "joints:\n" + "".join(f"  - [part_nunber_{i}.a, a.start]\n" for i in range(480))
    start = time.process_time()
    found = problems(HEAD + parts + joints)
    assert time.process_time() - start < 5.0
    assert len(found) == 480
    hints = [problem.hint for problem in found]
    assert all(hints[:40])
    assert not any(hints[60:])
    assert all(len(str(problem)) < 1000 for problem in found)
    assert "482 in all" in found[0].allowed


def test_names_are_listed_up_to_twenty() -> None:
    assert some(["a", "b"]) == "a, b"
    assert some([]) == ""
    assert some(map(str, range(20))) == ", ".join(map(str, range(20)))
    assert some(map(str, range(21))).endswith("19, … (21 in all)")


def test_names_too_long_to_compare_get_no_guess() -> None:
    assert nearest("volumee", ["volume"]) == "did you mean 'volume'?"
    assert nearest("volume" * 50, ["volume" * 50 + "s"]) == ""
