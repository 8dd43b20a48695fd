"""Every command as a person types it: its output, its files, its exit status."""

from __future__ import annotations

import csv
import io
import json
import shutil
import xml.etree.ElementTree as ET
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result
from places import DEMO
from small_wirings import wiring_text

from dsp.circuit.response import respond
from dsp.parts.kinds import KINDS
from dsp.parts.library.index import LIBRARY
from dsp.wiring.schema import schema
from server.cli import COMMANDS, main
from server.wirings.text import load_wiring

SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Make a folder with the demo wirings, and work in it."""
    for path in DEMO.glob("[bt]*.yaml"):
        shutil.copy(path, tmp_path)
    monkeypatch.chdir(tmp_path)
    return tmp_path


def run(*words: str) -> Result:
    return CliRunner().invoke(main, [*words], catch_exceptions=False)


def said(*words: str, status: int = 0) -> str:
    """Return the standard output of a command that ends as expected."""
    done = run(*words)
    assert done.exit_code == status, done.output
    return done.stdout


def refused(*words: str, status: int = 2) -> str:
    """Return the standard error of a refused command, which prints nothing else."""
    done = run(*words)
    assert done.exit_code == status, done.output
    assert done.stdout == ""
    assert "Traceback" not in done.stderr
    return " ".join(done.stderr.split())


SHORTED = wiring_text("a: {COIL}\noutput: {kind: jack}", "a.start, output.tip, output.sleeve")


# --- check


def test_check_says_what_it_finds_with_file_and_line() -> None:
    text = said("check", "baritone.yaml")
    assert "note: baritone.yaml:15: coil shorted in position 4: neck_a.start, neck_a.finish" in text
    assert "reminder: baritone.yaml: strings not grounded" in text


def test_check_as_json() -> None:
    found = json.loads(said("check", "baritone.yaml", "twelve.yaml", "--json"))
    assert [one["file"] for one in found["files"]] == ["baritone.yaml", "twelve.yaml"]
    keys = {"severity", "finding", "positions", "lugs", "line", "detail", "text"}
    assert all(set(one) == keys for file in found["files"] for one in file["findings"])


def test_check_ends_with_1_on_an_error_in_any_file(folder: Path) -> None:
    (folder / "short.yaml").write_text(SHORTED, encoding="utf-8")
    text = said("check", "baritone.yaml", "short.yaml", status=1)
    assert "error: short.yaml:4: jack shorted in position 1: output.tip, output.sleeve" in text
    assert "baritone.yaml:15: coil shorted" in text, "the valid file is reported as well"


def test_check_reports_every_problem_of_a_file_and_goes_on(folder: Path) -> None:
    (folder / "bad.yaml").write_text(
        "format: 1\nparts:\n  a: {kind: coyl}\n  b: {kind: pot}\n", encoding="utf-8"
    )
    found = json.loads(said("check", "bad.yaml", "twelve.yaml", "--json", status=1))["files"]
    assert [(one["severity"], one["line"]) for one in found[0]["findings"]] == [("error", n) for n in (3, 4)]
    assert "did you mean 'coil'?" in [one["detail"] for one in found[0]["findings"]]
    assert len(found[1]["findings"]) > 3


@pytest.mark.parametrize("content", [None, b"\x00\x01\xff\xfe", b"", b"5\n", b"~\n", b'name: "\\x07"\n'])
def test_a_missing_file_is_an_error_of_check(folder: Path, content: bytes | None) -> None:
    if content is not None:
        (folder / "odd.yaml").write_bytes(content)
    assert "odd.yaml" in said("check", "odd.yaml", status=1)


# --- response


def test_response_table() -> None:
    lines = said("response", "twelve.yaml", "-p", "2", "--set", "volume=7", "--set", "phase=2").splitlines()
    assert lines[0] == "position 2   volume=7.0 tone=10.0 phase=2"
    assert lines[1].split()[:5] == ["dB", "re", "EMF", "100", "Hz"]
    wiring = load_wiring(Path("twelve.yaml"))
    want = respond(wiring, [wiring.setting("2", {"volume": 7.0}, {"phase": "2"})], np.array([100.0])).coil[0]
    assert float(lines[2].split()[1]) == pytest.approx(20 * np.log10(abs(want[0, 0])), abs=0.005)


def test_a_coil_that_is_silent_has_no_row() -> None:
    text = said("response", "twelve.yaml", "--position", "1")
    assert "  neck " in text
    assert "  bridge " not in text


def test_response_as_json_is_the_fixed_form() -> None:
    words = ("--position", "2", "--set", "volume=7", "--frequencies", "100,1k,2.5 kHz", "--json")
    found = json.loads(said("response", "twelve.yaml", *words))
    (one,) = found["responses"]
    assert list(found) == ["responses"]
    assert list(one) == [
        "position", "settings", "frequencies_hz", "coils", "hum", "output_impedance_ohm",
    ]  # fmt: skip
    assert one["position"] == "2"
    assert one["settings"] == {"volume": 7.0, "tone": 10.0, "phase": "1"}
    assert one["frequencies_hz"] == [100.0, 1000.0, 2500.0]
    assert list(one["coils"]) == ["neck", "bridge"]
    for pair in (*one["coils"].values(), one["hum"], one["output_impedance_ohm"]):
        assert list(pair) == ["real", "imag"]
        assert all(len(values) == 3 and all(map(np.isfinite, values)) for values in pair.values())
    wiring = load_wiring(Path("twelve.yaml"))
    want = respond(wiring, [wiring.setting("2", {"volume": 7.0})], np.array([100.0, 1000.0, 2500.0]))
    got = np.array(one["coils"]["bridge"]["real"]) + 1j * np.array(one["coils"]["bridge"]["imag"])
    np.testing.assert_array_equal(got, want.coil[0, 1])


def test_response_gives_every_position_by_default() -> None:
    found = json.loads(said("response", "baritone.yaml", "--frequencies", "1000", "--json"))["responses"]
    assert [one["position"] for one in found] == ["1", "2", "3", "4", "5", "6"]
    assert all(one["settings"] == {"volume": 10.0, "tone": 10.0} for one in found)


def test_response_as_csv() -> None:
    rows = list(csv.DictReader(io.StringIO(said("response", "baritone.yaml", "--csv"))))
    assert len(rows) == 6 * 241
    assert list(rows[0])[:4] == ["position", "frequency_hz", "neck_a_db", "neck_a_deg"]
    assert (rows[0]["frequency_hz"], rows[240]["frequency_hz"]) == ("20", "20000")
    assert float(rows[0]["neck_a_db"]) == pytest.approx(-0.4, abs=0.2)
    assert rows[0]["bridge_a_db"] == "-inf"


@pytest.mark.parametrize("phase", [False, True])
def test_response_plot_is_xml_whatever_the_wiring_is_called(folder: Path, phase: bool) -> None:
    hostile = "</title><script>alert(1)</script> & \"'<b> \u2028 Ω"
    text = (folder / "twelve.yaml").read_text(encoding="utf-8")
    text = text.replace("name: Twelve-string, two single coils, toggles", f"name: {json.dumps(hostile)}")
    text = text.replace("1: Neck,", "1: '<i>&lt; ]]>',")
    (folder / "hostile.yaml").write_text(text, encoding="utf-8")
    said("response", "hostile.yaml", "--svg", "a.svg", *(["--phase"] if phase else []))
    root = ET.parse(folder / "a.svg").getroot()
    assert root.tag == f"{SVG}svg"
    assert root.findtext(f"{SVG}title") == f"Responses of {hostile}"
    assert not list(root.iter(f"{SVG}script"))
    assert any("<i>&lt; ]]>" in "".join(node.itertext()) for node in root.iter(f"{SVG}text"))
    height = float(root.attrib["viewBox"].split()[3])
    assert height / 3 == pytest.approx(446 if phase else 316)


def test_a_plot_has_a_curve_per_coil_that_sounds(folder: Path) -> None:
    said("response", "baritone.yaml", "-p", "6", "--svg", "a.svg")
    root = ET.parse(folder / "a.svg").getroot()
    words = {"".join(node.itertext()) for node in root.iter(f"{SVG}text")}
    assert "bridge_a" in words
    assert "bridge_b" in words, "shorted, but coupled to the coil that sounds"
    assert not {"neck_a", "neck_b"} & words
    assert {"20 Hz", "1 kHz", "20 kHz"} <= words


# --- facts


def test_facts_as_text() -> None:
    text = said("facts", "baritone.yaml", "-p", "1")
    assert text.startswith("position 1  Neck, both coils in series\n")
    assert "meter at the jack, cable out   8.116 kΩ" in text  # 8.25 kΩ beside 500 kΩ: 8116.1 Ω
    assert "thermal noise, A-weighted" in text
    assert "neck_a         peak" in text


def no_constant(word: str) -> None:
    raise ValueError(f"{word} is no JSON")


def test_facts_as_json(folder: Path) -> None:
    blocked = wiring_text(
        "a: {COIL}\nx: {kind: capacitor, capacitance: 22n}\noutput: {kind: jack}",
        "a.start, x.a\nx.b, output.tip\na.finish, output.sleeve",
    )
    (folder / "blocked.yaml").write_text(blocked, encoding="utf-8")
    found = json.loads(said("facts", "blocked.yaml", "--json"), parse_constant=no_constant)["facts"]
    assert found[0]["meter_ohm"] is None
    assert found[0]["coils"] == ["a"]
    assert "meter at the jack, cable out   open" in said("facts", "blocked.yaml")
    found = json.loads(said("facts", "twelve.yaml", "--json"), parse_constant=no_constant)["facts"]
    assert [one["position"] for one in found] == ["1", "2", "3"]
    assert found[0]["meter_ohm"] == pytest.approx(5900 * 250_000 / 255_900)


def test_facts_have_their_old_names_beside_the_new_ones_for_one_release(folder: Path) -> None:
    found = json.loads(said("facts", "twelve.yaml", "--set", "volume=7", "--json"))["facts"]
    for one in found:
        assert one["joined"] == one["connection_text"]
        assert one["hum_residual_db"] == one["hum_db"]
        assert one["jack_reading_ohm"] == one["meter_ohm"]
        assert one["settings"]["volume"] == one["settings"]["knobs"]["volume"] == 7.0
        assert one["settings"]["switches"].items() <= one["settings"].items()
    help_text = said("facts", "--help")
    assert all(name in help_text for name in ("joined", "hum_residual_db", "jack_reading_ohm", "meter_ohm"))


def test_facts_of_silence(folder: Path) -> None:
    (folder / "short.yaml").write_text(SHORTED, encoding="utf-8")
    (found,) = json.loads(said("facts", "short.yaml", "--json"), parse_constant=no_constant)["facts"]
    assert (found["coils"], found["meter_ohm"], found["noise_volt"]) == ([], 0.0, 0.0)


# --- netlist, parts, schema


def test_netlist_to_standard_output_and_to_a_file(folder: Path) -> None:
    words = ("netlist", "baritone.yaml", "-p", "3", "--set", "tone=2", "--coil", "bridge_b")
    text = said(*words)
    assert "VE_bridge_b" in text
    assert "AC 1" in next(line for line in text.splitlines() if line.startswith("VE_bridge_b"))
    assert said(*words, "--out", "a.cir") == ""
    assert (folder / "a.cir").read_text(encoding="utf-8") == text
    assert "'nekc_a'" in refused("netlist", "baritone.yaml", "--coil", "nekc_a")


def test_parts() -> None:
    assert len(said("parts").splitlines()) == len(LIBRARY)
    coils = said("parts", "--kind", "coil").splitlines()
    assert len(coils) == sum(entry.kind == "coil" for entry in LIBRARY.values())
    for line in said("parts", "--kind", "switch").splitlines():
        _, name, words = line.split(maxsplit=2)
        assert words == LIBRARY[name].about
    assert said("parts", "narrow_single_medium").startswith("# narrow_single_medium (coil)\n")
    listed = json.loads(said("parts", "--json"))["parts"]
    want = {name: json.loads(json.dumps(dict(entry.fields))) for name, entry in LIBRARY.items()}
    assert {one["name"]: one["fields"] for one in listed} == want
    assert "did you mean 'narrow_single_medium'?" in refused("parts", "narow_single_medium")
    assert "allowed with narrow_single_medium: coil" in refused(
        "parts", "narrow_single_medium", "--kind", "pot"
    )


def test_fields() -> None:
    text = said("parts", "--fields")
    for name, kind in KINDS.items():
        assert f"{name}   (terminals: " in text
        assert all(f"  {field.name} " in text for field in kind.fields)


def test_schema(folder: Path) -> None:
    assert json.loads(said("schema")) == json.loads(json.dumps(schema()))
    assert said("schema", "--out", "s.json") == ""
    assert (folder / "s.json").read_text(encoding="utf-8") == said("schema")


# --- set


def changed_lines(before: str, after: str) -> dict[str, str]:
    old, new = before.splitlines(), after.splitlines()
    assert len(old) == len(new)
    return {one: other for one, other in zip(old, new, strict=True) if one != other}


def test_set_changes_a_value_and_nothing_else(folder: Path) -> None:
    before = (folder / "twelve.yaml").read_text(encoding="utf-8")
    changes = ("bypass_cap.capacitance=1.2 nF", "load.cable.length=3 m", "selector.contacts.3=[[C, N]]")
    assert said("set", "twelve.yaml", *changes) == ""
    after = (folder / "twelve.yaml").read_text(encoding="utf-8")
    words = "{kind: capacitor, capacitance: %s # keeps the treble when volume is turned down"
    assert changed_lines(before, after) == {
        f"  bypass_cap: {words % '1 nF}      '}": f"  bypass_cap: {words % '1.2 nF}    '}",
        "  cable: {length: 5 m, capacitance: 100 pF/m}": "  cable: {length: 3 m, capacitance: 100 pF/m}",
        "      3: [[C, B]]": "      3: [[C, N]]",
    }


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ("tone_cap.capacitance=nonsense", "'nonsense'"),
        ("tone_cap.capacitance=4.7 kΩ", "4.7 kΩ"),
        ("tone_cap.capacitence=33 nF", "did you mean 'capacitance'?"),
        ("tone_kap.capacitance=33 nF", "did you mean 'tone_cap'?"),
        ("volume.taper=purple", "linear"),
        ("volume=3", "a map with its kind and fields"),
        ("volume.resistance=", "resistance"),
        ("name.x.y=3", "'name'"),
        ("selector.positions=99", "from 1 to 24"),
    ],
)
def test_set_refuses_senseless_values_and_leaves_the_file(folder: Path, change: str, words: str) -> None:
    before = (folder / "baritone.yaml").read_bytes()
    assert words in refused("set", "baritone.yaml", "tone.resistance=250k", change, status=1)
    assert (folder / "baritone.yaml").read_bytes() == before
    assert not list(folder.glob(".*.part"))


@pytest.mark.parametrize("change", ["tone", "=5", ".x=5", "tone.=5"])
def test_set_needs_a_place_and_a_value(folder: Path, change: str) -> None:
    before = (folder / "baritone.yaml").read_bytes()
    assert "PART.FIELD=VALUE" in refused("set", "baritone.yaml", change)
    assert (folder / "baritone.yaml").read_bytes() == before


def test_set_into_a_new_file(folder: Path) -> None:
    before = (folder / "baritone.yaml").read_bytes()
    said("set", "baritone.yaml", "tone_cap.capacitance=47n", "--out", "new.yaml")
    assert (folder / "baritone.yaml").read_bytes() == before
    assert load_wiring(Path("new.yaml")).parts["tone_cap"].capacitance_f == pytest.approx(47e-9)  # type: ignore[union-attr]
    assert "none/new.yaml" in refused(
        "set", "baritone.yaml", "tone_cap.capacitance=47n", "--out", "none/new.yaml", status=1
    )


@pytest.mark.parametrize("content", ["5\n", "~\n", "[1, 2]\n", ""])
def test_set_on_a_file_that_is_not_a_wiring(folder: Path, content: str) -> None:
    (folder / "odd.yaml").write_text(content, encoding="utf-8")
    assert "odd.yaml:1" in refused("set", "odd.yaml", "tone.resistance=5k", status=1)
    assert (folder / "odd.yaml").read_text(encoding="utf-8") == content


# --- refusals of all commands


WITH_SETTINGS = ["response", "facts", "netlist"]


@pytest.mark.parametrize("command", WITH_SETTINGS)
@pytest.mark.parametrize(
    ("words", "answer"),
    [
        (("--position", "9"), "'9'; allowed: 1, 2, 3"),
        (("--set", "volum=5"), "'volum'; allowed: volume, tone (did you mean 'volume'?)"),
        (("--set", "volume=11"), "11; allowed: a number from 0 to 10"),
        (("--set", "volume=-1"), "-1; allowed: a number from 0 to 10"),
        (("--set", "volume=nan"), "'nan'; allowed: a number from 0 to 10"),
        (("--set", "volume=inf"), "'inf'; allowed: a number from 0 to 10"),
        (("--set", "volume=abc"), "'abc'; allowed: a number from 0 to 10"),
        (("--set", "volume"), "'volume'; allowed: NAME=VALUE"),
        (("--set", "phase=3"), "'3'; allowed: 1, 2"),
    ],
)
def test_impossible_settings_are_refused(command: str, words: tuple[str, ...], answer: str) -> None:
    assert answer in refused(command, "twelve.yaml", *words)


@pytest.mark.parametrize("command", [*WITH_SETTINGS, "set"])
@pytest.mark.parametrize("content", [None, b"\x00\x01\xff", b"parts: [", b"x" * 300_000])
def test_files_that_are_not_wirings_are_refused(folder: Path, command: str, content: bytes | None) -> None:
    if content is not None:
        (folder / "odd.yaml").write_bytes(content)
    more = ["tone.resistance=5k"] if command == "set" else []
    assert "odd.yaml" in refused(command, "odd.yaml", *more, status=1)


@pytest.mark.parametrize("text", ["abc", "0", "-5", "1,,2", "", "nan", "inf", "1e12", "5 nF"])
def test_impossible_frequencies_are_refused(text: str) -> None:
    assert "frequenc" in refused("response", "twelve.yaml", "--frequencies", text)


def test_json_and_csv_are_not_given_at_once() -> None:
    assert "--json or --csv" in refused("response", "twelve.yaml", "--json", "--csv")


@pytest.mark.parametrize(
    ("words", "answer"),
    [
        (("chek", "twelve.yaml"), "did you mean 'check'?"),
        (("xyzzy",), "see presolder --help"),
        (("check",), "FILE..."),
        (("check", "--jsn", "twelve.yaml"), "--jsn"),
    ],
)
def test_unknown_commands_are_refused(words: tuple[str, ...], answer: str) -> None:
    assert answer in refused(*words)


def test_places_that_cannot_be_written_are_refused(folder: Path) -> None:
    for words in (("response", "twelve.yaml", "--svg", "none/a.svg"), ("schema", "--out", "none/a.json")):
        assert "none/a." in refused(*words, status=1)
    assert "is a directory" in refused("netlist", "twelve.yaml", "--out", str(folder), status=1)


@pytest.mark.parametrize("name", COMMANDS)
def test_help_teaches_by_example(name: str) -> None:
    text = said(name, "--help")
    assert "Example" in text
    assert f"presolder {name}" in text


def test_version() -> None:
    assert said("--version").startswith("presolder, version ")
