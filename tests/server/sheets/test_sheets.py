"""Build sheets by request: the sheet of a draft, its ticks, its PDF."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient
from places import DEMO
from server_client import client_of
from sheet_text import joints_of, pages_of_pdf, soldered_joints

from server.database.store import Store
from server.documents.build_sheet_pdf import fit_sheet
from server.sheets.store import Ticks, judge_ticks
from server.sheets.work import make_sheet
from server.wirings.text import load_wiring

TWELVE = (DEMO / "twelve.yaml").read_text(encoding="utf-8")
TIP = "volume.2~output.tip"


class Bench:
    """A commission with the twelve-string, and what one asks of its sheet."""

    def __init__(self, client: TestClient, text: str = TWELVE) -> None:
        self.client = client
        made = client.post("/api/commissions", json={"title": "Twelve", "wiring_text": text}).json()
        (self.wiring,) = client.get(f"/api/commissions/{made['id']}").json()["wirings"]
        self.version = self.wiring["versions"][0]["id"]

    def draft(self, *edits: tuple[list[str], str | None]) -> dict[str, Any]:
        return {"version": self.version, "edits": [{"path": path, "value": value} for path, value in edits]}

    def sheet(self, *edits: tuple[list[str], str | None]) -> dict[str, Any]:
        answer = self.client.post("/api/draft/sheet", json={"draft": self.draft(*edits)})
        assert answer.status_code == 200, answer.text
        found: dict[str, Any] = answer.json()
        return found

    def tick(self, step: str, text: str, *, done: bool = True) -> None:
        body = {"step": step, "text": text, "done": done}
        assert self.client.put(f"/api/wirings/{self.wiring['id']}/ticks", json=body).status_code == 200


@pytest.fixture(scope="module")
def data(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("sheets")


@pytest.fixture(scope="module")
def client(data: Path) -> Iterator[TestClient]:
    with client_of(data) as client:  # one process makes the sheets of all tests
        yield client


@pytest.fixture
def bench(client: TestClient) -> Bench:
    return Bench(client)


def text_of(sheet: dict[str, Any], key: str) -> str:
    return str(next(step["text"] for step in sheet["record"]["steps"] if step["key"] == key))


def test_a_sheet_has_its_record_and_the_page(bench: Bench) -> None:
    sheet = bench.sheet()
    wires = ((wire["from"], wire["to"]) for wire in sheet["record"]["wires"])
    assert joints_of(wires) == soldered_joints(load_wiring(DEMO / "twelve.yaml"))
    assert sheet["wiring"] == bench.wiring["id"]
    assert sheet["ticks"] == {"done": [], "changed": {}, "gone": {}}
    assert f'data-step="{TIP}"' in sheet["html"]
    assert "<style" not in sheet["html"], "the page's policy allows no inline style"


def test_a_tick_outlasts_the_server(bench: Bench, data: Path) -> None:
    text = text_of(bench.sheet(), TIP)
    bench.tick(TIP, text)
    bench.tick("check hum", "another check than the sheet's")
    store = Store(data)  # as another server would open it
    found = judge_ticks(store, bench.wiring["id"], {TIP: text, "check hum": "the sheet's"})
    store.close()
    assert found == Ticks((TIP,), {"check hum": "another check than the sheet's"}, {})
    assert bench.sheet()["ticks"]["done"] == [TIP]
    bench.tick(TIP, text, done=False)
    assert bench.sheet()["ticks"]["done"] == []


def test_a_step_whose_wire_changed_loses_its_tick_and_says_so(bench: Bench) -> None:
    """A renamed part, a wire soldered elsewhere and a part of another value are other work."""
    sheet = bench.sheet()
    leg = next(step for step in sheet["record"]["steps"] if step["stage"] == "legs")
    bench.tick(leg["key"], leg["text"])
    bench.tick(TIP, text_of(sheet, TIP))
    capacitor = leg["text"].split()[0]
    other = bench.sheet((["parts", capacitor, "capacitance"], "47 nF"))
    assert other["ticks"] == {"done": [TIP], "changed": {leg["key"]: leg["text"]}, "gone": {}}
    renamed = bench.sheet((["renamed", "output"], "jack"))["ticks"]
    assert renamed["gone"] == {TIP: "volume 2 to output tip"}
    assert renamed["done"] == [leg["key"]]


def test_ticks_belong_to_one_wiring_and_can_begin_anew(bench: Bench, client: TestClient) -> None:
    bench.tick(TIP, text_of(bench.sheet(), TIP))
    assert Bench(client).sheet()["ticks"]["done"] == []
    assert client.delete(f"/api/wirings/{bench.wiring['id']}/ticks").status_code == 200
    assert bench.sheet()["ticks"]["done"] == []


def test_what_cannot_be_ticked_is_refused(bench: Bench, client: TestClient) -> None:
    body = {"step": TIP, "text": "", "done": True}
    assert client.put("/api/wirings/nothing/ticks", json=body).status_code == 404
    assert client.delete("/api/wirings/nothing/ticks").status_code == 404
    address = f"/api/wirings/{bench.wiring['id']}/ticks"
    assert client.put(address, json={**body, "colour": "red"}).status_code == 422
    assert client.put(address, json={**body, "step": ""}).status_code == 422


def test_a_sketch_has_no_sheet_and_says_what_it_needs(client: TestClient) -> None:
    bench = Bench(client, (DEMO / "baritone_sketch.yaml").read_text(encoding="utf-8"))
    assert bench.sheet() == {"sketches": ["selector"]}
    answer = client.post("/api/draft/sheet/pdf", json={"draft": bench.draft()})
    assert answer.status_code == 422
    (problem,) = answer.json()["problems"]
    assert problem["got"].startswith("a sketch")
    assert "make the chart first" in problem["allowed"]


def test_the_pdf_is_the_commands_own(bench: Bench, client: TestClient) -> None:
    body = {"draft": bench.draft(), "paper": "letter"}
    answer = client.post("/api/draft/sheet/pdf", json=body)
    assert answer.headers["content-type"] == "application/pdf"
    assert "attachment" in answer.headers["content-disposition"]
    fit = client.post("/api/draft/sheet/fit", json=body).json()
    own = fit_sheet(make_sheet(TWELVE), "letter")
    assert fit == {"pages": own.pages, "size_pt": own.size_pt, "large": False}
    assert pages_of_pdf(answer.content) == own.pages


def test_a_paper_that_is_not_known_is_refused(bench: Bench, client: TestClient) -> None:
    body = {"draft": bench.draft(), "paper": "a5"}
    assert client.post("/api/draft/sheet/pdf", json=body).status_code == 422
