"""Build sheets of whole wirings: their wires alone rebuild the joints, and three pages hold them."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from functools import cache
from html import unescape
from html.parser import HTMLParser
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
import random_wirings
from click.testing import CliRunner, Result
from places import DEMO, NETWORKS, TESTS
from sheet_text import joints_of, pages_of_pdf, soldered_joints, text_of_pdf, wires_in

from dsp.wiring.model import Wiring
from server.cli import main
from server.documents import build_sheet_pdf
from server.documents.build_sheet import BuildSheet, build_sheet
from server.documents.build_sheet_page import sheet_html
from server.documents.build_sheet_pdf import MOST_PAGES, PAPERS, SIZES_PT, fit_sheet, sheet_pdf
from server.documents.build_sheet_words import printed_record
from server.wirings.text import load_wiring

BARITONE, TWELVE, TENOR = (DEMO / f"{name}.yaml" for name in ("baritone", "twelve", "tenor"))
EVERY = (BARITONE, TWELVE, TENOR, *sorted(NETWORKS.glob("*.yaml")))
HARD = TESTS / "server" / "documents" / "three_humbuckers.yaml"


def run(*words: str) -> Result:
    return CliRunner().invoke(main, ["sheet", *words], catch_exceptions=False)


@cache
def sheet_of(path: Path) -> BuildSheet:
    return build_sheet(load_wiring(path))


def check(sheet: BuildSheet, wiring: Wiring) -> BuildSheet:
    wanted = soldered_joints(wiring)
    wires = json.loads(json.dumps(sheet.record))["wires"]
    assert joints_of((wire["from"], wire["to"]) for wire in wires) == wanted
    assert len(wires) == sum(len(joint) - 1 for joint in wanted), "a tree has no wire too many"
    assert all(wire["length_mm"] > 0 for wire in wires)
    check_numbers(sheet, wiring)
    return sheet


def check_pages(sheet: BuildSheet) -> None:
    """At most three pages of either paper, in a size that can be read."""
    for paper in PAPERS:
        fit = fit_sheet(sheet, paper)
        assert fit.pages <= MOST_PAGES, fit
        assert fit.size_pt >= SIZES_PT[-1]
        assert not fit.is_large


def check_numbers(sheet: BuildSheet, wiring: Wiring) -> None:
    """Every wire's step is written on the drawing."""
    root = ElementTree.fromstring(sheet.svg)
    texts = [one.text or "" for one in root.iter() if "badge-text" in (one.get("class") or "")]
    drawn = {int(number) for text in texts for number in text.split()}
    broken = len(sheet.record["broken"])
    assert len({wire["step"] for wire in sheet.record["wires"]} - drawn) <= broken


@pytest.mark.parametrize("path", [BARITONE, NETWORKS / "twelve_metal.yaml"], ids=lambda path: path.stem)
def test_the_wires_alone_rebuild_the_joints(path: Path) -> None:
    check(sheet_of(path), load_wiring(path))


@pytest.mark.parametrize("seed", range(2))
def test_the_sheets_of_random_wirings_rebuild_their_joints_on_three_pages(seed: int) -> None:
    check_random(seed)


@pytest.mark.long
@pytest.mark.parametrize("seed", range(2, 60))
def test_the_sheets_of_many_random_wirings_rebuild_their_joints_on_three_pages(seed: int) -> None:
    check_random(seed)


def check_random(seed: int) -> None:
    wiring = random_wirings.chaotic(np.random.default_rng(seed))
    if wiring.sketches:
        pytest.skip("a sketch has no lugs")
    check_pages(check(build_sheet(wiring), wiring))


@pytest.mark.long
@pytest.mark.parametrize("path", EVERY, ids=lambda path: path.stem)
def test_the_sheet_of_every_reference_network_rebuilds_its_joints_on_three_pages(path: Path) -> None:
    wiring = load_wiring(path)
    if wiring.sketches:
        done = run(str(path))
        assert done.exit_code == 2
        assert "make the chart first" in done.output
    else:
        check_pages(check(sheet_of(path), wiring))


def test_the_command_prints_json() -> None:
    done = run(str(TWELVE), "--json")
    assert done.exit_code == 0, done.output
    found = json.loads(done.stdout)
    wire = next(wire for wire in found["wires"] if wire["to"] == "output.tip")
    assert wire["from"] == "volume.2"
    assert {step["step"] for step in found["steps"]} >= {wire["step"] for wire in found["wires"]}
    assert found["contacts"]["selector"] == {"1": [["N", "C"]], "2": [["N", "C", "B"]], "3": [["C", "B"]]}
    assert [row["position"] for row in found["readings"]] == ["1", "2", "3"] * 2
    first = found["readings"][0]
    assert first["low_ohm"] < first["meter_ohm"] < first["high_ohm"]
    pot = next(part for part in found["parts"] if part["name"] == "volume")
    assert pot == {"name": "volume", "kind": "pot", "value": "250 kΩ", "about": ["audio taper"]}


