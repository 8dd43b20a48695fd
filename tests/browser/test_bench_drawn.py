"""A wiring drawn by clicks from an empty page, saved to its file, and held to a netlist written by hand."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import pytest
from bench_page import open_bench
from board_page import add_part, drawn_joints, solder
from browser_fixtures import until
from library_coils import coil_params
from playwright.sync_api import Page, expect
from reference.spice import runner
from reference.spice.compare import agrees, deviation
from reference.spice.product import product_response
from server_process import started

from dsp.parts.library.index import LIBRARY
from server.commissions.starters import STARTERS

pytestmark = [pytest.mark.browser, pytest.mark.reference, pytest.mark.long]

COILS = {"neck_a": "VE_neck_a", "neck_b": "VE_neck_b", "bridge": "VE_bridge"}
WIRES = (
    ("neck_a.start", "selector.A1"),
    ("neck_a.finish", "neck_b.start"),
    ("neck_b.finish", "output.sleeve"),
    ("bridge.start", "selector.A2"),
    ("bridge.finish", "output.sleeve"),
    ("selector.A0", "volume.3"),
    ("volume.2", "output.tip"),
    ("volume.1", "output.sleeve"),
    ("volume.3", "tone.2"),
    ("tone.1", "tone_cap.a"),
    ("tone_cap.b", "output.sleeve"),
)
NETLIST = """* by hand: a two-coil pickup, a narrow single coil, a three-way toggle, volume and tone at 10
* d is each coil of the two, s the single one: ohms, henries, farads of the library's file; a share of the
* inductance lies across its eddy resistance; metal takes a share of the EMF (a first-order shelf)
.param position=1 earth=1u
.param rd=1 ld=1 cd=1p shared=0.1 eddyd=1k lostd=1u slowd=1k coupled=0.1
.param rs=1 ls=1 cs=1p shares=0.1 eddys=1k losts=1u slows=1k
.param pi=3.141592653589793
.option noopac
VE_neck_a s1 0 DC 0 AC 0
R1a s1 p1 {lostd*1meg}
R1b p1 q1 {(1-lostd)*1meg}
C1s q1 0 {1/(2*pi*slowd*1meg)}
E1 e1 mid p1 0 1
R1 e1 w1 {rd}
L1x w1 x1 {shared*ld}
R1x w1 x1 {2*pi*eddyd*shared*ld}
L1 neck x1 {(1-shared)*ld}
C1 neck mid {cd}
VE_neck_b s2 0 DC 0 AC 0
R2a s2 p2 {lostd*1meg}
R2b p2 q2 {(1-lostd)*1meg}
C2s q2 0 {1/(2*pi*slowd*1meg)}
E2 e2 low p2 0 1
R2 e2 w2 {rd}
L2x w2 x2 {shared*ld}
R2x w2 x2 {2*pi*eddyd*shared*ld}
L2 mid x2 {(1-shared)*ld}
C2 mid low {cd}
* the coupling is of the whole inductances, here between the lossless shares
Kneck L1 L2 {coupled/(1-shared)}
* the wire from neck b's finish to ground
Rearth low 0 {earth}
VE_bridge s3 0 DC 0 AC 0
R3a s3 p3 {losts*1meg}
R3b p3 q3 {(1-losts)*1meg}
C3s q3 0 {1/(2*pi*slows*1meg)}
E3 e3 0 p3 0 1
R3 e3 w3 {rs}
L3x w3 x3 {shares*ls}
R3x w3 x3 {2*pi*eddys*shares*ls}
L3 bridge x3 {(1-shares)*ls}
C3 bridge 0 {cs}
.if (position == 1)
Va neck hot 0
.elseif (position == 2)
Va neck hot 0
Vb bridge hot 0
.else
Vb bridge hot 0
.endif
Vtop hot out 0
Rvolume out 0 500k
Rtone hot t 500k
Ct t 0 22n
Ccable out 0 500p
Ramp out 0 1meg
Camp out 0 150p
.end
"""


PARAMS = {
    **coil_params("double_medium_coil", "d"),
    **coil_params("narrow_single_medium", "s"),
    "coupled": LIBRARY["double_medium_coil"].coupling,
}


def draw(page: Page) -> None:
    """Draw the whole wiring by clicks on the picture."""
    for name in ("coil", "output"):
        page.locator(f".board-picture [data-drawn='{name}'] .name").first.click()
        page.locator(".board-card").get_by_role("button", name="Remove", exact=True).click()
        expect(page.locator(f".board-picture [data-drawn='{name}']")).to_have_count(0)
    until(page, "!document.querySelector('.board-picture [data-joint]')")
    assert drawn_joints(page) == []
    for title, name in (
        ("Two-coil pickup", "neck_a"),
        ("Coil", "bridge"),
        ("Switch", "selector"),
        ("Pot", "volume"),
        ("Pot", "tone"),
        ("Capacitor", "tone_cap"),
        ("Jack", "output"),
    ):
        add_part(page, title, name)
        if title == "Switch":
            page.locator(".board-card").get_by_label("another switch").select_option("toggle_3_selector")
            expect(page.locator(".board-deed, .toasts").filter(has_text="toggle 3 selector")).to_be_visible()
            page.locator(".board-picture [data-lug='selector.A2']").wait_for()
            until(page, "!document.querySelector(\".board-picture [data-lug='selector.B0']\")")
    page.locator(".board-card").get_by_role("button", name="Close the part").click()
    for first, second in WIRES:
        solder(page, first, second)


def responses(file: Path, position: int, freqs_hz: object) -> Mapping[str, object]:
    return product_response(file, position, {"volume": 10.0, "tone": 10.0}, freqs_hz).coils  # type: ignore[arg-type]


def test_what_is_drawn_by_clicks_sounds_as_its_netlist(page: Page, tmp_path: Path) -> None:
    runner.program()
    file = tmp_path / "drawn.yaml"
    file.write_text(STARTERS["blank"].text(), encoding="utf-8")
    server = started(tmp_path, "serve", str(file))
    try:
        listed = page.request.get(f"{server.url}/api/commissions").json()
        open_bench(page, server.url, listed[0]["id"])
        page.locator(".board-picture [data-lug]").first.wait_for()
        page.set_viewport_size({"width": 1440, "height": 900})
        draw(page)
        page.keyboard.press("Control+s")
        page.get_by_role("dialog").get_by_role("button", name="Save", exact=True).click()
        expect(page.get_by_text("Saved as version 2.")).to_be_visible()
        page.goto("about:blank")
    finally:
        server.stop()
    assert "# lowest first" in file.read_text("utf-8")  # comments stay
    sources = tuple(COILS.values())
    places = (1, 2, 3)
    whole = runner.run(
        [runner.Job(NETLIST, sources, params={**PARAMS, "position": place}) for place in places]
    )
    for place, answer in zip(places, whole, strict=True):
        got = responses(file, place, answer.freqs_hz)
        for coil, source in COILS.items():
            assert agrees(deviation(got[coil], answer.voltage[source])), f"position {place}, {coil}"  # type: ignore[arg-type]
    # one wire missing: neck b's finish is off ground
    lost = runner.run([runner.Job(NETLIST, sources, params={**PARAMS, "position": 1, "earth": 1e15})])[0]
    got = responses(file, 1, lost.freqs_hz)
    assert not agrees(deviation(got["neck_a"], lost.voltage["VE_neck_a"]))  # type: ignore[arg-type]
