"""Output of commands: tables at the requested frequencies, plots on one axis, parts to paste."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from click.testing import CliRunner
from places import DEMO
from small_wirings import COIL

from dsp.parts.library.index import LIBRARY
from dsp.wiring.reading.wiring import read_wiring
from server.cli import main
from server.files.yaml_text import parse_tree


def said(*words: str | Path) -> str:
    done = CliRunner().invoke(main, [*map(str, words)], catch_exceptions=False)
    assert done.exit_code == 0, done.output
    return done.stdout


def test_the_table_has_the_requested_frequencies() -> None:
    lines = said("response", DEMO / "twelve.yaml", "-p", "1", "--frequencies", "120,2.5k").splitlines()
    assert lines[1].split()[3:] == ["120", "Hz", "2.5", "kHz"]
    assert len(lines[2].split()) == 3
    assert "8 kHz" in said("response", DEMO / "twelve.yaml", "-p", "1")


def test_a_plot_has_one_level_axis_for_all_positions(tmp_path: Path) -> None:
    """A position 40 dB down looks 40 dB down: every panel has the same axis labels."""
    wiring = tmp_path / "w.yaml"
    wiring.write_text(
        f"format: 1\nparts:\n  a: {{{COIL}}}\n  r: {{kind: resistor, resistance: 100 MΩ}}\n"
        "  selector: {kind: sketch, positions: {whole: a, faint: a + r}}\n  output: {kind: jack}\n"
        "joints: [[selector.hot, output.tip], [selector.cold, output.sleeve]]\n"
    )
    said("response", wiring, "--svg", tmp_path / "a.svg")
    text = (tmp_path / "a.svg").read_text(encoding="utf-8")
    numbers = re.findall(r'text-anchor="end">([+−]?\d+)<', text)
    assert len(numbers) == 10
    assert numbers[:5] == numbers[5:]
    families = re.search(r"font:12px ([^;]*);", text)
    assert families
    assert families[1] == "system-ui,sans-serif"


def test_facts_of_silence_are_not_numbers(tmp_path: Path) -> None:
    wiring = tmp_path / "w.yaml"
    joints = "[[a.start, output.tip, output.sleeve]]"
    wiring.write_text(f"format: 1\nparts:\n  a: {{{COIL}}}\n  output: {{kind: jack}}\njoints: {joints}\n")
    text = said("facts", wiring)
    assert "hum re coils all adding up     silent" in text
    assert "-300" not in text
    pair = f"  a: {{{COIL}}}\n  b: {{{COIL}, winding: reverse, magnet: south}}\n"
    joints = "[[a.start, output.tip], [a.finish, b.start], [b.finish, output.sleeve]]"
    wiring.write_text(f"format: 1\nparts:\n{pair}  output: {{kind: jack}}\njoints: {joints}\n")
    assert "hum re coils all adding up     nothing" in said("facts", wiring)


def test_a_coil_of_a_unit_is_shown_with_its_coupling() -> None:
    couplings = "couplings: [{coils: [A, B], coefficient: %s}]"
    assert f"# For two of them, {couplings % 0.15}\n" in said("parts", "double_hot_coil")
    assert f"# For it and stacked_lower_coil, {couplings % -0.3}\n" in said("parts", "stacked_upper_coil")
    assert "couplings" not in said("parts", "narrow_single_hot")


def test_the_fields_say_what_a_coefficient_means() -> None:
    text = said("parts", "--fields")
    assert "(L aiding - L opposing) / (4 sqrt(L1 L2))" in text
    assert "default 0.055" in text


@pytest.mark.parametrize("name", LIBRARY)
def test_a_part_can_be_pasted(name: str) -> None:
    """Pasted under `parts:` (a load at the top) it reads as the library's part."""
    written = said("parts", name)
    head = f"format: 1\nparts:\n  coil: {{{COIL}}}\n  output: {{kind: jack}}\n"
    pasted = read_wiring(parse_tree(head + written, "pasted.yaml"), "pasted.yaml")
    if LIBRARY[name].kind == "load":
        like = read_wiring(parse_tree(f"{head}load: {{like: {name}}}\n", "like.yaml"), "like.yaml")
        assert pasted.load == like.load
    else:
        like = read_wiring(parse_tree(f"{head}  {name}: {{like: {name}}}\n", "like.yaml"), "like.yaml")
        assert pasted.parts[name] == like.parts[name]