def test_the_printed_reading_names_coils_that_kick_the_other_way() -> None:
    """With the phase switch thrown the weaker of two parallel coils works against the other."""
    said = printed_record(sheet_of(TWELVE))
    sounds = {row["place"]: row["sound"] for row in said["readings"]}
    assert "against the others" in sounds["2, phase 2"]
    assert "against" not in sounds["2, phase 1"]


def test_the_text_says_it_all() -> None:
    text = run(str(BARITONE)).stdout
    for words in (
        "IN SOLDERING ORDER",
        "neck_a start to selector A1, 330 mm*",
        "1: A0–A1, B0–B1, C0–C1, D0–D1",
        "1: 8.12 kΩ (",
        "kick the same way",
        "residual-current device",
        "flux fume",
        "unplugged from everything",
        "Between selector 1–2",
    ):
        assert words in text


def test_a_sketch_has_no_sheet_and_says_why() -> None:
    done = run(str(DEMO / "baritone_sketch.yaml"), "--json")
    assert done.exit_code == 2
    assert "make the chart first: presolder lugs FILE" in done.output


@pytest.mark.parametrize(
    ("path", "paper"),
    [(BARITONE, "a4"), (TWELVE, "letter"), pytest.param(HARD, "letter", marks=pytest.mark.long)],
)
def test_the_pdf_has_at_most_three_pages_of_the_paper(path: Path, paper: str) -> None:
    pdf = sheet_pdf(sheet_of(path), paper)
    assert pdf.startswith(b"%PDF-")
    assert 2 <= pages_of_pdf(pdf) <= 3
    sides = {tuple(map(float, box)) for box in re.findall(rb"/MediaBox ?\[0 0 ([\d.]+) ([\d.]+)\]", pdf)}
    (size,) = sides
    wanted = {"a4": (841.89, 595.28), "letter": (792.0, 612.0)}[paper]  # ISO 216; ANSI Y14.1 A, points
    assert size == pytest.approx(wanted, abs=0.1)


def test_the_printed_sheet_alone_rebuilds_the_joints(tmp_path: Path) -> None:
    """The steps are read back from the pages by another program."""
    path = tmp_path / "sheet.pdf"
    assert run(str(TWELVE), "--pdf", str(path)).exit_code == 0
    wiring = load_wiring(TWELVE)
    assert joints_of(wires_in(text_of_pdf(path), wiring)) == soldered_joints(wiring)


@pytest.mark.parametrize("path", [BARITONE, TENOR], ids=lambda path: path.stem)
def test_the_page_alone_rebuilds_the_joints(path: Path) -> None:
    """Only what can be read counts: no attribute of an element."""
    wiring = load_wiring(path)
    page = sheet_html(sheet_of(path), "a4")
    words = re.sub(r"<svg.*?</svg>|<style.*?</style>", "", page, flags=re.DOTALL)
    text = unescape(re.sub(r"<[^>]*>", " ", words))
    assert joints_of(wires_in(text, wiring)) == soldered_joints(wiring)


def test_the_page_is_complete_and_escapes_names(tmp_path: Path) -> None:
    text = TWELVE.read_text(encoding="utf-8").replace("Twelve-string, two", "Twelve <b>&</b> two")
    (tmp_path / "odd.yaml").write_text(text, encoding="utf-8")
    sheet = build_sheet(load_wiring(tmp_path / "odd.yaml"))
    page = sheet_html(sheet, "letter")
    assert "<h1>Twelve &lt;b&gt;&amp;&lt;/b&gt; two" in page
    assert "size: letter landscape" in page
    keys: list[str] = []

    class Ticks(HTMLParser):
        def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
            keys.extend(str(value) for name, value in attrs if name == "data-step")

    Ticks().feed(page)
    assert keys[: len(sheet.record["steps"])] == [step["key"] for step in sheet.record["steps"]]
    assert printed_record(sheet)["parts"][0][0] == "neck"


def test_a_huge_wiring_says_that_it_needs_more_pages(monkeypatch) -> None:
    """Rows of six hundred parts cannot be read on three pages."""
    monkeypatch.setattr(build_sheet_pdf, "SIZES_PT", SIZES_PT[-2:])
    sheet = sheet_of(TWELVE)
    rows = [{**sheet.record["parts"][0], "name": f"part_{k}"} for k in range(600)]
    huge = replace(sheet, record={**sheet.record, "parts": rows})
    fit = fit_sheet(huge, "a4")
    assert fit.is_large
    assert fit.size_pt == SIZES_PT[-1], "no smaller than can be read"
    assert pages_of_pdf(sheet_pdf(huge, "a4")) == fit.pages > MOST_PAGES
