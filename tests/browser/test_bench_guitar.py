"""A guitar is built from nothing by the page and its keys alone; ngspice agrees with the file it wrote."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from bench_page import asked, open_bench
from browser_fixtures import until
from library_coils import coil_params
from places import ROOT
from playwright.sync_api import Page, expect
from reference.spice import runner
from reference.spice.compare import agrees, deviation
from reference.spice.product import product_response
from server_process import Running, started

pytestmark = [pytest.mark.browser, pytest.mark.long]

NETLIST = """one coil, volume and tone before it, drawn by hand
.param r12=1 r23=1 rt=1
.param r=1 l=1 c=1p share=0.1 eddy=1k lost=1u slow=1k
.param pi=3.141592653589793
.option noopac
VE_neck s 0 DC 0 AC 0
* metal takes a share of the EMF; a share of the inductance lies across its eddy resistance
Rp s p {lost*1meg}
Rq p q {(1-lost)*1meg}
Cq q 0 {1/(2*pi*slow*1meg)}
E1 e 0 p 0 1
R1 e w {r}
L1 w x {(1-share)*l}
L2 x hot {share*l}
R2 x hot {2*pi*eddy*share*l}
C1 hot 0 {c}
Rv23 hot out {r23}
Rv12 out 0 {r12}
Rt hot t {rt}
Ct t 0 22n
Cload out 0 {5*100p + 150p}
Rload out 0 1meg
.end
"""
"""The values are those of the library's medium narrow coil, of the parts that the tray adds, and of the
starter's load."""

COIL = coil_params("narrow_single_medium", "")
SETTINGS = (
    ({"volume": 7.0, "tone": 3.0}, {"r12": 245e3, "r23": 255e3, "rt": 45e3}),
    ({"volume": 5.0, "tone": 8.0}, {"r12": 75e3, "r23": 425e3, "rt": 330e3}),
)
"""Knobs, and by hand the ohms of an audio taper: 15 % of 500 kΩ at 5, straight lines to both ends."""

WIRES = (
    ("neck.start", "volume.3"), ("tone.2", "volume.3"), ("tone.1", "tone_cap.a"), ("volume.2", "output.tip"),
    ("neck.finish", "output.sleeve"), ("volume.1", "output.sleeve"), ("tone_cap.b", "output.sleeve"),
)  # fmt: skip


@pytest.fixture
def file(tmp_path: Path) -> Path:
    """Return a copy of the blank wiring with a comment of one's own."""
    path = tmp_path / "mine.yaml"
    shutil.copy(ROOT / "server" / "commissions" / "starters" / "blank.yaml", path)
    text = path.read_text("utf-8").replace("joints:\n", "joints:  # what I solder\n")
    path.write_text(text, "utf-8")
    return path


@pytest.fixture
def server(tmp_path: Path, file: Path) -> Iterator[Running]:
    one = started(tmp_path, "serve", str(file), "--no-warm")
    try:
        yield one
    finally:
        one.stop()
        print(one.printed())


def press_on(page: Page, selector: str, key: str = "Enter") -> None:
    """Bring the focus to an element and press a key there."""
    page.locator(selector).first.focus()
    page.keyboard.press(key)


def add(page: Page, title: str, name: str) -> None:
    press_on(page, f".tray button:has-text('{title}')")
    until(page, f"document.activeElement.closest('[data-part]')?.dataset.part === {name!r}")


def remove(page: Page, name: str) -> None:
    part = page.locator(f"[data-part='{name}']")
    if part.get_attribute("open") is None:
        press_on(page, f"[data-part='{name}'] summary")
    part.get_by_role("button", name="Remove", exact=True).focus()
    page.keyboard.press("Enter")
    expect(part).to_have_count(0)


def choose(page: Page, text: str) -> None:
    """Choose an option of the focused list by typing its beginning, as one does by keyboard."""
    page.keyboard.type(text)
    assert page.evaluate("document.activeElement.value") == text


def solder(page: Page, first: str, second: str) -> None:
    """Solder a loose terminal to another, by keys alone."""
    page.locator("select[aria-label='New joint: first terminal']").focus()
    choose(page, first)
    page.keyboard.press("Tab")
    choose(page, second)
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    page.get_by_role("button", name=f"Take {first} off").wait_for()
    until(page, "document.activeElement.dataset.at === 'new first'")


def test_a_guitar_is_built_from_blank_by_keys_saved_and_agrees_with_ngspice(
    server: Running, page: Page, file: Path
) -> None:
    row = asked(page, server.url, "GET", "/commissions")[0]
    open_bench(page, server.url, row["id"])
    page.get_by_role("button", name="Parts", exact=True).focus()
    page.keyboard.press("Enter")
    remove(page, "coil")
    remove(page, "output")
    expect(page.get_by_text("Not finished: a jack and a coil to add.")).to_be_visible()
    press_on(page, ".adding summary")
    page.locator(".tray button").first.wait_for()
    for title, name in (
        ("Coil", "neck"), ("Pot", "volume"), ("Pot", "tone"), ("Capacitor", "tone_cap"), ("Jack", "output"),
    ):  # fmt: skip
        add(page, title, name)
    expect(page.get_by_text("Not finished")).to_have_count(0)
    press_on(page, "[data-around='soldering'] summary")
    for first, second in WIRES:
        solder(page, first, second)
    expect(page.get_by_text("Every terminal is soldered.")).to_have_count(0)  # lug 3 of the tone hangs
    expect(page.locator("[data-knob]")).to_have_count(2)
    expect(page.locator(".stop")).to_contain_text("one coil")
    expect(page.locator("h1")).to_be_visible()
    page.keyboard.press("Control+s")
    dialog = page.get_by_role("dialog")
    expect(dialog).to_contain_text("neck added")
    dialog.get_by_role("button", name="Save", exact=True).click()
    expect(page.get_by_text("Saved as version 2.")).to_be_visible()

    text = file.read_text("utf-8")
    assert "joints:  # what I solder" in text
    assert '# "like" takes a part of the library; "presolder parts" lists them.' in text
    jobs = [runner.Job(NETLIST, ("VE_neck",), params={**COIL, **ohms}) for _, ohms in SETTINGS]
    for (knobs, _), answer in zip(SETTINGS, runner.run(jobs), strict=True):
        found = product_response(file, None, knobs, answer.freqs_hz)
        assert agrees(deviation(found.coils["neck"], answer.voltage["VE_neck"])), knobs
